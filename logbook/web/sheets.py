"""The shelf by the sheet: templates, a look at the file, the deed; boundaries as files."""

from __future__ import annotations

from collections.abc import Generator, Iterator
from contextlib import closing
from typing import Any, cast
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.urls import path, reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.translation import get_language, ngettext, override
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from logbook.accounts.rights import Right
from logbook.catalog.selectors import from_shelf, on_shelf
from logbook.catalog.sheets import jobs, shapes, templates
from logbook.catalog.sheets.kinds import SHEETS, SheetKind
from logbook.errors.exceptions import Refused
from logbook.localization.locale import count, translate_word
from logbook.readers import MAX_BYTES, MAX_SHAPES
from logbook.records.exchange.columns import COLUMNS as RECORD_COLUMNS
from logbook.records.exchange.columns import EXAMPLE as RECORD_EXAMPLE
from logbook.web.viewbase import BookRequest, front_door

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def _kind(slug: str) -> SheetKind:
    if slug not in SHEETS:
        raise Http404(_("There is no such kind of sheet."))
    return SHEETS[slug]


@require_safe
@front_door(Right.SHELF)
def choose(request: BookRequest, kind: str) -> HttpResponse:
    """Show what a sheet of the kind holds, its template, and the way in."""
    found = _kind(kind)
    business = request.actor.business
    return render(
        request,
        "sheets/choose.html",
        {
            "kind": found,
            "columns": found.explained(),
            "most_megabytes": MAX_BYTES // 1_000_000,
            "most_shapes": MAX_SHAPES,
            "has_shapes": found.slug == "fields",
            "customers": on_shelf(business=business, shelf="customers")[:500]
            if found.slug == "fields"
            else [],
            "business": business,
        },
    )


@require_safe
@front_door(Right.SEE)
def template(request: BookRequest, kind: str, ending: str) -> HttpResponse:
    """Hand out the sheet to fill in: its head, and one row marked as an example."""
    if kind == "records":
        rows = [[one.name for one in RECORD_COLUMNS]]
        rows.append([RECORD_EXAMPLE.get(name, "") for name in rows[0]])
    else:
        explained = _kind(kind).explained()
        rows = [[name for name, _m, _e in explained], [example for _n, _m, example in explained]]
    if ending not in ("csv", "xlsx"):
        raise Http404
    content = templates.as_csv(rows) if ending == "csv" else templates.as_xlsx(rows)
    return _download(content, "text/csv" if ending == "csv" else XLSX, f"{kind}-template.{ending}")


def _download(content: bytes, media: str, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type=media)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["Cache-Control"] = "no-store"
    return response


@require_POST
@front_door(Right.SHELF)
def look(request: BookRequest, kind: str) -> HttpResponse:
    """Keep a file and look at it, telling how far it is; nothing of it is written."""
    found = _kind(kind)
    chosen = request.FILES.get("file")
    if chosen is None:
        raise Refused(_("Choose the file first."))
    if (chosen.size or 0) > MAX_BYTES:
        raise Refused(
            _("The file has %(bytes)s bytes; at most %(most)s are read at once. Split it.")
            % {"bytes": count(chosen.size or 0), "most": count(MAX_BYTES)}
        )
    wanted = [*shapes.ATTRIBUTES, *(f"{name}_from" for name in shapes.ATTRIBUTES)]
    file = jobs.keep_file(
        business=request.actor.business,
        user=request.actor.user,
        kind=found.slug,
        name=chosen.name or "file",
        content=chosen.read(),
        options={name: request.POST[name][:200] for name in wanted if request.POST.get(name)},
        now=timezone.now(),
    )
    return _at_work(request, file, jobs.look_at(file=file), _("Looking at %(name)s"))


@require_POST
@front_door(Right.SHELF)
def look_again(request: BookRequest, file_id: UUID) -> HttpResponse:
    """Look at a kept file anew."""
    file = _file(request, file_id)
    return _at_work(request, file, jobs.look_at(file=file), _("Looking at %(name)s"))


@require_POST
@front_door(Right.SHELF)
def write(request: BookRequest, file_id: UUID) -> HttpResponse:
    """Write the file that was looked at, telling how far it is."""
    file = _file(request, file_id)
    change = request.POST.get("change") == "yes"
    return _at_work(request, file, jobs.write(file=file, change=change), _("Writing %(name)s"))


def _file(request: BookRequest, file_id: UUID) -> Any:
    return jobs.kept_file(business=request.actor.business, user=request.actor.user, file_id=file_id)


def _at_work(request: BookRequest, file: Any, work: jobs.Progress, title: str) -> HttpResponse:
    """Return a page that grows while the work goes on, and gives way to the report at its end."""
    target = reverse("sheets-file", args=[file.pk])
    page = render_to_string(
        "sheets/working.html",
        {"title": title % {"name": file.name}, "name": file.name, "target": target},
        request,
    )
    before, after = page.split("<!-- progress -->")

    def lines() -> Generator[str]:
        yield before
        try:
            for done, total in work:
                told = _("%(done)s of %(total)s rows") % {
                    "done": count(done),
                    "total": count(total),
                }
                yield format_html("<li>{}</li>\n", told)
        except Refused as refusal:
            jobs.note_refusal(file=file, why=str(refusal))
            yield format_html("<li>{}</li>\n", str(refusal))
        yield after

    # Compressed, the lines would wait in the compressor until the work is over.
    request.META.pop("HTTP_ACCEPT_ENCODING", None)
    response = StreamingHttpResponse(_spoken_in(get_language(), lines()))
    # HTML's own refresh counts from when the page has come whole: with no script, and not before.
    response["Refresh"] = f"0; url={target}"
    response["Cache-Control"] = "no-store"
    response["X-Accel-Buffering"] = "no"
    # The door speaks of HttpResponse; nobody between here and the client reads its content.
    return cast("HttpResponse", response)


def _spoken_in(language: str | None, steps: Generator[str]) -> Iterator[str]:
    """Yield what each step yields, made in `language`: the page's own ends before its stream."""
    with closing(steps):
        while True:
            with override(language):
                step = next(steps, None)
            if step is None:
                return
            yield step


@require_safe
@front_door(Right.SHELF)
def file_page(request: BookRequest, file_id: UUID) -> HttpResponse:
    """Show what a file comes to, or came to."""
    file = _file(request, file_id)
    report = file.report
    problems = report.get("problems", [])
    bad = bool(problems or report.get("refused"))
    return render(
        request,
        "sheets/file.html",
        {
            "file": file,
            "kind": SHEETS[file.kind],
            "report": report,
            "bad": bad,
            "written": file.state == file.State.WRITTEN,
            "looked": file.state != file.State.CHOSEN,
            "ready": bool(file.digest) and file.state == file.State.LOOKED_AT,
            "useful": report.get("new") or report.get("changing"),
            "bad_rows": ngettext(
                "%(count)s place cannot be taken.",
                "%(count)s places cannot be taken.",
                len(problems) + report.get("further", 0),
            )
            % {"count": len(problems) + report.get("further", 0)},
            "more_differences": report.get("differing", 0) - len(report.get("differences", [])),
        },
    )


@require_safe
@front_door(Right.SEE)
def boundaries(request: BookRequest, ending: str) -> HttpResponse:
    """Hand out the boundaries of one field, of a customer's fields, or of all."""
    if ending not in shapes.FORMATS:
        raise Http404
    business = request.actor.business
    fields: Any = on_shelf(business=business, shelf="fields").prefetch_related(None)
    name = "fields"
    if request.GET.get("field"):
        field = from_shelf(business=business, shelf="fields", row_id=_id(request, "field"))
        fields, name = [field], "field"
    elif request.GET.get("customer"):
        fields = fields.filter(customer_id=_id(request, "customer"))
    content = shapes.write_shapes(fields, ending=ending)
    return _download(content, shapes.FORMATS[ending], f"{name}.{ending}")


def _id(request: HttpRequest, name: str) -> UUID:
    try:
        return UUID(request.GET[name])
    except ValueError:
        raise Refused(
            _("“%(given)s” is no %(name)s of the list.")
            % {"given": request.GET[name][:40], "name": translate_word(name)}
        ) from None


urlpatterns = [
    path("sheets/<str:kind>/", choose, name="sheets"),
    path("sheets/<str:kind>/template.<str:ending>", template, name="sheets-template"),
    path("sheets/<str:kind>/look/", look, name="sheets-look"),
    path("sheets/files/<uuid:file_id>/", file_page, name="sheets-file"),
    path("sheets/files/<uuid:file_id>/look/", look_again, name="sheets-look-again"),
    path("sheets/files/<uuid:file_id>/write/", write, name="sheets-write"),
    path("boundaries.<str:ending>", boundaries, name="boundaries"),
]
