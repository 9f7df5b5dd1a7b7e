"""`manage.py import_records`: a file of records into drafts; a dry run unless told to write."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from logbook.errors.exceptions import Refused
from logbook.records.exchange.importing import (
    BY_COMMAND,
    CORRECTED,
    NEW,
    STANDING,
    ImportReport,
    import_records,
)
from logbook.records.management.commands.export_records import member
from logbook.tenancy.history import acting


class Command(BaseCommand):
    help = "Read a JSON or CSV of export_records into drafts: all of it or nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--as", dest="email", required=True, help="the login that imports")
        parser.add_argument("--business", type=int, help="the id of one of its businesses")
        parser.add_argument("--write", action="store_true", help="write; without it a dry run")

    def handle(self, *args: Any, **options: Any) -> None:
        actor = member(options["email"], options["business"])
        try:
            with acting(lambda: actor.user):
                report = import_records(
                    actor=actor,
                    raw=options["file"].read_bytes(),
                    write=options["write"],
                    limits=BY_COMMAND,
                )
        except (Refused, OSError) as refusal:
            raise CommandError(str(refusal)) from None
        self._say(report)
        if report.problems:
            count = len(report.problems) + report.further_problems
            raise CommandError(f"{count} places cannot be taken; nothing was written.")
        self.stdout.write("Written." if report.written else "Dry run; nothing was written.")

    def _say(self, report: ImportReport) -> None:
        for problem in report.problems:
            self.stderr.write(str(problem))
        for name in report.unknown:
            self.stdout.write(f"not known here, passed over: {name}")
        for kind, count in report.shelf.items():
            self.stdout.write(f"{kind}: {count.found} found, {count.new} new")
        for outcome in report.outcomes:
            why = f", {outcome.why}" if outcome.why else ""
            self.stdout.write(f"{outcome.title}: {outcome.what}{why}")
            for line in outcome.differs:
                self.stdout.write(f"    differs: {line}")
            for line in outcome.asked:
                self.stdout.write(f"    look again: {line}")
        counted = ", ".join(f"{report.count(what)} {what}" for what in (NEW, STANDING, CORRECTED))
        self.stdout.write(counted)
