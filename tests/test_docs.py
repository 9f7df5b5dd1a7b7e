"""What the README and the contributor's guide say is so."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from wsgiref.simple_server import WSGIRequestHandler, make_server

import pytest
from django.core.handlers.wsgi import WSGIHandler
from django.test import Client
from django.urls import Resolver404, resolve

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text()
GUIDE = (ROOT / "DEVELOPERS.md").read_text()
TOP_LEVEL = {
    *("README.md", "DEVELOPERS.md", "manage.py", "pyproject.toml"),
    *("logbook", "calc", "templates", "tests", "fixtures"),
}


def test_the_rate_check_of_the_readme_answers_what_it_promises(client: Client, db: None) -> None:
    body = re.search(r"-d '\s*(\{.*?\})'", README, re.DOTALL)
    assert body
    answer = client.post("/api/v1/rate-check/", json.loads(body[1]), "application/json")
    assert answer.status_code == 200
    result: dict[str, Any] = answer.json()["results"][0]
    # 5940 × 0.40 gal/min / (5.9 mph × 20 in) = 20.14 gal/ac (UF/IFAS WG013), 188.3 L/ha.
    assert result["delivered"] == pytest.approx(188.3, abs=0.1)
    assert result["planned"] == "does not agree"
    assert result["label"] == "cannot be decided at this accuracy"


def fenced(language: str) -> str:
    """Return the code of the README's section on the API in that language."""
    section = README.split("## The API in ten lines")[1].split("\n## ")[0]
    found = re.search(rf"```{language}\n(.*?)```", section, re.DOTALL)
    assert found, language
    return found[1]


class Quiet(WSGIRequestHandler):
    def log_message(self, *args: Any) -> None:
        """Say nothing of each request."""


def served(command: Callable[[str], list[str]]) -> str:
    """Return what a command prints that asks a server of ours; the command gets its address.

    The server answers in this very thread, so that it sees the rows of the test, on either
    database, and all of them are rolled back: frozen tables cannot be flushed.
    """
    with make_server("127.0.0.1", 0, WSGIHandler(), handler_class=Quiet) as server:
        server.timeout = 0.2
        program = subprocess.Popen(
            command(f"http://127.0.0.1:{server.server_port}"),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        until = time.monotonic() + 60
        while program.poll() is None and time.monotonic() < until:
            server.handle_request()
        program.kill()
        out, err = program.communicate()
    assert program.returncode == 0, err
    return out


@pytest.mark.usefixtures("db", "one_connection")
def test_the_curl_example_of_the_readme_runs_as_printed() -> None:
    example = fenced("sh")
    assert "http://127.0.0.1:8000/" in example
    out = served(lambda url: ["sh", "-c", example.replace("http://127.0.0.1:8000", url)])
    # 5940 × 0.40 gal/min / (5.9 mph × 20 in) = 20.14 gal/ac (UF/IFAS WG013), 188.3 L/ha.
    assert json.loads(out)["results"][0]["delivered"] == pytest.approx(188.3, abs=0.1)


@pytest.mark.usefixtures("one_connection")
def test_the_python_example_of_the_readme_runs_as_printed(owner: Any, confirmed: Any) -> None:
    from django.utils import timezone

    from logbook.accounts.tokens import make_token
    from logbook.records.models import ApplicationRecord

    _, secret = make_token(
        actor=owner,
        name="README",
        scopes=["drafts"],
        days=1,
        confirmation=confirmed(owner),
        now=timezone.now(),
    )
    example = fenced("python")
    assert len([line for line in example.splitlines() if line.strip()]) <= 10
    out = served(
        lambda url: [
            sys.executable,
            "-c",
            f"TOKEN, API = {secret!r}, {url + '/api/v1/'!r}\n{example}",
        ]
    )
    assert "missing treated_area" in out
    assert str(ApplicationRecord.objects.get().speed) == "5.9 mph"


@pytest.mark.parametrize(
    "address", sorted(set(re.findall(r"`?(?:GET|POST|PUT) (/api/\S+?)`", README)))
)
def test_every_address_of_the_readme_is_one(address: str) -> None:
    one = address.replace("{id}", "0b6d1a6e-6f0c-4f0e-9d8e-1f1f1f1f1f1f")
    for kind in ("customers", "people"):
        try:
            resolve(one.replace("{kind}", kind))
        except Resolver404:
            pytest.fail(f"README names {address}, which is no address.")


def test_every_path_of_the_guide_is_there() -> None:
    named = re.findall(r"`((?:calc|logbook|tests|templates|fixtures)/[\w./-]*)`", GUIDE)
    assert named
    assert [path for path in named if not (ROOT / path).exists()] == []


def test_the_top_level_is_what_the_brief_fixes() -> None:
    tracked = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    top = {path.split("/")[0] for path in tracked if path and not path.startswith(".")}
    assert top == TOP_LEVEL


def test_every_source_key_is_in_the_list_of_sources() -> None:
    keys = set(re.findall(r"\[([A-Z][A-Z0-9.-]{2,})\]", (ROOT / "calc/SOURCES.md").read_text()))
    keys |= set(
        re.findall(
            r"^\|\s*`?([A-Z][A-Z0-9.-]{2,})`?\s*\|", (ROOT / "calc/SOURCES.md").read_text(), re.M
        )
    )
    cited = {
        key
        for module in (ROOT / "calc").glob("*.py")
        for key in re.findall(r"\[([A-Z][A-Z0-9.]*-[A-Z0-9.-]+)\]", module.read_text())
    }
    assert cited
    assert cited - keys == set()
