"""Pictures from JPEG, PNG and WebP, made anew: pixels and nothing else.

What a camera wrote beside the pixels (maker, serial number, a preview, the place) does not come
along; time and place are told apart, for whoever wants to keep them.
"""

from __future__ import annotations

import io
import math
import re
from base64 import b64encode
from collections.abc import Iterator
from typing import Any

from PIL import Image, ImageOps, UnidentifiedImageError
from PIL.JpegImagePlugin import JpegImageFile

from logbook.readers import MAX_PICTURE_BYTES, Unreadable
from logbook.readers import gettext_noop as _

MAX_PIXELS, MAX_PIXELS_OF_A_JPEG = 16_000_000, 50_000_000
"""A JPEG of a phone has up to 50 million; the others have to be held whole before they are made
smaller."""
LONGEST_SIDE = 1600
"""Pixels that are kept of the longer side: the small print of a label photographed by columns can
be read (tried)."""
QUALITY = 80

FORMATS = ("JPEG", "PNG", "WEBP")
"""Of a file with several pictures the first is taken."""

# The number of pixels is asked before any is read, by a limit and in words of our own.
Image.MAX_IMAGE_PIXELS = None
# All that reads a picture is imported now: no file opens any more when one comes.
Image.init()

EXIF, GPS = 0x8769, 0x8825
TAKEN, OFFSET = 0x9003, 0x9011
"""Tags of Exif 2.32 (CIPA DC-008): two directories, DateTimeOriginal, OffsetTimeOriginal."""


def read_picture(raw: bytes) -> Iterator[Any]:
    """Yield the picture as a JPEG (base64), and when and where it was taken as the camera says.

    Raises: Unreadable, saying why it cannot be read and what can.
    """
    if len(raw) > MAX_PICTURE_BYTES:
        raise Unreadable(
            _("The picture has %(bytes)s bytes; at most %(most)s are read."),
            bytes=len(raw),
            most=MAX_PICTURE_BYTES,
        )
    try:
        picture = Image.open(io.BytesIO(raw), formats=FORMATS)
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError):
        raise Unreadable(
            _("This is no picture that can be read. Pictures are read from JPEG, PNG and WebP.")
        ) from None
    pixels = picture.width * picture.height
    most = MAX_PIXELS_OF_A_JPEG if isinstance(picture, JpegImageFile) else MAX_PIXELS
    if pixels > most:
        raise Unreadable(
            _("The picture has %(pixels)s pixels; at most %(most)s are read. Save it smaller."),
            pixels=pixels,
            most=most,
        )
    taken, place = _taken(picture)
    try:
        jpeg = _made_anew(picture)
    except MemoryError:
        raise
    except Exception:  # a damaged file makes each decoder fail in its own way
        raise Unreadable(_("The picture is damaged and cannot be read.")) from None
    yield {"jpeg": b64encode(jpeg).decode(), "taken": taken, "place": place}


def _made_anew(picture: Any) -> bytes:
    # A JPEG is read in the size that is wanted, if its decoder can.
    picture.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
    picture.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    upright: Any = ImageOps.exif_transpose(picture)
    if upright.mode in ("RGBA", "LA", "PA", "P"):
        upright = upright.convert("RGBA")
        paper = Image.new("RGBA", upright.size, "white")
        upright = Image.alpha_composite(paper, upright)
    # Pixels alone: what else hangs on the image would be written too.
    plain = Image.new("RGB", upright.size)
    plain.paste(upright.convert("RGB"))
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


def _taken(picture: Any) -> tuple[str, str]:
    """Return when and where a picture was taken, each "" where the camera does not say."""
    try:
        exif = picture.getexif()
        return _time_in(exif.get_ifd(EXIF)), _place_in(exif.get_ifd(GPS))
    except MemoryError:
        raise
    except Exception:  # what a camera says of itself is no reason to refuse its picture
        return "", ""


def _time_in(told: Any) -> str:
    found = re.match(r"(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)\Z", str(told.get(TAKEN, "")))
    if not found:
        return ""
    year, month, day, clock = found.groups()
    offset = str(told.get(OFFSET, ""))
    zone = f" {offset}" if re.match(r"[+-]\d\d:\d\d\Z", offset) else ""
    return f"{year}-{month}-{day} {clock}{zone}"


def _place_in(told: Any) -> str:
    """Return latitude and longitude in degrees of WGS 84, to a metre."""
    latitude, longitude = _degrees(told, 1, "NS", 90), _degrees(told, 3, "EW", 180)
    if latitude is None or longitude is None:
        return ""
    return f"{latitude:.5f}, {longitude:.5f}"


def _degrees(told: Any, tag: int, letters: str, most: int) -> float | None:
    """Return an angle from its letter at `tag` and its degrees, minutes and seconds behind it."""
    letter, parts = told.get(tag), told.get(tag + 1)
    if letter not in (*letters,) or parts is None or len(parts) != 3:
        return None
    degrees, minutes, seconds = (float(part) for part in parts)
    angle = degrees + minutes / 60 + seconds / 3600
    if not math.isfinite(angle) or not 0 <= angle <= most:
        return None
    return -angle if letter == letters[1] else angle
