"""The process that reads one file: its bytes on standard input, lines of JSON on standard output.

A file may turn the library that reads it against us, so the process gives up beforehand what it
does not need: with no file descriptor left to open there is no other file, no database and no
network, whatever a library is told to do. The last line says that it came to its end.
"""

from __future__ import annotations

import json
import resource
import sys
from importlib import import_module
from typing import Any

from logbook.readers import Unreadable

MEGABYTE = 1_000_000
MAX_SECONDS = 10  # of processor time

READERS = {
    "table": ("tables", "read_table", 400 * MEGABYTE),
    "records": ("tables", "read_records", 400 * MEGABYTE),
    "shapes": ("shapes", "read_shapes", 600 * MEGABYTE),
    "picture": ("pictures", "read_picture", 600 * MEGABYTE),
}
"""By name: module, function, and the addresses that it may take; GDAL alone takes 220 MB."""


def main(name: str) -> None:
    """Read standard input with one of `READERS`."""
    module, function, memory = READERS[name]
    limit(resource.RLIMIT_CPU, MAX_SECONDS)
    limit(resource.RLIMIT_FSIZE, 200 * MEGABYTE)
    limit(resource.RLIMIT_CORE, 0)
    if sys.platform != "darwin":  # which knows no such limit
        limit(resource.RLIMIT_AS, memory)
    # All that is imported has to be imported now.
    read = getattr(import_module(f"logbook.readers.{module}"), function)
    answer = open(1, "w", encoding="utf-8", errors="surrogatepass", closefd=False)  # noqa: SIM115
    limit(resource.RLIMIT_NPROC, 0)
    limit(resource.RLIMIT_NOFILE, 0)
    last: dict[str, Any] = {"end": True}
    try:
        for value in read(sys.stdin.buffer.read()):
            print(json.dumps(value, ensure_ascii=False), file=answer)
    except Unreadable as bad:
        last = bad.as_json()
    print(json.dumps(last), file=answer, flush=True)


def limit(what: int, most: int) -> None:
    """Set a limit of this process that it cannot raise again."""
    resource.setrlimit(what, (most, most))
