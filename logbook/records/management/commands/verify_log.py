"""`manage.py verify_log`: reads every seal of every business again and says whether it holds."""

from __future__ import annotations

import re
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from logbook.accounts.models import Business
from logbook.records.models import Purge
from logbook.records.reading import verification
from logbook.records.sealing import freeze
from logbook.records.sealing.journaled import Expected, JournalRead


class Command(BaseCommand):
    help = "Verify the whole log of each business; exit code 1 if an entry does not hold."
    # Missing triggers are reported beside what the log says, not in its place.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--business", type=int, help="the id of one business; default all")
        parser.add_argument(
            "--expect",
            metavar="NUMBER:LINK",
            help="fail if the log does not contain this seal, kept elsewhere, as on a printed "
            "record; of one business",
        )
        parser.add_argument(
            "--expect-journal",
            metavar="NUMBER:LINK",
            help="fail if the journal does not contain this entry, kept elsewhere; of one business",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        businesses = Business.objects.order_by("pk")
        if options["business"] is not None:
            businesses = businesses.filter(pk=options["business"])
            if not businesses:
                raise CommandError(f"There is no business {options['business']}.")
        expected = [_expected(name, options[name]) for name in ("expect", "expect_journal")]
        if any(expected) and len(businesses) != 1:
            raise CommandError("--expect asks of one business; say which with --business.")
        broken = sum(not self._holds(business, *expected) for business in businesses)
        for fault in freeze.faults(connection):
            self.stderr.write(fault)
        lacking, more = len(freeze.missing(connection)), len(freeze.too_many(connection))
        if broken or lacking or more:
            raise CommandError(
                f"{broken} of {len(businesses)} logs broken, {lacking} triggers missing"
                f"{f', {more} triggers, rules or policies too many' if more else ''}."
            )

    def _holds(
        self,
        business: Business,
        expected: Expected | None,
        journal_expected: Expected | None,
    ) -> bool:
        name = f"{business.name} (business {business.pk})"
        result = verification.verify(
            business=business,
            progress=lambda n: self._progress(name, n),
            expected=expected,
            journal_expected=journal_expected,
        )
        self._tell_of_the_journal(name, result.journal)
        if result.broken is None:
            self._tell_what_was_purged(name, business)
            purged = f", {result.purged} of them purged" if result.purged else ""
            self.stdout.write(
                f"{name}: all {result.checked} entries hold{purged}; the log ends in "
                f"{result.checked}:{result.last_link}"
            )
        else:
            self.stderr.write(
                f"{name}: no. {result.broken.number} is broken: {result.broken.why}; "
                f"{min(result.checked, result.broken.number - 1)} entries before it hold"
            )
        return result.whole

    def _tell_of_the_journal(self, name: str, journal: JournalRead) -> None:
        if journal.broken is None:
            self.stdout.write(
                f"{name}: all {journal.checked} entries of the journal hold; it ends in "
                f"{journal.checked}:{journal.last_link}"
            )
        else:
            self.stderr.write(
                f"{name}: entry {journal.broken.number} of the journal is broken: "
                f"{journal.broken.why}; "
                f"{min(journal.checked, journal.broken.number - 1)} entries before it hold"
            )

    def _tell_what_was_purged(self, name: str, business: Business) -> None:
        purges = Purge.objects.within(business).select_related("seal", "purged_by")
        for one in purges.order_by("seal__number").iterator():
            self.stdout.write(
                f"{name}: no. {one.seal.number} was purged {one.purged_at:%Y-%m-%d %H:%M} UTC by "
                f"{one.purged_by.name}: {one.reason} (kept until {one.keep_until}, "
                f"{one.allowed_by})"
            )

    def _progress(self, name: str, checked: int) -> None:
        self.stdout.write(f"{name}: {checked} entries read", ending="\r")
        self.stdout.flush()


def _expected(name: str, text: str | None) -> Expected | None:
    """Return the number and link of "4:1f…", or of "4 1f…" as the code of a printed record says.

    Raises: CommandError if the text is neither.
    """
    if text is None:
        return None
    found = re.fullmatch(r"([1-9][0-9]{0,8})[: ]([0-9a-f]{64})", text.strip())
    if found is None:
        option = f"--{name.replace('_', '-')}"
        raise CommandError(f"{option} {text!r} is not a number, a colon and 64 hexadecimal digits.")
    return Expected(number=int(found[1]), link=found[2])
