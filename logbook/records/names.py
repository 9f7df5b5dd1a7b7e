"""What the rows of the shelf are called in a record: as sealed, and by now.

A text of 18 kB is read in no list, and the shelf may call things otherwise by now. So the names are
copied out of the text beside the record when it is signed, and frozen with it; `verify_log`
compares them with the text.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

SHELF = {
    "customer": "customer__name",
    "field": "field__name",
    "crop": "planting__crop",
    "applicator": "applicator__name",
    "rig": "rig__name",
}
"""What a record names, and the way from it to what the shelf calls that today."""


class Named(NamedTuple):
    """What a row of the shelf is called in a record; and by now, "" where that is the same."""

    name: str
    now: str = ""

    @classmethod
    def of(cls, sealed: str | None, shelf: str | None) -> Named:
        """Return the name as it was sealed, or else, in a draft, as it stands on the shelf."""
        if not sealed:
            return cls(shelf or "")
        return cls(sealed, shelf if shelf and shelf != sealed else "")


def sealed_names(facts: dict[str, Any]) -> dict[str, str | None]:
    """Return what sealed facts call each thing of `SHELF`, by the column of the record."""
    return {f"sealed_{name}": (facts.get(name) or {}).get("name") for name in SHELF}


def now_called(names: Iterable[tuple[str, Named]]) -> list[dict[str, str]]:
    """Return what is called otherwise by now: what it is, as sealed, and on the shelf today."""
    return [{"what": what, "name": name, "now": now} for what, (name, now) in names if now]
