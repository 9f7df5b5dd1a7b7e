"""`manage.py export_records`: signed records as JSON or CSV, or the schema of the JSON."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from logbook.accounts.models import User
from logbook.accounts.rights import Actor
from logbook.accounts.services import actor_for
from logbook.errors.exceptions import Refused
from logbook.records.exchange import schema
from logbook.records.exchange.export import Selection, csv_pieces, json_pieces


def member(email: str, business: int | None) -> Actor:
    """Return the actor that the login of `email` is.

    Raises: CommandError if there is none, or it is in no such business.
    """
    user = User.objects.filter(email__iexact=email).first()
    actor = actor_for(user, business_id=business) if user else None
    if actor is None or business not in (None, actor.business.pk):
        raise CommandError(f"There is no member {email} of such a business.")
    return actor


class Command(BaseCommand):
    help = "Write signed records to standard output, or to a file, as JSON or CSV."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--as", dest="email", help="the login that exports")
        parser.add_argument("--business", type=int, help="the id of one of its businesses")
        parser.add_argument("--format", choices=("json", "csv"), default="json")
        parser.add_argument("--from", dest="day_from", type=date.fromisoformat, help="YYYY-MM-DD")
        parser.add_argument("--to", dest="day_to", type=date.fromisoformat, help="YYYY-MM-DD")
        parser.add_argument("--customer", type=UUID, help="the id of one customer")
        parser.add_argument("--field", type=UUID, help="the id of one field")
        parser.add_argument("--output", help="the file to write; default standard output")
        parser.add_argument("--schema", action="store_true", help="print the JSON Schema and stop")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["schema"]:
            self.stdout.write(schema.printed(), ending="")
            return
        if not options["email"]:
            raise CommandError("Say with --as which login exports.")
        actor = member(options["email"], options["business"])
        try:
            selection = Selection(
                day_from=options["day_from"],
                day_to=options["day_to"],
                customer_id=options["customer"],
                field_id=options["field"],
            )
            pieces = (
                csv_pieces(actor=actor, selection=selection)
                if options["format"] == "csv"
                else json_pieces(
                    actor=actor,
                    selection=selection,
                    now=timezone.now(),
                    schema_url=schema.FILE.name,
                )
            )
        except Refused as refusal:
            raise CommandError(str(refusal)) from None
        if not options["output"]:
            for piece in pieces:
                self.stdout.write(piece, ending="")
            return
        with open(options["output"], "w", encoding="utf-8", newline="") as file:
            file.writelines(pieces)
