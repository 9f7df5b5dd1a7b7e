"""Declarations of facts: what a list of them gives, and what a column cannot be made of."""

from __future__ import annotations

import pytest

from logbook.facts.record import RecordFacts, Snapshot
from logbook.facts.sets import BY_COLUMN, declared_along, prefilled, resumed
from logbook.facts.spec import Prefill, declared
from logbook.facts.units import menu, usual_unit
from logbook.quantities.columns import column_of


def test_a_wider_reach_takes_over_all_of_a_narrower_one() -> None:
    rig, field, job = (set(prefilled(reach)) for reach in Prefill)
    assert rig < field < job
    assert field - rig == {"planting"}


def test_settings_as_read_are_never_taken_over() -> None:
    taken = {*prefilled(Prefill.SAME_JOB), *resumed()}
    assert taken.isdisjoint({"pressure", "speed", "treated_area", "mix_used", "started_at"})


@pytest.mark.parametrize(
    ("path", "label"),
    [
        ("record.boom_height", "boom height above the target"),
        ("weather.3.gust", "gust"),
        ("loads.0.used_here", "volume used here"),
        ("rig.name", "rig"),
        ("crew.1.name", "also sprayed by"),
        ("products.0.label.edition", "label edition"),
    ],
)
def test_a_path_of_the_facts_leads_to_what_is_declared(path: str, label: str) -> None:
    assert declared_along(path)[-1][0].label == label


def test_the_short_label_stands_where_there_is_one() -> None:
    facts = declared(RecordFacts)
    assert facts["boom_height"].heading == "boom height"
    assert facts["speed"].heading == facts["speed"].label == "ground speed"
    assert facts["speed"].meaning == "Ground speed."


def test_a_chosen_row_is_no_column_of_its_own() -> None:
    with pytest.raises(TypeError, match="field is not a column of its own"):
        column_of(Snapshot, "field")


def test_units_in_use_come_first_and_the_rest_only_where_it_is_used() -> None:
    assert menu(("volume_rate",), BY_COLUMN["planned_carrier"].kind.units) == [  # type: ignore[union-attr]
        *("gal/ac", "L/ha", "imp gal/ac", "L/ac"),
    ]
    assert usual_unit(("volume", "mass"), system="us") == ""
    assert usual_unit(("pressure",), system="metric") == "bar"
