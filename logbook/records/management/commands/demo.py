"""`manage.py demo`: one command from nothing to a filled book in the browser."""

from __future__ import annotations

import os
import socket
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from logbook.records.demo import load_demo, logins

HOST = "127.0.0.1"
PORTS_TRIED = 50


class Command(BaseCommand):
    help = "Prepare the database, load the demo season and serve it on this machine. Asks nothing."
    # The database may not stand yet; it is checked once it does.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--port", type=int, default=8000, help="first port tried (default 8000)"
        )
        parser.add_argument("--no-serve", action="store_true", help="load the demo and stop")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEBUG:
            raise CommandError(
                "The demo has logins with known passwords, so it runs only with DEBUG=1 in the "
                "environment. Nothing was changed."
            )
        self._say("Preparing the database …")
        call_command("migrate", verbosity=0)
        load_demo(say=self._say)
        call_command("check", databases=["default"], stdout=self.stdout)
        self._say("\nEverything in the demo is invented. Logins:")
        for login in logins():
            self._say(f"  {login.email:<24} {login.password:<18} {login.role}")
        if not options["no_serve"]:
            self._serve(free_port(options["port"]))

    def _serve(self, port: int) -> None:
        # The address is the last thing to read, not a warning about servers.
        os.environ.setdefault("DJANGO_RUNSERVER_HIDE_WARNING", "true")
        self._say(f"\nOpen http://{HOST}:{port}/ and stop with Ctrl+C.")
        call_command("runserver", f"{HOST}:{port}", use_reloader=False, stdout=self.stdout)

    def _say(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()


def free_port(first: int) -> int:
    """Return the first port from `first` on that nothing listens on.

    Raises: CommandError if none of the next ports is free.
    """
    if not 1 <= first <= 65_535:
        raise CommandError(f"{first} is not a port; allowed are 1 to 65535.")
    for port in range(first, min(first + PORTS_TRIED, 65_536)):
        with socket.socket() as probe:
            # As the server itself does: a port that is only lingering after a stop is free.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((HOST, port))
            except OSError:
                continue
            return port
    raise CommandError(f"No port is free from {first} on; choose another with --port.")
