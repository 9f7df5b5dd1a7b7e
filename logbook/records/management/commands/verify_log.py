"""`manage.py verify_log`: reads every seal of every business again and says whether it holds."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from logbook.accounts.models import Business
from logbook.records import freeze, seals


class Command(BaseCommand):
    help = "Verify the whole log of each business; exit code 1 if an entry does not hold."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--business", type=int, help="the id of one business; default all")

    def handle(self, *args: Any, **options: Any) -> None:
        businesses = Business.objects.order_by("pk")
        if options["business"] is not None:
            businesses = businesses.filter(pk=options["business"])
            if not businesses:
                raise CommandError(f"There is no business {options['business']}.")
        broken = sum(not self._holds(business) for business in businesses)
        lacking = freeze.missing(connection)
        if lacking:
            self.stderr.write(
                f"{len(lacking)} triggers that freeze sealed records do not stand, such as "
                f"{min(lacking)}; run: manage.py migrate"
            )
        if broken or lacking:
            raise CommandError(
                f"{broken} of {len(businesses)} logs broken, {len(lacking)} triggers missing."
            )

    def _holds(self, business: Business) -> bool:
        name = f"{business.name} (business {business.pk})"
        result = seals.verify(business=business, progress=lambda n: self._progress(name, n))
        if result.broken is None:
            self.stdout.write(
                f"{name}: all {result.checked} entries hold; the log ends in {result.last_link}"
            )
            return True
        self.stderr.write(
            f"{name}: no. {result.broken.number} is broken: {result.broken.why}; "
            f"{result.checked} entries before it hold"
        )
        return False

    def _progress(self, name: str, checked: int) -> None:
        self.stdout.write(f"{name}: {checked} entries read", ending="\r")
        self.stdout.flush()
