"""Faults of what the service stands on (disk, database, cache): told to who asked, in one place.

Nothing else catches them. `FaultMiddleware` answers with a page, a line for the open form or
problem details (RFC 9457), and the log of the operator gets one line with the cause. What
`fault_of` does not know is a fault of ours, and stays the 500 that it is.
"""

from __future__ import annotations

import errno
import logging
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.core.signals import got_request_exception
from django.db import Error, InterfaceError, OperationalError, connection, transaction
from django.dispatch import receiver
from django.http import (
    FileResponse,
    HttpRequest,
    HttpResponse,
    HttpResponseBase,
    JsonResponse,
    StreamingHttpResponse,
)
from django.template.loader import render_to_string
from django.utils import translation
from django.utils.html import format_html
from django.utils.log import log_response
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.localization.locale import API, COOKIE, PLAIN, READINGS, negotiated

logger = logging.getLogger(__name__)

SAFE = ("GET", "HEAD", "OPTIONS")
PROBLEM = "application/problem+json"
BROKEN_OFF = (
    '<p class="message message-error" role="alert"><span aria-hidden="true">■</span> {}</p>'
)


@dataclass(frozen=True)
class Fault:
    """What is wrong, and what to do about it, for somebody who only wanted a page."""

    title: Any
    advice: Any
    retry_after: int | None = None  # seconds; None where it does not pass by itself


FULL = Fault(
    gettext_lazy("The disk of the service is full."),
    gettext_lazy(
        "Whoever runs the service has to make room on it; until then members can only read, and "
        "nothing is shown to anybody from outside."
    ),
)
READ_ONLY = Fault(
    gettext_lazy("The service cannot write: its database is read-only."),
    gettext_lazy(
        "Whoever runs the service has to change that; until then members can only read, and "
        "nothing is shown to anybody from outside."
    ),
)
BUSY = Fault(
    gettext_lazy("The database is busy with other work."),
    gettext_lazy("Wait some seconds, then try again."),
    10,
)
GONE = Fault(
    gettext_lazy("The database does not answer."),
    gettext_lazy("Wait half a minute, then try again. If it lasts, tell whoever runs the service."),
    30,
)
BROKEN = Fault(
    gettext_lazy("The database cannot be read or written as it stands."),
    gettext_lazy("Tell whoever runs the service; its log names the cause."),
)
CACHE = Fault(
    gettext_lazy("The cache in which requests are counted does not answer."),
    gettext_lazy("Wait half a minute, then try again. If it lasts, tell whoever runs the service."),
    30,
)

# Result codes of SQLite, https://www.sqlite.org/rescode.html: the code, or its lowest byte.
_SQLITE = {
    sqlite3.SQLITE_IOERR_SHMSIZE: FULL,
    sqlite3.SQLITE_FULL: FULL,
    sqlite3.SQLITE_READONLY: READ_ONLY,
    sqlite3.SQLITE_BUSY: BUSY,
    sqlite3.SQLITE_LOCKED: BUSY,
    sqlite3.SQLITE_CANTOPEN: GONE,
    sqlite3.SQLITE_IOERR: BROKEN,
    sqlite3.SQLITE_CORRUPT: BROKEN,
    sqlite3.SQLITE_NOTADB: BROKEN,
}
# SQLSTATE, PostgreSQL manual, appendix A "PostgreSQL Error Codes": the code, or its class.
_SQLSTATE = {
    "53100": FULL,
    "25006": READ_ONLY,
    "40001": BUSY,
    "40P01": BUSY,
    "55P03": BUSY,
    "57014": BUSY,
    "53": BUSY,
    "08": GONE,
    "57": GONE,
    "58": BROKEN,
    "XX": BROKEN,
    "42P01": BROKEN,
}
_ERRNO = {
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
    errno.EROFS: READ_ONLY,
}


def fault_of(error: BaseException | None) -> Fault | None:
    """Return which fault an exception tells of; None for every other exception."""
    if isinstance(error, Error):
        cause = error.__cause__
        if isinstance(cause, sqlite3.Error):
            if "no such table" in str(cause):
                return BROKEN
            code = getattr(cause, "sqlite_errorcode", 0)
            return _SQLITE.get(code) or _SQLITE.get(code & 0xFF)
        state = getattr(cause, "sqlstate", None)
        if state:
            return _SQLSTATE.get(state) or _SQLSTATE.get(state[:2])
        # A server that is not there, or whose line broke, sends no code.
        return GONE if isinstance(error, (OperationalError, InterfaceError)) else None
    if isinstance(error, OSError):
        return _ERRNO.get(error.errno or 0)
    # The client of Redis is installed only where one is used.
    return CACHE if type(error).__module__.startswith("redis.") else None


def by_the_way(write: Callable[[], object]) -> bool:
    """Return whether `write` was done: what a page that is only read writes down on its way.

    Where a fault keeps it from being written, nothing of it is, and the page is shown all the same.
    Never for what must be written down before somebody sees the page.
    """
    try:
        with _without_waiting(), transaction.atomic():
            write()
    except Exception as error:
        fault = fault_of(error)
        if fault is None:
            raise
        logger.warning("Left out while reading: %s", _cause(fault, error))
        return False
    return True


@contextmanager
def _without_waiting() -> Iterator[None]:
    """Let SQLite wait a quarter of a second for whoever writes, not as long as a form would."""
    if connection.vendor != "sqlite":
        yield
        return
    connection.ensure_connection()
    raw = connection.connection
    (before,) = raw.execute("PRAGMA busy_timeout").fetchone()
    raw.execute("PRAGMA busy_timeout = 250")
    try:
        yield
    finally:
        raw.execute(f"PRAGMA busy_timeout = {int(before)}")


@receiver(got_request_exception)
def _note(*, request: Any = None, **_kwargs: Any) -> None:
    """Keep on the request the first fault that ended a view or a middleware."""
    error = sys.exc_info()[1]
    fault = fault_of(error)
    if fault and request is not None and not hasattr(request, "fault"):
        request.fault = (fault, error)


class FaultMiddleware:
    """Answers where a fault ended the request: also with DEBUG, and if it was in a middleware.

    It stands outside of all that asks the database. Django has made its 500 by then, so that the
    session was not saved; this replaces it.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        written = _Written()
        with connection.execute_wrapper(written):
            response = self.get_response(request)
        if hasattr(request, "fault"):
            fault, error = request.fault
            response = _answer(request, fault, written)
            _log(request, fault, error, response)
        elif isinstance(response, StreamingHttpResponse) and not isinstance(response, FileResponse):
            response.streaming_content = _watched(request, response, response.streaming_content)
        return response


class _Written:
    """Sees what is written while a request is answered, to say truly what a fault left of it."""

    something = False
    for_good = False  # committed

    def __call__(self, execute: Any, sql: Any, params: Any, many: bool, context: Any) -> Any:
        done = execute(sql, params, many, context)
        if str(sql).startswith(("INSERT", "UPDATE", "DELETE")):
            self.something = True
            context["connection"].on_commit(self._commit)  # at once where no transaction is open
        return done

    def _commit(self) -> None:
        self.for_good = True

    def in_doubt(self, fault: Fault) -> bool:
        """Return whether something may stand; a commit that a lost line cut off may have worked."""
        return self.for_good or (self.something and fault is GONE)


def _answer(request: HttpRequest, fault: Fault, written: _Written) -> HttpResponse:
    """Return the 503 for a page, for the form that saves by itself, or for a program.

    It asks the database nothing: neither who is logged in nor for whom they act.
    """
    language = _language(request)
    response: HttpResponse
    with translation.override(language):
        left = ""
        if request.method not in SAFE:
            left = _("Nothing was saved.")
            if written.in_doubt(fault):
                left = _("All or part of it may have been saved: look before you send it again.")
        said = " ".join(filter(None, (str(fault.title), left, str(fault.advice))))
        if request.path_info.startswith(API):
            detail = said.removeprefix(str(fault.title)).strip()
            body = {"type": "about:blank", "title": str(fault.title), "status": 503}
            response = JsonResponse({**body, "detail": detail}, content_type=PROBLEM)
        elif request.headers.get("HX-Request"):
            response = HttpResponse(said, content_type="text/plain; charset=utf-8")
        else:
            again = request.get_full_path() if request.method in SAFE else ""
            context = {"fault": fault, "left": left, "again": again}
            response = HttpResponse(render_to_string("503.html", context))
    response.status_code = 503
    if fault.retry_after:
        response["Retry-After"] = str(fault.retry_after)
    response["Cache-Control"] = "no-store"
    response["Content-Language"] = language
    return response


def _watched(request: HttpRequest, response: StreamingHttpResponse, pieces: Any) -> Iterator[bytes]:
    """Yield what is streamed. Where a fault ends it, say so in it and break off the connection.

    Broken off, the answer is incomplete for HTTP too (RFC 9112, 8), so that no program takes the
    part for the whole. JSON has no place for a remark.
    """
    try:
        yield from pieces
    except Exception as error:
        fault = fault_of(error)
        if fault is None:
            raise
        _log(request, fault, error, response)
        kind = response.get("Content-Type", "").partition(";")[0]
        if kind == "text/html":
            with translation.override(_language(request)):
                said = " ".join((str(fault.title), _("This was not finished."), str(fault.advice)))
            yield format_html(BROKEN_OFF, said).encode()
        elif kind == "text/csv":
            with translation.override(PLAIN):
                yield f'\r\n"NOT COMPLETE. {fault.title} Take the file out again."\r\n'.encode()
        # Servers take this one for a connection that is over, and add no trace to the line above.
        raise ConnectionResetError(errno.ECONNRESET, "broken off by a fault") from None


def _language(request: HttpRequest) -> str:
    """Return the language of the request, also where the person could not be asked for."""
    known = getattr(request, "LANGUAGE_CODE", "")
    if not known and not request.path_info.startswith(API):
        known = request.COOKIES.get(COOKIE, "")
    return known if known in READINGS else negotiated(request.headers.get("Accept-Language", ""))


def _log(request: HttpRequest, fault: Fault, error: Exception, response: Any) -> None:
    """Write the one line. It names the pattern of the address: the address may hold a secret."""
    match = request.resolver_match
    log_response(
        "%s: %s",
        f"{request.method} {match.route if match else ''}".strip(),
        _cause(fault, error),
        response=response,
        request=request,
        logger=logger,
        level="error",
    )


def _cause(fault: Fault, error: BaseException) -> str:
    """Return the fault and what the driver said, in one line and in plain English."""
    with translation.override(PLAIN):
        return f"{fault.title} {type(error).__name__}: {str(error).partition(chr(10))[0]}"
