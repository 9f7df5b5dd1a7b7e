"""What every list page has in common: its address, the heads it is sorted by, its files."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.http import FileResponse, HttpRequest, HttpResponseBase, StreamingHttpResponse

from logbook.pagination import AFTER, BEFORE, Page
from logbook.tables.files import Cell, csv_lines, xlsx_file

PLACES = (AFTER, BEFORE, "page", "part")
"""What names a place in a list; it falls away when anything else is asked."""

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def query_with(request: HttpRequest, **changes: str) -> str:
    """Return the query of the page with some of it changed; blank takes it out, and any place in
    the list goes unless it is what changes. Begins with "?".
    """
    query = request.GET.copy()
    for name in (*PLACES, *changes):
        query.pop(name, None)
    for name, value in changes.items():
        if value:
            query[name] = value
    for name in [name for name, value in query.items() if not str(value).strip()]:
        del query[name]
    return f"?{query.urlencode()}"


@dataclass(frozen=True, slots=True)
class Head:
    """The head of a column: its word, the query that sorts by it, how the list is sorted by it."""

    word: str
    query: str = ""
    aria: str = ""  # "ascending", "descending" or ""


def heads(
    request: HttpRequest,
    columns: Iterable[tuple[str, str]],
    *,
    sort: str,
    down_first: Sequence[str],
) -> list[Head]:
    """Return the heads of columns, each a sort's name ("" for none) and its word.

    Args: sort that holds; down_first, the sorts that begin with the highest.
    """
    found = []
    for name, word in columns:
        if not name:
            found.append(Head(word))
        elif sort.removeprefix("-") == name:
            turned = name if sort.startswith("-") else f"-{name}"
            aria = "descending" if sort.startswith("-") else "ascending"
            found.append(Head(word, query_with(request, sort=turned), aria))
        else:
            first = f"-{name}" if name in down_first else name
            found.append(Head(word, query_with(request, sort=first)))
    return found


def pages(request: HttpRequest, page: Page) -> dict[str, str]:
    """Return the queries of the pages before and after a page; "" for none."""
    return {
        "before": query_with(request, before=page.before) if page.before else "",
        "after": query_with(request, after=page.after) if page.after else "",
    }


Table = tuple[Sequence[str], Iterable[Sequence[Cell]]]


def csv_answer(table: Table, *, name: str) -> HttpResponseBase:
    """Return a table as a CSV file, sent as it is read."""
    answer = StreamingHttpResponse(csv_lines(*table), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer


def xlsx_answer(table: Table, *, name: str) -> HttpResponseBase:
    """Return a table as an XLSX file; its pages are zipped, so it is sent when it is whole."""
    content = xlsx_file(*table, name=name)
    return FileResponse(content, as_attachment=True, filename=f"{name}.xlsx", content_type=XLSX)


FILES: Mapping[str, Callable[..., HttpResponseBase]] = {"csv": csv_answer, "xlsx": xlsx_answer}
"""The files of a list, by their ending."""


def error_lines(errors: Mapping[str, Sequence[str]]) -> list[Any]:
    """Return every sentence of a refusal."""
    return [sentence for sentences in errors.values() for sentence in sentences]
