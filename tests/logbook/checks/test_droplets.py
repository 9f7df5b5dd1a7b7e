"""At which pressure the nozzles spray, and which droplet class: against sheet and labels."""

from __future__ import annotations

from typing import Any

import pytest

from logbook.checks import droplets
from logbook.checks.core import Severity
from tests.logbook.checks.build import label as a_label
from tests.logbook.checks.build import lack, look, q, the

LABEL = "products__0__label"
GOING_ON: dict[str, Any] = {"record__finished_at": None}


# --- pressure --------------------------------------------------------------------------------


def test_a_pressure_within_the_rated_range_agrees() -> None:
    assert look(droplets.nozzle_pressure) == []


def test_a_pressure_outside_the_rated_range_is_a_mismatch() -> None:
    # 21 psi at the gauge is 20 psi at the nozzle: half of 42 and 40.
    finding = the(droplets.nozzle_pressure, record__pressure=q("21 psi"))
    assert finding.severity is Severity.MISMATCH
    assert finding.sentence == (
        "Pressure at the nozzle 20.0 psi; AI 110-03 is rated for 30 to 90 psi."
    )


def test_a_range_in_another_unit_is_repeated_in_that_of_the_gauge() -> None:
    # 2 and 6 bar are 29.0 and 87.0 psi (1 bar = 14.5038 psi).
    finding = the(
        droplets.nozzle_pressure,
        record__pressure=q("21 psi"),
        nozzle__pressure_min=q("2 bar"),
        nozzle__pressure_max=q("6 bar"),
    )
    assert "is rated for 2 to 6 bar (29.0 to 87.0 psi)" in finding.sentence


def test_a_pressure_at_the_edge_of_the_range_is_quiet() -> None:
    # 30.5 psi at the gauge is 29 at the nozzle; the gauge is right within ± 2 psi.
    assert look(droplets.nozzle_pressure, record__pressure=q("30.5 psi")) == []


def test_the_pressure_check_needs_the_gauge() -> None:
    assert set(lack(droplets.nozzle_pressure, record__pressure=None).needs) == {"pressure"}


# --- droplet class ---------------------------------------------------------------------------


def test_a_class_that_the_label_allows_agrees() -> None:
    # Between 30 psi (VC) and 50 psi (C) both are possible, and both are allowed.
    assert look(droplets.droplet_class) == []


def test_a_finer_class_than_the_label_allows_is_a_breach() -> None:
    # 94.5 psi at the gauge is 90 at the nozzle, where the table says Fine.
    finding = the(droplets.droplet_class, record__pressure=q("94.5 psi"))
    assert finding.severity is Severity.BREACH
    assert finding.sentence == (
        "At 90.0 psi AI 110-03 sprays Fine, label asks Medium to Very Coarse."
    )
    assert finding.settle.startswith("At 30 psi, 50 psi and 70 psi its table gives a class")
    ahead = the(droplets.droplet_class, record__pressure=q("94.5 psi"), **GOING_ON)
    assert ahead.settle.startswith("Run at 30 psi, 50 psi and 70 psi, where its table gives")
    assert finding.basis.endswith("classes of ASABE S572")


def test_a_coarser_class_than_the_label_allows_is_a_breach() -> None:
    finer = {f"{LABEL}__finest_class": "", f"{LABEL}__coarsest_class": "M"}
    assert "label asks Medium or finer" in the(droplets.droplet_class, **finer).sentence


def test_a_class_between_two_of_which_one_is_allowed_cannot_be_decided() -> None:
    only = {f"{LABEL}__finest_class": "VC", f"{LABEL}__coarsest_class": ""}
    finding = the(droplets.droplet_class, **only)
    assert (finding.severity, finding.undecided) == (Severity.CAUTION, True)
    assert "may spray Coarse or Very Coarse (between the listed" in finding.sentence
    assert finding.sentence.endswith("label asks Very Coarse or coarser.")


def test_an_unknown_class_cannot_be_decided() -> None:
    finding = the(droplets.droplet_class, record__pressure=q("105 psi"))
    assert (finding.severity, finding.undecided) == (Severity.CAUTION, True)
    assert "At 100 psi AI 110-03 has no known droplet class (outside the table" in finding.sentence


def test_a_nozzle_without_an_allowed_class_is_to_be_changed() -> None:
    coarse = {f"{LABEL}__finest_class": "XC", f"{LABEL}__coarsest_class": ""}
    assert the(droplets.droplet_class, **coarse).settle.startswith("Correct the nozzle")
    ahead = the(droplets.droplet_class, **coarse, **GOING_ON)
    assert ahead.settle.startswith("Fit a nozzle")


def test_labels_that_leave_no_class_are_a_breach_of_the_mix() -> None:
    finding = the(droplets.droplet_class, products__1__label=a_label(finest_class="UC"))
    assert finding.sentence == (
        "No droplet class suits all labels: they ask Ultra Coarse to Very Coarse together."
    )


def test_labels_silent_on_the_class_ask_nothing() -> None:
    assert look(droplets.droplet_class, **{LABEL: a_label()}, nozzle=None) == []


def test_the_class_needs_nozzle_and_label() -> None:
    assert set(lack(droplets.droplet_class, nozzle=None).needs) == {"nozzle"}
    assert "products.0.label" in lack(droplets.droplet_class, products__0__label=None).needs


# --- line loss -------------------------------------------------------------------------------


@pytest.mark.parametrize("loss", ["2 psi", "none", "not applicable"])
def test_a_small_pressure_loss_agrees(loss: str) -> None:
    assert look(droplets.line_loss, rig__line_loss=q(loss)) == []


def test_more_than_a_tenth_lost_is_a_caution() -> None:
    # ISO 16122-2, from memory: at most 10 % from gauge to nozzle.
    finding = the(droplets.line_loss, rig__line_loss=q("8 psi"))
    assert finding.severity is Severity.CAUTION
    assert "of 42 psi is lost before the nozzle" in finding.sentence
    assert finding.sentence.endswith("at most 10 % is usual.")


def test_a_loss_that_is_blank_or_not_measured_is_said() -> None:
    assert "rig.line_loss" in lack(droplets.line_loss, rig__line_loss=None).needs
    assert (
        "was not measured: no gauge"
        in lack(droplets.line_loss, rig__line_loss=q("not measured: no gauge")).why
    )
    assert lack(droplets.line_loss, rig=None).needs == {"rig": "rig"}
