"""Files from strangers, read in a process of their own that has nothing to lose.

The process (`logbook.readers.process`) knows neither settings nor secrets; it has a limit of time,
memory and length of its answer, and can open neither file nor connection.
"""

from __future__ import annotations

import json
import logging
import re
import subprocess
import sys
from base64 import b64decode
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any

from django.core.checks import CheckMessage, Error
from django.utils.translation import gettext as _

from logbook.errors.exceptions import Refused
from logbook.localization.locale import count

log = logging.getLogger(__name__)

MAX_SECONDS = 30
"""On the clock; the process limits its own processor time, to less."""

_RUN = "import sys; sys.path.append(sys.argv[1]); from logbook.readers.process import main; "
_RUN += "main(sys.argv[2])"
_ROOT = str(Path(__file__).resolve().parents[1])


def command(reader: str) -> list[str]:
    """Return the command line of the process that reads standard input."""
    return [sys.executable, "-I", "-c", _RUN, _ROOT, reader]


ENVIRONMENT = {
    "LC_ALL": "C.UTF-8",
    "OPENBLAS_NUM_THREADS": "1",  # each thread takes memory
    "PROJ_NETWORK": "OFF",
    "GDAL_DRIVER_PATH": "disable",
}
"""All that the process knows of its surroundings."""


def read_confined(reader: str, raw: bytes) -> Iterator[Any]:
    """Yield what a reader of `logbook.readers.process` says of the bytes of a file.

    Raises: Refused, saying why it cannot be read, perhaps at the very end.
    """
    with TemporaryFile() as given, TemporaryFile() as answer, TemporaryFile() as errors:
        given.write(raw)
        given.seek(0)
        try:
            ended = subprocess.run(  # noqa: S603  (our own command line)
                command(reader),
                stdin=given,
                stdout=answer,
                stderr=errors,
                cwd="/",
                env=ENVIRONMENT,
                timeout=MAX_SECONDS,
                check=False,
            ).returncode
        except subprocess.TimeoutExpired:
            ended = None
        answer.seek(0)
        line = b""
        for line in answer:
            if line.startswith((b'{"unreadable"', b'{"end"')):
                break
            yield json.loads(line)
        if ended == 0 and line.startswith(b"{"):
            last = json.loads(line)
            if "unreadable" in last:
                raise Refused(refusal_of(last["unreadable"], last["values"]))
            return
        errors.seek(0)
        log.warning("Reading %s ended with %s: %s", reader, ended, errors.read()[-300:])
        raise Refused(
            _("Reading this file takes more time or memory than it may. Split it, or save it anew.")
        )


def refusal_of(sentence: str, values: dict[str, str | int]) -> str:
    """Return a sentence of a reader in the language of this thread."""
    # Not by "%": what comes from a confined process has no say in how much is written.
    return re.sub(
        r"%\((\w+)\)s",
        lambda place: _shown(values.get(place[1], "")),
        _(sentence),
    )


def _shown(value: str | int) -> str:
    return count(value) if isinstance(value, int) else value[:300]


ONE_PIXEL = (
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR4nGNoAAAAggCBd81ytgAAAABJRU5ErkJggg=="
)
"""A grey PNG."""


def check_readers(**_options: Any) -> list[CheckMessage]:
    """Return an error for each reader that cannot read here, within its limits."""
    samples = {
        "table": b"name\n",
        "records": b"{}",
        "shapes": b"<kml><Placemark/></kml>",
        "picture": b64decode(ONE_PIXEL),
    }
    wrong: list[CheckMessage] = []
    for reader, raw in samples.items():
        try:
            list(read_confined(reader, raw))
        except Refused as refusal:
            wrong.append(Error(f"Files cannot be read ({reader}): {refusal}", id="base.E001"))
    return wrong
