"""`manage.py remind`: who is told, what stands in the letter, and what a dry run does not do."""

from __future__ import annotations

import io
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.core.management import call_command
from django.core.management.base import CommandError

from logbook.records.models import DueSheet
from tests.conftest import NOW


def run(**options: Any) -> str:
    out = io.StringIO()
    with time_machine.travel(NOW, tick=False):
        call_command("remind", stdout=out, **options)
    return out.getvalue()


def test_owner_and_office_are_told_one_by_one(
    owner: Any, office: Any, applicator: Any, helper: Any, signed: Any
) -> None:
    said = run()
    assert "1 overdue, 0 due" in said
    assert "2 reminders sent, to 1 businesses." in said
    assert sorted(letter.to for letter in mail.outbox) == sorted(
        [[office.user.email], [owner.user.email]]
    )


def test_the_letter_says_what_where_until_when_and_by_which_law(
    owner: Any, signed: Any, settings: Any
) -> None:
    settings.SITE_ADDRESS = "https://book.example"
    run()
    (letter,) = mail.outbox
    assert "Overdue:" in letter.body
    assert "- 2026-06-12 09:30 CDT: notice before, North L" in letter.body
    assert "40 CFR 170" in letter.body
    assert "https://book.example/deadlines/" in letter.body
    assert "It is not legal advice." in letter.body


def test_each_letter_is_in_the_language_of_who_reads_it(
    owner: Any, office: Any, signed: Any
) -> None:
    owner.user.language = "es"
    owner.user.save()
    assert "1 overdue, 0 due" in run()
    letters = {letter.to[0]: letter for letter in mail.outbox}
    spanish, english = letters[owner.user.email], letters[office.user.email]
    assert "Vencido:" in spanish.body
    assert "12 jun 2026 09:30 CDT" in spanish.body
    assert "No es asesoría legal." in spanish.body
    assert "Overdue" not in spanish.body
    assert "overdue" not in spanish.subject
    assert "Overdue:" in english.body
    assert "1 overdue, 0 due" in english.subject


def test_a_draft_whose_clock_runs_is_in_it(owner: Any, clean_draft: Any) -> None:
    run()
    (letter,) = mail.outbox
    assert "Open:" in letter.body
    assert "record, North L" in letter.body
    assert "(draft)" in letter.body


def test_a_dry_run_sends_nothing_and_says_so(owner: Any, signed: Any) -> None:
    assert "1 reminders would be sent" in run(dry_run=True)
    assert mail.outbox == []


def test_nothing_due_tells_nobody(owner: Any) -> None:
    assert "nothing is due; nobody is told" in run()
    assert mail.outbox == []


def test_a_business_without_owner_or_office_is_named(helper: Any) -> None:
    assert "nobody to tell" in run()


def test_one_business_is_chosen_by_its_id(
    owner: Any, stranger: Any, business: Any, signed: Any
) -> None:
    assert "to 1 businesses" in run(business=business.pk)
    assert len(mail.outbox) == 1
    with pytest.raises(CommandError, match="There is no business"):
        run(business=10**9)


def test_sheets_of_older_law_are_written_anew_first(owner: Any, signed: Any) -> None:
    DueSheet.objects.update(law="older", items=[], next_due_at=None)
    assert "1 overdue" in run()
