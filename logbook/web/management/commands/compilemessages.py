"""Compiles the catalogues; what it writes is committed, so that running needs no gettext."""

from __future__ import annotations

from django.core.management.commands import compilemessages


class Command(compilemessages.Command):
    """Django's own compiler without `--check-format`.

    That takes the per cent of a sentence for a place of the old kind; the places of both kinds are
    compared by tests/logbook/test_catalogue.py.
    """

    program_options: list[str] = []
