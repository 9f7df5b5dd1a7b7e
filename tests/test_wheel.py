"""A wheel holds all that the service needs, and runs far from the checkout.

The gate installs one beside the lock, as the README says, and runs the demo from it.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PAGES = """
import logbook
from logbook.law.reader import duty_sets
print(logbook.__file__, len(duty_sets()))

from django.core.wsgi import get_wsgi_application
get_wsgi_application()
from django.test import Client
for language in ("en", "es"):
    answer = Client(headers={"Accept-Language": language}).get("/login/", secure=True)
    print(answer.status_code, answer.content.decode())
"""


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the service, installed from a wheel, in its `lib`."""
    folder = tmp_path_factory.mktemp("installed")
    pip = (sys.executable, "-m", "pip", "-q", "--disable-pip-version-check")
    wheel = ("wheel", "--no-deps", "--no-build-isolation", "-w", str(folder), str(ROOT))
    subprocess.run((*pip, *wheel), check=True, cwd=folder)
    (made,) = folder.glob("*.whl")
    install = ("install", "--no-deps", "--no-index", "--target", str(folder / "lib"), str(made))
    subprocess.run((*pip, *install), check=True, cwd=folder)
    return folder


def ran(folder: Path, *command: str) -> str:
    """Return what Python prints in a folder whose `lib` holds the service, in production."""
    done = subprocess.run(
        (sys.executable, *command),
        cwd=folder,
        env={
            **{name: value for name, value in os.environ.items() if name != "DEBUG"},
            "PYTHONPATH": str(folder / "lib"),
            "SECRET_KEY": "a key of this test alone, long enough for the checks of a deployment",
            "ALLOWED_HOSTS": "testserver",
            "DATABASE_URL": "sqlite://:memory:",
        },
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_an_installed_wheel_is_checked_and_shows_its_pages(place: Path) -> None:
    from logbook.law.reader import duty_sets

    assert "no issues" in ran(
        place, "-m", "logbook", "check", "--deploy", "--fail-level", "WARNING"
    )
    ran(place, "-m", "logbook", "collectstatic", "--noinput", "-v0")
    (style,) = (place / ".data/static").glob("book.*.css")
    head, english, spanish = ran(place, "-c", PAGES).split("\n200 ", 2)
    assert head == f"{place}/lib/logbook/__init__.py {len(duty_sets())}"
    assert f'href="/static/{style.name}"' in english
    assert ">Password<" in english
    assert ">Contraseña<" in spanish


def test_what_is_no_module_comes_along(place: Path) -> None:
    """Templates, translations, laws, the schema, the demo's data: whatever the checkout has."""
    kept = {"templates": ROOT / "templates", "fixtures/demo": ROOT / "fixtures/demo"}
    for inside, beside in {**kept, ".": ROOT / "logbook"}.items():
        files = {one.relative_to(beside) for one in beside.rglob("*") if one.is_file()}
        files = {one for one in files if "__pycache__" not in one.parts}
        assert files
        there = place / "lib/logbook" / inside
        assert [one for one in sorted(files) if not (there / one).is_file()] == []
