"""A service of two gunicorn workers for a bench, and `wrk` at its door."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
OURS = "logbook.config.wsgi"
BARE = "django.core.wsgi:get_wsgi_application()"


def environment(url: str, **more: str) -> Mapping[str, str]:
    """Return the environment of a service as it is deployed, over the database at `url`."""
    own = {"SECRET_KEY": "of the bench alone" * 4, "ALLOWED_HOSTS": "127.0.0.1", "DEBUG": "0"}
    return os.environ | own | {"DATABASE_URL": url} | more


def ran(*arguments: str, url: str, **more: str) -> list[str]:
    """Run Python in that environment and return the words that it printed."""
    answer = subprocess.run(
        [sys.executable, *arguments],
        env=environment(url, **more),
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    )
    return answer.stdout.split()


@contextmanager
def serving(settings: str, *, url: str, static: Path, application: str = OURS) -> Iterator[str]:
    """Serve with two workers; yield the address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = subprocess.Popen(
        [
            *(sys.executable, "-m", "gunicorn", "-w", "2", "-b", f"127.0.0.1:{port}"),
            *("--log-level", "error", application),
        ],
        env=environment(url, STATIC_ROOT=str(static), DJANGO_SETTINGS_MODULE=settings),
        cwd=ROOT,
    )
    try:
        for _ in range(200):
            try:
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
                break
            except OSError:
                time.sleep(0.2)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(timeout=20)


def requests_a_second(address: str, *more: str, seconds: int = 4) -> float:
    """Return the requests a second that wrk gets answered at an address."""
    command = ["wrk", "-t1", "-c4", f"-d{seconds}s", *more, address]
    told = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    assert "Non-2xx" not in told, told
    found = re.search(r"Requests/sec:\s*([\d.]+)", told)
    assert found, told
    return float(found[1])
