"""Who may spray: licences on the day and at the place, supervision, training, category."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from logbook.checks import licence
from logbook.checks.core import Severity
from tests.logbook.checks.build import clean, given, lack, look, person, q, the, training
from tests.logbook.checks.build import licence as a_licence

EXPIRED = a_licence(number="C-0900", expires_on=date(2026, 3, 31))
HELPER = person("H. Berg", licences=())
TRAINED = person("H. Berg", licences=(), trainings=(training(),))
SUPERVISOR = person("S. Vik")


# --- the licence -----------------------------------------------------------------------------


def test_a_licence_valid_on_the_day_at_the_field_agrees() -> None:
    assert look(licence.applicator_licence) == []


def test_an_expired_licence_without_a_supervisor_is_a_breach() -> None:
    finding = the(licence.applicator_licence, applicator=person(licences=(EXPIRED,)))
    assert finding.severity is Severity.BREACH
    assert finding.about == "applicator"
    assert finding.sentence == (
        "No licence of A. Lund is valid in US-ND on 2026-06-10 (C-0900 expired on 2026-03-31), "
        "and no supervisor is named."
    )
    assert "40 CFR 171.201" in finding.basis


@pytest.mark.parametrize(
    ("held", "words"),
    [
        (a_licence(place="US-MN"), "(C-1001 is for US-MN)"),
        (a_licence(valid_from=date(2026, 7, 1)), "(C-1001 is valid from 2026-07-01)"),
    ],
)
def test_the_sentence_says_what_is_wrong_with_the_licence(held: object, words: str) -> None:
    assert words in the(licence.applicator_licence, applicator=person(licences=(held,))).sentence


@pytest.mark.parametrize("place", ["US-ND", "US"])
def test_a_licence_of_the_whole_country_covers_its_parts(place: str) -> None:
    assert look(licence.applicator_licence, applicator__licences__0__place=place) == []


def test_a_licensed_supervisor_stands_for_an_unlicensed_helper() -> None:
    assert look(licence.applicator_licence, applicator=HELPER, supervisor=SUPERVISOR) == []


def test_a_supervisor_without_a_licence_helps_nobody() -> None:
    finding = the(
        licence.applicator_licence,
        applicator=HELPER,
        supervisor=person("S. Vik", licences=(EXPIRED,)),
    )
    assert finding.sentence == (
        "No licence of H. Berg is valid in US-ND on 2026-06-10, and none of the supervisor S. Vik "
        "is either (C-0900 expired on 2026-03-31)."
    )


def test_the_licence_check_needs_person_day_and_field() -> None:
    lacking = lack(
        licence.applicator_licence,
        applicator=None,
        field=None,
        record__started_at=None,
        record__finished_at=None,
    )
    assert set(lacking.needs) == {"applicator", "started_at", "field"}


# --- training --------------------------------------------------------------------------------


def test_a_licensed_applicator_needs_no_helper_training() -> None:
    assert look(licence.helper_training) == []


@pytest.mark.parametrize("expires_on", [date(2026, 6, 10), None])
def test_a_helper_trained_on_the_day_agrees(expires_on: date | None) -> None:
    helper = person("H. Berg", licences=(), trainings=(training(expires_on=expires_on),))
    assert look(licence.helper_training, applicator=helper) == []


@pytest.mark.parametrize(
    ("trainings", "words"),
    [
        ((), "no training is on record"),
        ((training(expires_on=date(2026, 6, 9)),), "the latest training is of 2026-03-01"),
        ((training(trained_on=date(2026, 6, 11)),), "the latest training is of 2026-06-11"),
    ],
)
def test_a_helper_without_a_training_on_the_day_is_a_breach(
    trainings: tuple[object, ...], words: str
) -> None:
    # 40 CFR 171.201: a helper under direct supervision is trained beforehand.
    helper = person("H. Berg", licences=(), trainings=trainings)
    finding = the(licence.helper_training, applicator=helper, supervisor=SUPERVISOR)
    assert finding.severity is Severity.BREACH
    assert words in finding.sentence


def test_the_training_check_needs_the_person() -> None:
    assert lack(licence.helper_training, applicator=None).needs == {"applicator": "applicator"}


# --- restricted use --------------------------------------------------------------------------


def test_restricted_use_by_a_certified_applicator_agrees() -> None:
    assert look(licence.restricted_use) == []


def test_restricted_use_under_a_certified_supervisor_agrees() -> None:
    assert look(licence.restricted_use, applicator=TRAINED, supervisor=SUPERVISOR) == []


def test_restricted_use_without_a_certified_applicator_is_a_breach() -> None:
    # 7 U.S.C. 136a(d)(1)(C): by or under the direct supervision of a certified applicator.
    finding = the(licence.restricted_use, applicator__licences__0__certified=False)
    assert finding.severity is Severity.BREACH
    assert finding.sentence == (
        "Fenland 4 EC: for restricted use only, but on 2026-06-10 neither A. Lund nor a supervisor "
        "is a certified applicator in US-ND."
    )
    assert finding.basis.startswith("Label of Fenland 4 EC, edition 2025-01; 7 U.S.C. 136a")


def test_general_use_asks_for_no_certificate() -> None:
    assert (
        look(
            licence.restricted_use,
            applicator__licences__0__certified=False,
            products__0__label__restricted_use=False,
        )
        == []
    )


def test_the_restricted_use_check_needs_the_label_and_the_person() -> None:
    lacking = lack(licence.restricted_use, applicator=None, products__0__label=None)
    assert lacking.needs == {"products.0.label": "the label edition of Fenland 4 EC"}
    assert "applicator" in lack(licence.restricted_use, applicator=None).needs


# --- no helper -------------------------------------------------------------------------------

STRICT = {"products__0__label__supervised_use_allowed": False}


def test_a_label_that_forbids_helpers_is_kept_by_a_certified_applicator() -> None:
    assert look(licence.supervised_helper, **STRICT) == []


def test_a_helper_where_the_label_forbids_one_is_a_breach() -> None:
    # The pattern of the US paraquat labels: certified applicators only.
    finding = the(licence.supervised_helper, applicator=TRAINED, supervisor=SUPERVISOR, **STRICT)
    assert finding.severity is Severity.BREACH
    assert "allows no helper under supervision" in finding.sentence
    assert "H. Berg holds no own certification valid in US-ND on 2026-06-10" in finding.sentence


def test_without_restricted_use_a_licence_is_enough() -> None:
    general = STRICT | {"products__0__label__restricted_use": False}
    assert (
        look(licence.supervised_helper, applicator__licences__0__certified=False, **general) == []
    )
    assert "no own licence" in the(licence.supervised_helper, applicator=HELPER, **general).sentence


def test_a_label_that_allows_helpers_asks_nothing() -> None:
    assert look(licence.supervised_helper, applicator=HELPER) == []


def test_the_helper_check_needs_the_label() -> None:
    assert "products.0.label" in lack(licence.supervised_helper, products__0__label=None).needs


# --- category --------------------------------------------------------------------------------


def test_the_category_asked_for_is_held() -> None:
    assert look(licence.licence_category) == []


def test_another_category_is_a_breach() -> None:
    finding = the(licence.licence_category, applicator__licences__0__categories=("2", "7"))
    assert finding.severity is Severity.BREACH
    assert finding.sentence == (
        "Licence category asked: 1A for Fenland 4 EC. Held on 2026-06-10 in US-ND: 2 and 7."
    )


def test_a_helper_works_under_the_categories_of_the_supervisor() -> None:
    assert look(licence.licence_category, applicator=TRAINED, supervisor=SUPERVISOR) == []
    assert (
        "Held on 2026-06-10 in US-ND: none"
        in the(licence.licence_category, applicator=HELPER).sentence
    )


def test_a_label_that_asks_for_no_category_asks_nothing() -> None:
    assert (
        look(licence.licence_category, applicator=None, products__0__label__required_category="")
        == []
    )


def test_the_category_check_needs_the_products() -> None:
    assert lack(licence.licence_category, products=()).needs == {"products": "products"}


def test_the_clean_record_is_not_changed_by_a_test() -> None:
    assert given() == clean()
    assert q("15.0 gal/ac") == clean().record.planned_carrier


def test_of_a_job_over_midnight_the_licence_holds_on_both_days() -> None:
    # 23:00 CDT on 10 June to 01:00.
    night = {
        "record__started_at": datetime(2026, 6, 11, 4, 0, tzinfo=UTC),
        "record__finished_at": datetime(2026, 6, 11, 6, 0, tzinfo=UTC),
    }
    for ends, valid in ((date(2026, 6, 10), False), (date(2026, 6, 11), True)):
        held = (a_licence(expires_on=ends),)
        assert (look(licence.applicator_licence, applicator__licences=held, **night) == []) is valid
    begins = (a_licence(valid_from=date(2026, 6, 11)),)
    found = the(licence.applicator_licence, applicator__licences=begins, **night)
    assert "on 2026-06-10" in found.sentence


# --- not said --------------------------------------------------------------------------------


def test_a_label_of_which_nobody_said_whether_it_is_restricted_is_asked_about() -> None:
    lacking = lack(licence.restricted_use, products__0__label__restricted_use=None)
    assert lacking.needs == {
        "products.0.label.restricted_use": "whether Fenland 4 EC is a restricted-use product"
    }


def test_whether_a_label_allows_a_helper_is_asked_only_where_one_sprayed() -> None:
    unsaid = {"products__0__label__supervised_use_allowed": None}
    assert look(licence.supervised_helper, **unsaid) == []
    assert lack(licence.supervised_helper, **unsaid, applicator=HELPER).needs == {
        "products.0.label.supervised_use_allowed": "whether the label of Fenland 4 EC allows a "
        "helper"
    }


def test_a_licence_not_said_to_certify_does_not() -> None:
    unsaid = person(licences=(a_licence(certified=None),))
    assert the(licence.restricted_use, applicator=unsaid).severity is Severity.BREACH
