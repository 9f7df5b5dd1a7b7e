"""Pictures for tests, drawn here."""

from __future__ import annotations

import io
from typing import Any

from PIL import Image

MAKER = "Maker of this camera"


def picture(
    kind: str = "JPEG", size: tuple[int, int] = (320, 200), colour: Any = "olive", **options: Any
) -> bytes:
    """Return a picture of one colour whose left upper quarter is white."""
    made = Image.new(options.pop("mode", "RGB"), size, colour)
    made.paste("white", (0, 0, size[0] // 2, size[1] // 2))
    out = io.BytesIO()
    made.save(out, kind, **options)
    return out.getvalue()


def from_a_camera(**options: Any) -> bytes:
    """Return a JPEG with what a camera writes (Exif 2.32): maker, time, place, turned by 90°."""
    exif = Image.Exif()
    exif[0x010F] = MAKER
    exif[0x0112] = 6  # the row 0 of the file is the right side of the scene
    exif.get_ifd(0x8769).update({0x9003: "2026:06:12 09:31:05", 0x9011: "-05:00"})
    exif.get_ifd(0x8825).update(
        {1: "N", 2: (47.0, 6.0, 18.0), 3: "W", 4: (97.0, 11.0, 42.0), 5: b"\0", 6: 280.0}
    )
    return picture(exif=exif, comment=b"Serial 12345", **options)
