"""Characters that cannot be seen and change how a text reads, shown by their Unicode number.

A name may hold marks that turn what follows around (CVE-2021-42574, "Trojan Source"), or that make
two different names look the same. What was entered is kept as it is; where it is shown to be read,
such a mark stands as on paper: [U+202E].

Some are needed to write: joiners in Persian, Indic scripts and emoji, spaces of no width in Khmer,
direction marks beside Hebrew and Arabic, variants of Mongolian and CJK signs. Those stay what they
are right after a character of such a script, and only there.
"""

from __future__ import annotations

import re

_NEVER_SEEN = (
    # Default_Ignorable_Code_Point of the Unicode Character Database, DerivedCoreProperties.txt
    # (from memory), and the interlinear annotations (U+FFF9 to U+FFFB).
    "\xad\u034f\u115f\u1160\u17b4\u17b5\u202a-\u202e\u2060-\u206f\u3164\ufeff\uffa0"
    "\ufff0-\ufffb\U0001bca0-\U0001bca3\U0001d173-\U0001d17a\U000e0000-\U000e00ff"
    "\U000e01f0-\U000e0fff"
)
_NEEDED_SOMEWHERE = "\u061c\u180b-\u180f\u200b-\u200f\ufe00-\ufe0f\U000e0100-\U000e01ef"
# Hebrew up to Mongolian; signs, emoji and CJK; not Latin, Greek and Cyrillic, nor the marks
# themselves, so that a mark which follows another is seen.
_NEEDING = re.compile(
    "[\xa9\xae\u0590-\u18af\u2100-\uabff\uf900-\ufdff\ufe0f\ufe70-\ufefc\U0001f000-\U0003ffff]"
)
_NEEDED = re.compile(f"[{_NEEDED_SOMEWHERE}]")
_INVISIBLE = re.compile(f"[{_NEVER_SEEN}{_NEEDED_SOMEWHERE}]")
_ASCII = bytes(range(128))


def made_visible(text: str) -> str:
    """Return the text with each such mark as its number; every other character as it is."""
    return text if text.isascii() else _INVISIBLE.sub(_number, text)


def may_hold_invisible(text: bytes) -> bool:
    """Return whether a text in UTF-8 may hold such a mark: a look of 1 ms per 100 kB, not of 5."""
    return _INVISIBLE.search(text.translate(None, _ASCII).decode()) is not None


def _number(found: re.Match[str]) -> str:
    mark, at = found[0], found.start()
    before = found.string[at - 1 : at]  # "" at the beginning
    if _NEEDED.match(mark) and _NEEDING.match(before):
        return mark
    return f"[U+{ord(mark):04X}]"
