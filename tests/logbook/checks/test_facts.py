"""The frozen facts: what a snapshot works out by itself."""

from __future__ import annotations

from dataclasses import FrozenInstanceError

import pytest

from tests.logbook.checks.build import DAY, clean, given


def test_the_swath_is_the_whole_boom() -> None:
    # 36 nozzles on 20 in are 60 ft = 18.288 m.
    rig = clean().rig
    assert rig is not None
    assert rig.swath_m == pytest.approx(18.288)


def test_the_day_of_a_record_without_an_end_is_that_of_its_start() -> None:
    assert given(record__finished_at=None).local_day() == DAY
    assert given(record__finished_at=None, record__started_at=None).local_day() is None


def test_a_fact_cannot_be_changed() -> None:
    with pytest.raises(FrozenInstanceError):
        clean().record.note = "changed"  # type: ignore[misc]
