"""Django's `migrate`, which here puts the triggers back that freeze sealed records."""

from __future__ import annotations

from typing import Any

from django.core.checks.registry import registry
from django.core.management.base import CommandError
from django.core.management.commands.migrate import Command as Migrate
from django.db import connections
from django.db.migrations.exceptions import InconsistentMigrationHistory

from logbook.records.sealing import freeze


class Command(Migrate):
    def check(self, *args: Any, **options: Any) -> None:
        """Check all but the triggers: one that is missing must not stop what puts it back."""
        tags = registry.tags_available() - {freeze.CHECK_TAG}
        super().check(*args, **{**options, "tags": sorted(tags)})

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with freeze.kept(connections[options["database"]]):
                super().handle(*args, **options)
        except CommandError:
            raise
        except InconsistentMigrationHistory as error:
            raise CommandError(
                f"{error} Nothing was changed. An unfinished version made this database; it can "
                "be read by that version alone."
            ) from error
        except Exception as error:
            raise CommandError(
                f"The migration stopped ({error}). What it finished stays, what it had begun is "
                "taken back. Do not serve this database: mend the cause and run manage.py migrate "
                "again, or restore the backup. manage.py migrate --traceback says where it stopped."
            ) from error
