"""Whether a text can be a location of its typed format, and if not, why, in a sentence.

A legal description is read only as far as its survey has one form: the public land survey of the
United States and the Dominion Land Survey of western Canada. Lots, plans and surveys older than
these differ too much from place to place: that they name something by number is asked.
"""

from __future__ import annotations

import re

from django.utils.translation import gettext as _

from logbook.facts.duty import LocationFormat

LONGEST_PARCEL = 80
LONGEST = 2000

PUBLIC_LAND_STATES = frozenset(
    f"US-{state}"
    for state in (
        *("AK", "AL", "AR", "AZ", "CA", "CO", "FL", "IA", "ID", "IL", "IN", "KS", "LA", "MI"),
        *("MN", "MO", "MS", "MT", "ND", "NE", "NM", "NV", "OK", "OR", "SD", "UT", "WA", "WI"),
        "WY",
    )
)
"""The states surveyed from a principal meridian (43 U.S.C. 751). Ohio is left out: much of it was
surveyed before there was one."""

DOMINION_LAND_PROVINCES = frozenset({"CA-MB", "CA-SK", "CA-AB"})

# Names of principal meridians, as the Manual of Surveying Instructions (2009) of the Bureau of
# Land Management lists them; from memory.
_MERIDIAN = re.compile(
    r"\b(?:meridian|P\.?\s?M\b|[A-Z]{1,3}\.?B\.?&?M\b|[A-Z]{2}M\b)"
    r"|\b(?:black\s+hills|boise|chickasaw|choctaw|cimarron|copper\s+river|fairbanks|gila\s+and"
    r"\s+salt|humboldt|huntsville|kateel|mount\s+diablo|mt\.?\s+diablo|navajo|st\.?\s+helena"
    r"|st\.?\s+stephens|salt\s+lake|san\s+bernardino|seward|tallahassee|uintah|umiat|willamette"
    r"|wind\s+river)\b",
    re.IGNORECASE,
)
_NUMBER = r"\s*(?:no\.?\s*)?(\d{1,3})(?:\s*1/2|½)?"
_TOWNSHIP = re.compile(
    rf"\b(?:T|twp|town(?:ship)?)\b\.?{_NUMBER}\s*,?\s*([NS](?:orth|outh)?)?\b"
    rf"|\bT(\d{{1,3}})\s*([NS])?\b",
    re.IGNORECASE,
)
_RANGE = re.compile(
    rf"\b(?:R|rge|rng|range)\b\.?{_NUMBER}\s*,?\s*([EW](?:ast|est)?)?\b"
    rf"|\bR(\d{{1,3}})\s*([EW])?\b",
    re.IGNORECASE,
)
_SECTION = re.compile(r"\b(?:sections?|secs?)\b\.?\s*(\d{1,3})\b|\bS(\d{1,2})\b", re.IGNORECASE)
# A quarter, a half, a legal subdivision; section, township, range, west (or east) of a meridian.
_DOMINION = re.compile(
    r"(?:.*?\b(?:NE|NW|SE|SW|[NSEW]\s?(?:1/2|½)|LSD?\s?\d{1,2})(?:\s?1/4|¼)?[\s,-]+(?:of\s+)?)?"
    r"(?:sec(?:tion)?\.?\s*)?(\d{1,2})[\s,-]+(?:t(?:wp|ownship)?\.?\s*)?(\d{1,3})[\s,-]+"
    r"(?:r(?:ge|ange)?\.?\s*)?(\d{1,2})[\s,-]*"
    r"(?:[WE]\s?P\.?\s?M\.?|[WE]\s?-?([1-6])(?:\s?M)?|west\s+of\s+the\s+([1-6])\w*(?:\s+meridian)?"
    r"|(?:west|east)\s+of\s+the\s+(?:principal|first)(?:\s+meridian)?)\b.*",
    re.IGNORECASE,
)
_POINT = re.compile(r"\s*([+-]?\d{1,2}(?:\.\d+)?)\s*,\s*([+-]?\d{1,3}(?:\.\d+)?)\s*")
_ONE_POINT = re.compile(r"\s*([+-]?\d{1,2}(?:\.\d+)?)\s*[,;]\s*([+-]?\d{1,3}(?:\.\d+)?)\s*")
_ZIP = re.compile(r"\b\d{5}(-\d{4})?\b")
_LETTER = re.compile(r"[^\W\d_]")


def location_fault(*, kind: str, text: str, place: str) -> str:
    """Return why the text cannot be a location of its kind, in a sentence; "" when it can.

    Args: kind, a `LocationFormat`; place, ISO 3166-2, whose survey and law decide.
    """
    text = text.strip()
    if len(text) > LONGEST:
        return _("The location has %(count)d characters; at most %(most)d are kept.") % {
            "count": len(text),
            "most": LONGEST,
        }
    if kind == LocationFormat.COORDINATES:
        return _points_fault(text)
    if kind == LocationFormat.LEGAL:
        return _legal_fault(text, place)
    if kind == LocationFormat.PARCEL and (
        "\n" in text or len(text) > LONGEST_PARCEL or not re.search(r"\d", text)
    ):
        return _(
            "“%(text)s” is not a parcel: a parcel has a number, on one line of at most %(most)d "
            "characters."
        ) % {"text": _short(text), "most": LONGEST_PARCEL}
    if kind == LocationFormat.ADDRESS:
        return _address_fault(text, place)
    if kind != LocationFormat.PARCEL and not _LETTER.search(text):
        return _("“%(text)s” has no word; a description or the name of a map is in words.") % {
            "text": _short(text)
        }
    return ""


def is_outline(text: str) -> bool:
    """Return whether coordinates outline an area: three points or more."""
    return len(_points(text)) >= 3


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:59]}…"


def _points(text: str) -> list[str]:
    """Return the points of the text, one for each part between semicolons or line ends."""
    if _ONE_POINT.fullmatch(text):
        return [text]
    return [part for part in re.split(r"[;\n]", text) if part.strip()]


def _points_fault(text: str) -> str:
    points = _points(text)
    pattern = _ONE_POINT if len(points) == 1 else _POINT
    for point in points or [text]:
        found = pattern.fullmatch(point)
        if found is None or abs(float(found[1])) > 90 or abs(float(found[2])) > 180:
            return _(
                "“%(text)s” is not a latitude and a longitude in degrees, such as "
                "“47.1034, -97.19”; an outline has three points or more, parted by “;”."
            ) % {"text": _short(point.strip())}
    if len(points) == 2:
        return _("Two points outline nothing: give one point, or an outline of three or more.")
    return ""


def _address_fault(text: str, place: str) -> str:
    if place == "US-NY" and not _ZIP.search(text):
        return _("New York wants the address with its five-digit ZIP code (ECL 33-1205).")
    if not _LETTER.search(text):
        return _(
            "“%(text)s” is not a postal address: it names a street or a place, and a town, such "
            "as “12 Mill Road, Arbor”."
        ) % {"text": _short(text)}
    return ""


def _legal_fault(text: str, place: str) -> str:
    if not re.search(r"\d", text):
        return _(
            "“%(text)s” is not a legal description: it names its section, township, range or lot "
            "by number."
        ) % {"text": _short(text)}
    if place in DOMINION_LAND_PROVINCES:
        return _dominion_fault(text)
    if place in PUBLIC_LAND_STATES:
        return _public_land_fault(text)
    return ""


def _public_land_fault(text: str) -> str:
    township, ranged = _TOWNSHIP.search(text), _RANGE.search(text)
    if township is None and ranged is None:
        # A lot of a plat, or a survey of another kind.
        return ""
    lacking = []
    sections = [int(one[1] or one[2]) for one in _SECTION.finditer(text)]
    if not sections or not all(1 <= number <= 36 for number in sections):
        lacking.append(_("a section from 1 to 36"))
    if township is None or not (township[2] or township[4]):
        lacking.append(_("its township with N or S"))
    if ranged is None or not (ranged[2] or ranged[4]):
        lacking.append(_("its range with E or W"))
    if not _MERIDIAN.search(text):
        lacking.append(_("its principal meridian"))
    if not lacking:
        return ""
    return _(
        "“%(text)s” lacks %(lacking)s. A description by the public land survey is such as “NE 1/4, "
        "section 14, township 140 N, range 49 W, 5th principal meridian”."
    ) % {"text": _short(text), "lacking": "; ".join(lacking)}


def _dominion_fault(text: str) -> str:
    if re.search(r"\b(?:plan|lot|parcel)\b", text, re.IGNORECASE):
        return ""
    found = _DOMINION.fullmatch(text)
    most = (36, 126, 34)
    if found and all(1 <= int(found[n]) <= most[n - 1] for n in (1, 2, 3)):
        return ""
    return _(
        "“%(text)s” is not a description by the Dominion Land Survey: quarter, section from 1 to "
        "36, township from 1 to 126, range from 1 to 34, and the meridian it lies west of, such "
        "as “NE-14-120-20-W3”; or a lot and plan."
    ) % {"text": _short(text)}
