"""The place-by-place table of the law, against the sets and the places of ISO 3166."""

from __future__ import annotations

import holidays
import pytest

from logbook.law.places import Carried, own_sets, place_of, places
from logbook.localization.places import offered
from tests.logbook.law.complete import SETS

US = [code for code in places() if code.startswith("US-")]
EU = SETS["eu-2023-564"].covers


@pytest.mark.parametrize("place", list(places()))
def test_table_and_sets_agree(place: str) -> None:
    row = places()[place]
    sets = own_sets(place)
    assert bool(sets) == (row.carried is not Carried.NONE)
    if sets:
        assert row.last_read == max(one.last_read for one in sets if one.last_read)
    # What is not carried in full says what lacks, but for places of which nothing was looked for.
    assert row.note or row.carried is Carried.FULL or row.last_read is None
    # "In full" is never said of a list that nobody read in the text or at its authority.
    if row.carried is Carried.FULL:
        assert all(asked.how_read.firm for one in sets for asked in one.elements)
        assert all(kept.how_read.firm for one in sets for kept in one.retention)


def test_every_place_on_offer_is_in_the_table_and_every_part_of_the_countries() -> None:
    assert set(offered()) <= set(places())
    # The parts as the library `holidays` lists them by ISO 3166-2; its American list has
    # territories beside the states, of which three are in the table.
    listed = holidays.list_supported_countries()
    for country in ("CA", "AU"):
        parts = {f"{country}-{part}" for part in listed[country] if len(part) <= 3}
        assert parts <= set(places())
    states = {f"US-{part}" for part in listed["US"]} - {"US-AS", "US-MP", "US-UM"}
    assert states == set(US)
    assert set(EU) <= set(places())
    assert {f"GB-{part}" for part in ("ENG", "SCT", "WLS", "NIR")} <= set(places())


def test_no_set_is_carried_of_a_place_that_is_not_in_the_table() -> None:
    federal = {"US", "EU", "GB"}
    assert {one.place for one in SETS.values()} - federal <= set(places())


def test_a_part_of_a_member_state_answers_with_the_state() -> None:
    assert place_of("DE-BY") is places()["DE"]
    assert place_of("BR-SP").carried is Carried.NONE
