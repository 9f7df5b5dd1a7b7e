"""The printed record against the law, item by item: what a law lists stands on the paper.

Each case is an item of a list as it was read in the text (of Victoria and the European Union: see
beside them), and what the paper prints for it. The record is the invented one in which every
element stands.
"""

from __future__ import annotations

import re
from functools import cache

import pytest

from logbook.checks.assessment import assess
from logbook.documents import words
from logbook.documents.record import render_record
from logbook.facts.duty import Asked, DutySet, Obligation, When
from logbook.law.applicability import Outcome, statement
from logbook.law.elements import ELEMENTS
from logbook.sections.lines import document
from tests.logbook.documents.reading import Page, whole
from tests.logbook.documents.sealed import seal
from tests.logbook.law.complete import SETS, complete, day_for, place_for, without

TABLE = "Asked for by law and label"

DAY = "2026-06-10"
CUSTOMER = "Customer C. Dahl, Box 2"
BUSINESS = "Done by Coulee Custom Spraying, Box 1, licence B-100"
SPRAYED = "Sprayed by P. Vik"
SUPERVISED = "Supervised by A. Lund, licence C-1001"
PRODUCT = "Fenland 4 EC, RESTRICTED USE foliar herbicide, Invented Chemical 00000-1 wild mustard"
CONTENT = "inventol 4 lb/gal"
TOTAL = "2750 fl oz"
RATE = "22 fl oz/ac"
IN_LOADS = "1000 gal (3785 L) Fenland 4 EC 1466.7 fl oz"
CROP = "Crop soybean (GLXMA)"
PLACE = "Description by description"
ADDRESS = "Address by address"
AREA = "Treated area 125 ac"
WIND = "300° (WNW) 8 mph"
AIR = "72°F"

LAWS: dict[str, dict[str, tuple[str, ...]]] = {
    # Read at the legislature and, item 12, in a mirror current to 12 November 2024.
    "us-sd": {
        "ARSD 12:56:07:01(1) name and address of the person for whom": (CUSTOMER,),
        "(2) location of the property": (PLACE,),
        "(3) pest": ("wild mustard",),
        "(4) acreage": (AREA,),
        "(5) year, month, day, and time": (f"Started {DAY} 11:00 CDT", f"Finished {DAY} 14:00 CDT"),
        "(6) person who applied": (SPRAYED,),
        "(7) trade or brand name and common name": ("Fenland 4 EC", CONTENT),
        "(8) company name on the label": ("Invented Chemical",),
        "(9) wind direction, estimated velocity, temperature": (WIND, AIR),
        "(10) amount and its concentration": (TOTAL, IN_LOADS),
        "(11) crop": (CROP,),
        "(12) name and address of the applicator": (SPRAYED, BUSINESS),
    },
    "us-pa": {
        "7 Pa. Code 128.35(a)(1) date; hour completed": (f"Finished {DAY} 15:00 EDT",),
        "(2) customer; application site": (CUSTOMER, PLACE),
        "(3) brand name, (4) EPA number": (PRODUCT,),
        "(5) total in pounds, ounces, gallons, liters": (TOTAL,),
        "(6) dosage or rate": (RATE,),
        "(7) names and numbers of those who made or supervised it": (SPRAYED, SUPERVISED),
        "(8) field, crop and size": ("Field North L", CROP, AREA),
    },
    "us-il": {
        "8 Ill. Adm. Code 250.150(b)(1) name of the chemical": ("Fenland 4 EC", CONTENT),
        "(2) USEPA registration number": ("00000-1",),
        "(3) amount per unit treated": (RATE,),
        "(4) date": (f"Finished {DAY}",),
        "(5) use site": (CROP,),
    },
    "us-or": {
        "ORS 634.146(1)(a) for whom": (CUSTOMER,),
        "(b) approximate location": (PLACE,),
        "(c) date and approximate time": (f"Started {DAY}",),
        "(d) who supplied the pesticides": ("Who supplied the product as noted",),
        "(e) trade name and strength": ("Fenland 4 EC", CONTENT),
        "(f) concentration": (IN_LOADS,),
        "(g) property, crop": ("Field North L", CROP),
        "(h) equipment": ("Rig Big Green", "Nozzle AI 110-03"),
        "(i) who did the spraying": (SPRAYED,),
    },
    "us-ny": {
        "ECL 33-1205(1)(a) EPA number, (b) product name": (PRODUCT,),
        "(c) quantity": (TOTAL,),
        "(d) date": (f"Finished {DAY}",),
        "(e) location by address": (ADDRESS,),
        "dosage rates": (RATE,),
        "methods of application": ("The application method as noted",),
        "target organisms": ("wild mustard",),
        "6 NYCRR 325.25(a) the use": (CROP,),
    },
    "us-wi": {
        "ATCP 29.21(2)(a) first and last name": (SPRAYED,),
        "(b) customer": (CUSTOMER,),
        "(c) crop": (CROP,),
        "(d) location": (PLACE,),
        "(e) date, starting and ending time": (f"Started {DAY} 11:00", f"Finished {DAY} 14:00"),
        "(f) product and EPA number": (PRODUCT,),
        "(g) concentration and total, amount and area": (IN_LOADS, TOTAL, RATE, AREA),
        "(h) mixing place": ("The mixing and loading place as noted",),
    },
    "us-ca": {
        "3 CCR 6624(b)(1) date and time": (f"Started {DAY} 09:00 PDT",),
        "(b)(2) operator of the property": (CUSTOMER,),
        "(b)(4) crop": (CROP,),
        "(b)(5) acreage treated": (AREA,),
        "(b)(6) pesticide, number, amount": (PRODUCT, TOTAL),
        "(c)(1) section, township, range, meridian": ("Legal description by legal description",),
        "(c)(2) started and ended": (f"Started {DAY} 09:00 PDT", f"Finished {DAY} 12:00 PDT"),
        "(c)(3), (4) operator and site number": ("Parcel by parcel",),
        "(c)(5) method": ("The application method as noted", "Pattern broadcast"),
        "(c)(6) acreage planted": ("Planted size 125 ac",),
        "(c)(7) who made and supervised it": (SPRAYED, SUPERVISED),
    },
    "au-nsw": {
        "Pesticides Regulation 2017 (NSW) cl. 36(1)(a) full product name": ("Fenland 4 EC",),
        "(b) date": ("Finished 2026-06-11",),  # 19:00 UTC of the 10th
        "(c) crop": (CROP,),
        "(d) rate and quantity": (RATE, TOTAL),
        "(e) address, delineation": (ADDRESS, "by the outline 125 ac"),
        "(f) who applied; employer with address and contact details": (
            SPRAYED,
            f"{BUSINESS}, telephone 555-0100",
        ),
        "(g) names under supervision": (SPRAYED, SUPERVISED),
        "(h)(i) wind at the start and at each change": ("02:00 AEST 300° (WNW) 8 mph",),
        "(h)(ii) other weather that the label names": (AIR, "55 %"),
        # What licensed users add, by the page of the authority.
        "equipment": ("Rig Big Green",),
        "time": ("Started 2026-06-11 02:00 AEST",),
        "order of paddocks": ("field 1, load shared",),
        "owner or occupier": (CUSTOMER,),
    },
    "au-vic": {
        # By pages of the department, from 2009 on.
        "S.R. 68/2017 (Victoria) reg. 6 trade name": ("Fenland 4 EC",),
        "date": ("Finished 2026-06-11",),
        "rate": (RATE,),
        "crop": (CROP,),
        "extent of use": (AREA,),
        "location": (PLACE,),
        "name and address of applicator or supervisor": (SPRAYED, SUPERVISED, BUSINESS),
        "name and address of the person for whom": (CUSTOMER,),
        "wind speed and direction": (WIND,),
    },
    "us-dicamba-label": {
        # By an extension's and a farm bureau's summary; of what lies near the field a label asks
        # for these two alone, as statements of who sprayed.
        "dicamba label: buffer calculation": ("The buffer kept as noted",),
        "neighbour survey": ("The check of neighbours and sensitive crops as noted",),
    },
    "eu-2023-564": {
        # Art. 67(1) of the parent regulation was read in French, Art. 1 in German; the annex by way
        # of a page of a plant protection service.
        "Regulation (EC) 1107/2009 Art. 67(1) product": ("Fenland 4 EC",),
        "time of use": (f"Started {DAY}",),
        "dose": (RATE,),
        "area": ("Field North L", AREA),
        "crop": ("Crop soybean",),
        "(EU) 2023/564 authorisation number": ("00000-1",),
        "EPPO code": ("(GLXMA)",),
        "BBCH stage": ("Growth stage BBCH 14",),
        "area unit of the aid application": ("Parcel by parcel",),
    },
}
ITEMS = [
    pytest.param(one, parts, id=f"{one}: {item}")
    for one, items in LAWS.items()
    for item, parts in items.items()
]


@cache
def text_of(one: str) -> Page:
    """Return the paper of the complete record in a place where the set holds."""
    s = complete(place_for(SETS[one]), day_for(SETS[one]), business__phone="555-0100")
    return whole(render_record(seal(s)))


def body(one: str) -> Page:
    """Return the paper without its table of the law."""
    text = text_of(one)
    return Page(text[: text.index(TABLE)])


@pytest.mark.parametrize(("one", "parts"), ITEMS)
def test_each_item_of_the_law_stands_on_the_paper(one: str, parts: tuple[str, ...]) -> None:
    for part in parts:
        assert part in body(one), f"{SETS[one].citation}: {part}"


@pytest.mark.parametrize("one", SETS)
def test_each_line_that_the_table_names_is_there(one: str) -> None:
    """An inspector who is sent to a line finds it under that name."""
    s = complete(place_for(SETS[one]), day_for(SETS[one]))
    shown = document(s, assess(s))
    named = {
        words.begun(shown.where(path))
        for row in statement(s, sets=(SETS[one],))
        if row.outcome is not Outcome.NOT_ASKED
        for path in row.stand.where
    }
    # "What, label" is the label's line in the table under "What".
    lacking = {
        line for line in named for part in line.split(", ") if part.capitalize() not in body(one)
    }
    assert lacking == set()


TAKEN = [
    pytest.param(SETS[one], asked, id=f"{SETS[one].citation}: {asked.name}")
    for one in ("us-pa", "us-sd")
    for asked in SETS[one].elements
    if asked.obligation is Obligation.REQUIRED and asked.when is When.ALWAYS
    if asked.name not in ("date", "time-of-day")  # without a day no law can be named
]


@pytest.mark.parametrize(("one", "asked"), TAKEN)
def test_what_lacks_is_missing_in_the_table(one: DutySet, asked: Asked) -> None:
    s = without(complete(one.place), asked.name)
    text = whole(render_record(seal(s)))
    of_set = text[text.index(f"{one.title} {one.citation}") :]
    name = ELEMENTS[asked.name].title.removeprefix("the ").removeprefix("a ")
    assert re.search(rf"{re.escape(name)}( \([a-z,]+\))? missing", Page(of_set))
