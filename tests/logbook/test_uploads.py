"""The process that reads files from strangers: what it cannot do, and what becomes of its end."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.checks.registry import registry
from django.utils.translation import override

from logbook import uploads as confined
from logbook.errors.exceptions import Refused

ROOT = str(Path(__file__).parents[2])

NOSY = """
import os, socket, sys
sys.path.append(sys.argv[1])
from logbook.readers import process, tables

def nosy(raw):
    def tried(deed):
        try:
            return f"done: {deed()}"
        except OSError as refused:
            return type(refused).__name__
    yield tried(lambda: open("/proc/self/environ").read())
    yield tried(lambda: open(raw.decode(), "w"))
    yield tried(lambda: socket.socket())
    yield tried(lambda: os.pipe())
    yield sorted(os.environ)
    yield "django" in sys.modules

tables.read_table = nosy
process.main("table")
"""


def test_it_can_open_no_file_and_no_connection_and_knows_nothing(tmp_path, monkeypatch):
    monkeypatch.setenv("SECRET_KEY", "canary")
    monkeypatch.setattr(
        confined, "command", lambda reader: [sys.executable, "-I", "-c", NOSY, ROOT]
    )
    path = tmp_path / "written"
    *tried, known, django = confined.read_confined("table", str(path).encode())
    assert tried == ["OSError"] * 4
    assert not path.exists()
    assert set(known) == set(confined.ENVIRONMENT)
    assert django is False


def test_gdal_knows_the_drivers_of_kml_and_shapefiles_and_no_other():
    run = (
        "import sys, json; sys.path.append(sys.argv[1]); import logbook.readers.shapes, pyogrio; "
        "print(json.dumps(sorted(pyogrio.list_drivers())))"
    )
    said = subprocess.run(
        [sys.executable, "-I", "-c", run, ROOT],
        capture_output=True,
        check=True,
    ).stdout
    assert json.loads(said) == ["ESRI Shapefile", "LIBKML"]


@pytest.mark.parametrize(
    "does",
    [
        "import os; print('[1, [\"a\"]]', flush=True); os.abort()",
        "raise MemoryError",
        "print('[1, [\"a\"]]')",  # ends well without saying that it came to its end
        "import resource; resource.setrlimit(resource.RLIMIT_CPU, (1, 1))\nwhile True: pass",
        "import time; time.sleep(60)",
    ],
)
def test_a_process_that_breaks_off_gives_a_refusal_and_no_half_file(does, monkeypatch, caplog):
    monkeypatch.setattr(confined, "MAX_SECONDS", 5)
    monkeypatch.setattr(confined, "command", lambda reader: [sys.executable, "-I", "-c", does])
    with pytest.raises(Refused, match="more time or memory"):
        list(confined.read_confined("table", b"name\n"))
    assert "Reading table ended" in caplog.text


def test_a_sentence_of_the_process_cannot_ask_for_more_than_its_values():
    assert confined.refusal_of("%(a)s of %(b)999999999s", {"a": 1234, "b": "x" * 1000}).startswith(
        "1,234 of %(b)"
    )
    assert confined.refusal_of("%(a)s", {"a": "x" * 1000}) == "x" * 300


def test_a_refusal_is_told_in_the_language_of_who_asked():
    with override("es"), pytest.raises(Refused, match="El archivo está vacío"):
        list(confined.read_confined("table", b"\n"))


def test_a_deployment_whose_readers_do_not_start_is_told_so(monkeypatch):
    assert confined.check_readers() == []
    monkeypatch.setattr(confined, "command", lambda reader: [sys.executable, "-c", "1/0"])
    assert [one.id for one in confined.check_readers()] == ["base.E001"] * 4
    assert confined.check_readers in registry.get_checks(include_deployment_checks=True)
