"""What the README and the contributor's guide say is so."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
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
    import subprocess

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
