"""The customer's copy: the record, whose copy it is, and the proof of its delivery."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime

from pypdf import PdfReader

from logbook.documents.record import Amended, render_copy, render_record
from logbook.documents.source import Delivery
from tests.logbook.checks.build import given
from tests.logbook.documents.reading import Page, has, whole
from tests.logbook.documents.sealed import SEALED_AT, seal

HANDED = Delivery(
    to_whom="C. Dahl",
    how="by e-mail",
    given_at=datetime(2026, 6, 20, 15, 0, tzinfo=UTC),
    consent_on=date(2026, 3, 1),
    note="",
    by="A. Lund",
)


def copy(*deliveries: Delivery, **changes) -> Page:
    return whole(render_copy(seal(given(**changes)), deliveries=deliveries))


def test_the_copy_says_whose_it_is_and_who_keeps_the_record():
    has(
        copy(),
        "Customer copy of record no. 57",
        "Copy for C. Dahl, Box 2, made from the sealed record.",
        "is kept by Coulee Custom Spraying, licence B-100, telephone blank.",
    )
    has(copy(customer=None, business__licence_number=""), "Copy for blank,", "licence blank,")


def test_the_copy_tells_telephone_licence_and_precautions_after_the_application():
    # ATCP 29.22 (Wisconsin): telephone number, licence number, post-application precautions.
    has(
        copy(business__phone="555-0100"),
        "licence B-100, telephone 555-0100.",
        "After the application follow what the label of each product says of entry",
    )


def test_the_copy_holds_the_record():
    has(
        copy(),
        "Signed by A. Lund, applicator",
        "Fenland 4 EC",
        "2750 fl oz (81330 mL)",
        "No entry before",
        f"seal {seal().link}",
    )


def test_a_delivery_says_to_whom_how_when_and_on_whose_consent():
    text = copy(HANDED)
    has(text, "C. Dahl by e-mail 2026-06-20 10:00 CDT (UTC−05:00) 2026-03-01 none A. Lund")
    assert "Handed to" not in text


def test_a_struck_delivery_stays_readable_with_its_reason():
    struck = Delivery(
        to_whom="D. Dahl",
        how="by hand",
        given_at=HANDED.given_at,
        consent_on=None,
        note="in the mailbox",
        by="A. Lund",
        struck="wrong farm",
    )
    text = copy(struck, HANDED)
    has(text, "D. Dahl struck: wrong farm by hand", "blank in the mailbox A. Lund")
    has(text, "C. Dahl by e-mail")


def test_without_a_delivery_there_are_lines_to_write_on():
    has(copy(), "Nothing is written down yet of this copy's delivery")
    has(copy(), "Handed to On, at How Consent of Given by Received by")


def test_the_law_on_consent_and_the_time_of_the_copy_stand_on_it():
    # ATCP 29.22: within 30 days, electronic only with the customer's written consent beforehand.
    text = copy(field__place="US-WI")
    has(text, "Where the law allows electronic delivery only with the customer's written consent")
    has(text, "Wisconsin 2026-07-10 23:59 CDT (UTC−05:00), within 30 calendar days")
    has(text, "electronic only with the customer's written consent beforehand")


def test_a_copy_that_is_due_to_who_asks_says_so():
    # ARSD 12:56:07: restricted-use copies within 30 days, other copies on request.
    text = copy(field__place="US-SD")
    has(text, "South Dakota 2026-07-10 23:59 CDT (UTC−05:00), within 30 calendar days")
    has(text, "South Dakota with no time stated, to who asks")


def test_a_corrected_record_says_so_on_its_copy():
    later = Amended(number=61, reason="The speed was copied wrong.", sealed_at=SEALED_AT)
    text = whole(render_copy(seal(), deliveries=(), amended_by=[later], paper="a4"))
    assert "Corrected since: record no. 61 holds in place of this one." in text


def test_the_record_itself_has_no_cover_and_no_delivery():
    text = whole(render_record(seal()))
    assert "Copy for" not in text
    assert "Proof of delivery" not in text


def test_the_same_seal_and_deliveries_give_the_same_bytes():
    one, other = (render_copy(seal(), deliveries=[HANDED]) for _ in range(2))
    assert one == other
    assert one != render_copy(seal(), deliveries=[])


def test_the_file_says_what_it_is():
    about = PdfReader(io.BytesIO(render_copy(seal(), deliveries=[]))).metadata
    assert about.title == "Customer copy of record no. 57: North L, 2026-06-10"
    assert about.creation_date == SEALED_AT
