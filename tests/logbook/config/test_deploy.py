"""The service as it is deployed: what Django's own check of a deployment says, and HSTS."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]
ASK = "from django.conf import settings; print(settings.SECURE_HSTS_PRELOAD)"


@pytest.mark.parametrize(("given", "preload"), [({}, "False"), ({"HSTS_PRELOAD": "1"}, "True")])
def test_preloading_is_asked_for_and_the_check_is_clean_either_way(
    tmp_path: Path, given: dict[str, str], preload: str
) -> None:
    environment = {name: os.environ[name] for name in ("PATH", "HOME") if name in os.environ}
    environment |= given | {
        "SECRET_KEY": "long-and-made-up-for-this-test-0123456789-abcdefghij",
        "ALLOWED_HOSTS": "logbook.example",
        "DATABASE_URL": f"sqlite:///{tmp_path / 'book.sqlite3'}",
    }
    for command in (["check", "--deploy", "--fail-level", "WARNING"], ["shell", "-c", ASK]):
        ended = subprocess.run(
            [sys.executable, str(ROOT / "manage.py"), *command],
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert ended.returncode == 0, ended.stderr
    assert ended.stdout.split()[-1] == preload
