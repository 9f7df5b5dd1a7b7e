"""Collects what is to be translated, the sentences of rooms without Django included."""

from __future__ import annotations

from typing import Any

from django.core.management.commands import makemessages

IGNORED = ["tests/*", "*/demo/*", "fixtures/*", "calc/*", "build/*", ".venv/*"]


class Command(makemessages.Command):
    """Django's own collector, which also knows `say("…")` and `marked("…")`.

    Needs GNU gettext; running the service does not, because the compiled catalogue is committed.
    """

    xgettext_options = [
        *makemessages.Command.xgettext_options,
        "--keyword=msg",
        # The title of an element of law, in `law.elements`.
        "--keyword=_make:2",
    ]
    # One message stays one line, so that a change of a word is a change of one line.
    msgmerge_options = [*makemessages.Command.msgmerge_options, "--no-wrap"]
    msgattrib_options = [*makemessages.Command.msgattrib_options, "--no-wrap"]

    def handle(self, *args: Any, **options: Any) -> None:
        options["ignore_patterns"] += IGNORED
        options["add_location"] = "file"
        options["no_obsolete"] = True
        super().handle(*args, **options)
