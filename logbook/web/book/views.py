"""Pages of one record: its form with the live re-check, sign, amend, print."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import replace
from enum import StrEnum
from functools import partial
from types import MappingProxyType
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from logbook.accounts import passkeys
from logbook.accounts.rights import Right
from logbook.accounts.services import Confirmation, confirm_password
from logbook.checks.assessment import Assessment
from logbook.checks.core import Report, Severity
from logbook.documents.papers import corrections
from logbook.documents.record import render_record
from logbook.errors.exceptions import Conflict, NotAllowed, Refused, RefusedInput
from logbook.facts.quantity import BadAnswer, parse_answer
from logbook.facts.record import Snapshot
from logbook.forms.area import WORK_OUT, AreaForm
from logbook.localization.locale import localized
from logbook.records.reading import deadlines, selectors
from logbook.records.reading.audit import open_among
from logbook.records.reading.examine import Examination, examine, standing
from logbook.records.sealing.law import as_sealed
from logbook.records.sealing.sealed import read_seal
from logbook.records.writing.amend import AlreadyBegun, begin_amendment
from logbook.records.writing.discard import bring_back, may_set_aside, set_aside
from logbook.records.writing.draft import Closed, begin_draft, why_closed
from logbook.records.writing.draftforms import DraftForms, uint
from logbook.records.writing.explain import keep_explanations, taken_over
from logbook.records.writing.forms import to_state
from logbook.records.writing.prefill import begin_like, prefill, take_plan
from logbook.records.writing.sign import fingerprint, hindrance, pending_changes, sign
from logbook.sections.document import Margin
from logbook.sections.lines import document, unsaid
from logbook.web import present
from logbook.web.book import drawings
from logbook.web.book.formview import FormView, Typed
from logbook.web.duties import present as duties
from logbook.web.viewbase import BookRequest, front_door


def new_record_id() -> uuid.UUID:
    """Return the id that a page gives its "new record" button."""
    return uuid.uuid4()


def uuid_or_none(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


@require_POST
@front_door(Right.DRAFT)
def new(request: BookRequest) -> HttpResponse:
    """Begin a draft under the id that the page brought: a double click begins one."""
    record_id = uuid_or_none(request.POST.get("id", "")) or uuid.uuid4()
    with transaction.atomic():
        if begin_draft(actor=request.actor, record_id=record_id).revision == 1:
            prefill(actor=request.actor, record_id=record_id, now=timezone.now())
            _take_choice(request, record_id)
    return redirect("record-edit", record_id)


def _take_choice(request: BookRequest, record_id: uuid.UUID) -> None:
    """Take a choice of the plan over into the draft, or say why it was not."""
    chosen = {name: request.POST.get(name, "") for name in ("nozzle_set", "label")}
    if not chosen["nozzle_set"]:
        return
    carrier = request.POST.get("planned_carrier", "")
    try:
        take_plan(
            actor=request.actor,
            record_id=record_id,
            planned_carrier=parse_answer(carrier, dimensions=("volume_rate",)) if carrier else None,
            **chosen,
        )
    except (BadAnswer, RefusedInput) as refusal:
        messages.error(
            request,
            _("The choice was not taken: %(why)s")
            % {"why": localized(refusal) if isinstance(refusal, BadAnswer) else refusal},
        )


@require_POST
@front_door(Right.DRAFT)
def like(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """Begin a draft with the field, products, nozzles and people of this record."""
    draft = begin_like(
        actor=request.actor,
        record_id=record_id,
        new_id=uuid_or_none(request.POST.get("id", "")) or uuid.uuid4(),
        now=timezone.now(),
    )
    return redirect("record-edit", draft.id)


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.DRAFT)
def aside(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """Say why a draft is set aside, and do it."""
    row = selectors.existing(actor=request.actor, record_id=record_id)
    reason = request.POST.get("reason", "")
    if row.signed_at and reason:
        typed = [(_("Why it is set aside"), reason)]
        return given_back(request, row, why_closed(row), [("", typed)])
    if row.signed_at or row.set_aside_at:
        return redirect("record", record_id)
    if not may_set_aside(request.actor, row):
        raise NotAllowed(
            _("This draft was begun by somebody else; ask its writer, the office or the owner.")
        )
    errors: dict[str, list[str]] = {}
    if request.method == "POST":
        try:
            set_aside(
                actor=request.actor,
                record_id=record_id,
                reason=reason,
                now=timezone.now(),
            )
        except RefusedInput as refusal:
            errors = refusal.errors
        else:
            messages.success(request, _("The draft is set aside. It can be brought back."))
            return redirect("record", record_id)
    context = {"record": row, "errors": errors, "typed": request.POST}
    return render(request, "book/aside.html", context, status=422 if errors else 200)


@require_POST
@front_door(Right.DRAFT)
def back(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """Bring a draft back that was set aside."""
    bring_back(actor=request.actor, record_id=record_id, now=timezone.now())
    return redirect("record-edit", record_id)


@require_safe
@front_door(Right.READ)
def record(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """One record: a draft as it stands, or a signed one as it was sealed."""
    row = selectors.existing(actor=request.actor, record_id=record_id)
    context: dict[str, Any] = {"record": row}
    law = None
    if row.signed_at:
        seal = selectors.seal_of(actor=request.actor, record_id=record_id)
        sealed = read_seal(seal)
        law = as_sealed(sealed)
        report = Report(findings=sealed.findings, runs=sealed.runs)
        context |= {
            "sealed": sealed,
            "sealed_at": present.local(sealed.sealed_at, sealed.snapshot),
            "amended_by": (later := selectors.amendments_of(seal=seal)),
            "open_ids": open_among(
                actor=request.actor,
                record_ids=[*(one.record_id for one in later), *filter(None, [row.amends_id])],
            ),
            **_looked(sealed.snapshot, report, sealed.assessment, sealed.explanations),
            "sketch": drawings.sketch(sealed.snapshot),
        }
    else:
        seen = examine(actor=request.actor, record_id=record_id)
        context |= _of_draft(seen)
        # Of a draft alone: what was near when a record was signed is not among its facts.
        context |= drawings.map_of_draft(seen.snapshot, business=request.actor.business)
    found, entries = deadlines.of_record(record=row, snapshot=context["facts"])
    context |= duties.of_record(context["facts"], found, entries, timezone.now(), law)
    context["resume_id"] = new_record_id()
    context["like_id"] = new_record_id()
    context["may_set_aside"] = may_set_aside(request.actor, row)
    context["set_asides"] = [] if row.signed_at else row.set_asides.select_related("by", "back_by")
    return render(request, "book/record.html", context)


def _looked(
    snapshot: Snapshot,
    report: Report,
    assessment: Assessment,
    explanations: Mapping[str, str] = MappingProxyType({}),
) -> dict[str, Any]:
    shown = document(snapshot, assessment, findings=report.findings, runs=report.runs)
    return {
        "facts": snapshot,
        "shown": shown,
        "findings": present.noted(report.findings, explanations),
        "to_fill": [],
        "runs": report.runs,
        "assessment": assessment,
        "strips": drawings.strips(assessment, snapshot.business),
        "window": drawings.window(snapshot, assessment),
    }


def _of_draft(seen: Examination) -> dict[str, Any]:
    """Return what the checks say of a draft: what is blank stands apart and bears no marks."""
    looked = _looked(seen.snapshot, _without_blanks(seen.report), seen.assessment)
    _found, blank = present.parted(present.noted(seen.report.findings, {}))
    return looked | {"to_fill": blank}


def _without_blanks(report: Report) -> Report:
    found = tuple(one for one in report.findings if one.severity is not Severity.MISSING)
    return replace(report, findings=found)


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.DRAFT)
def edit(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """The form of a draft. Without JavaScript its buttons save, check and add rows all the same."""
    actor = request.actor
    row = selectors.of_the_form(actor=actor, record_id=record_id)
    why = why_closed(row)
    if why and request.method != "POST":
        messages.error(request, why)
        return redirect("record", record_id)
    if request.method != "POST":
        seen = examine(actor=actor, record_id=record_id)
        forms = DraftForms(actor=actor, record=row, snapshot=seen.snapshot)
        return _form_page(request, forms, seen)
    add = request.POST.get("add", "")
    before = row.field_id, row.rig_id
    forms = DraftForms(actor=actor, record=row, data=request.POST, add=add)
    saved = Saved.CLOSED if why else _save(request, forms, part=False)
    if saved is Saved.CLOSED:
        # Signed or set aside in another window, perhaps only just now.
        row = selectors.existing(actor=actor, record_id=record_id)
        typed = FormView(forms, Margin((), ())).written()
        return given_back(request, row, why_closed(row), typed)
    if _took_over(request, forms, saved, before) and add:
        # What was taken over stands in no input that was sent.
        fresh = selectors.of_the_form(actor=actor, record_id=record_id)
        seen = examine(actor=actor, record_id=record_id)
        forms = DraftForms(actor=actor, record=fresh, snapshot=seen.snapshot, add=add)
        return _form_page(request, forms, seen)
    if "add" in request.POST or saved is not Saved.ALL:
        status = 200 if saved is Saved.ALL or "add" in request.POST else 422
        return _form_page(request, forms, examine(actor=actor, record_id=record_id), status=status)
    if place := forms.asks_which_hour():
        messages.warning(
            request,
            _("The clocks went back: say of the reading in that hour which of the two it was."),
        )
        return redirect(f"{resolve_url('record-edit', record_id)}#{place}")
    if request.POST.get("then") in ("sign", "wind", "pictures"):
        return redirect(f"record-{request.POST['then']}", record_id)
    return redirect("record-edit", record_id)


@require_POST
@front_door(Right.DRAFT)
def check(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """Save the draft as it stands in the window and answer with what the checks say of it."""
    row = selectors.of_the_form(actor=request.actor, record_id=record_id)
    before = _what_choices_hang_on(row)
    forms = DraftForms(actor=request.actor, record=row, data=request.POST)
    saved = _save(request, forms, part=True)
    taken = _took_over(request, forms, saved, before[:2])
    seen = examine(actor=request.actor, record_id=record_id)
    asked = set(to_state(seen.snapshot)) - set(forms.record_form.statements)
    which_hour = saved is Saved.ALL and forms.asks_which_hour() != ""
    moved = asked or _what_choices_hang_on(seen.record) != before
    if saved in (Saved.ALL, Saved.PART) and (moved or taken or which_hour):
        # Another field has other crops and other law, another rig other loads, another product its
        # own amounts.
        forms = DraftForms(actor=request.actor, record=seen.record, snapshot=seen.snapshot)
        return render(
            request,
            "book/_checked.html",
            _form_context(request, forms, seen)
            | {
                "saved": saved,
                "redraw": {
                    *(("where", "loads", "when", "asked") if moved or taken else ()),
                    *(("with",) if taken else ()),
                    *(("weather",) if which_hour else ()),
                },
            },
        )
    return render(
        request,
        "book/_checked.html",
        _form_context(request, forms, seen)
        | {"saved": saved, "redraw_map": _other_wind(request, seen.snapshot)},
    )


def _other_wind(request: BookRequest, snapshot: Snapshot) -> bool:
    """Return whether the map in the window shows another wind than the readings say now."""
    shown = request.POST.get("wind_drawn")
    return shown is not None and shown != drawings.wind_drawn(snapshot)


def _took_over(
    request: BookRequest, forms: DraftForms, saved: Saved, before: tuple[Any, Any]
) -> bool:
    """Return whether another field or rig was chosen and brought what stood there the last time."""
    record = forms.record
    if saved is not Saved.ALL or (record.field_id, record.rig_id) == before:
        return False
    return prefill(actor=request.actor, record_id=record.pk, now=timezone.now())


def _what_choices_hang_on(record: Any) -> tuple[Any, ...]:
    products = sorted(str(line.product_id) for line in record.products.all())
    return record.field_id, record.rig_id, products


class Saved(StrEnum):
    """What became of a form."""

    ALL = "all"
    PART = "part"
    NOTHING = "nothing"
    CONFLICT = "conflict"
    CLOSED = "closed"

    @property
    def words(self) -> str:
        """The status line."""
        return {
            Saved.ALL: _("Saved."),
            Saved.PART: _("Saved, but for what is marked: that cannot be read."),
            Saved.NOTHING: _("Not saved: what is marked cannot be read."),
            Saved.CONFLICT: _("Not saved: this draft was changed elsewhere."),
            Saved.CLOSED: _("Not saved: this record was signed or set aside elsewhere."),
        }[self]


def _save(request: BookRequest, forms: DraftForms, *, part: bool) -> Saved:
    """Save what was typed; whatever is refused stands beside its input.

    Args: part: save what can be taken although some cannot, as the page does while a person types.
    """
    readable = forms.is_valid()
    revision = forms.record_form.cleaned_data.get("revision")
    if revision is None or not (readable or part):
        if revision is None:
            forms.record_form.add_error(None, _("The page lost its place; load it again."))
        return Saved.NOTHING
    data = forms.data_for_service()
    try:
        try:
            forms.save(actor=request.actor, revision=revision, data=data)
        except RefusedInput as refusal:
            forms.add_errors(refusal.errors)
            readable = False
            refused = {path.split(".")[0] for path in refusal.errors}
            if not part or not refused & data.keys():
                return Saved.NOTHING
            rest = {name: value for name, value in data.items() if name not in refused}
            forms.save(actor=request.actor, revision=revision, data=rest)
    except RefusedInput as refusal:
        forms.add_errors(refusal.errors)
        return Saved.NOTHING
    except Conflict as refusal:
        forms.record_form.add_error(None, str(refusal))
        return Saved.CONFLICT
    except Closed as refusal:
        forms.record_form.add_error(None, str(refusal))
        return Saved.CLOSED
    return Saved.ALL if readable else Saved.PART


def given_back(request: BookRequest, row: Any, why: str, typed: list[Typed]) -> HttpResponse:
    """Say why nothing is written into a record any more, with what was typed for it."""
    context = {
        "record": row,
        "why": why,
        "parts": typed,
        "may_set_aside": may_set_aside(request.actor, row),
    }
    return render(request, "book/given_back.html", context, status=409)


def _form_page(
    request: BookRequest, forms: DraftForms, seen: Examination, status: int = 200
) -> HttpResponse:
    typed = request.POST if request.POST.get("add") == WORK_OUT else None
    area = AreaForm(typed, system=request.actor.user.unit_system)
    context = _form_context(request, forms, seen) | {"area": area}
    return render(request, "book/edit.html", context, status=status)


def _form_context(request: BookRequest, forms: DraftForms, seen: Examination) -> dict[str, Any]:
    found, blank = _without_blanks(seen.report).findings, unsaid(seen.snapshot)
    view = FormView(forms, Margin(found, seen.report.runs, unsaid=blank))
    findings, to_fill = present.parted(view.addressed(seen.report.findings))
    return {
        **_looked(seen.snapshot, seen.report, seen.assessment),
        "record": seen.record,
        # After a conflict the window keeps its own revision: it may not write over what it has not
        # seen, however often it tries.
        "revision": forms.revision_shown(seen.record),
        "form": view,
        "findings": findings,
        "to_fill": to_fill,
        "tally": present.tally(found),
        "may_set_aside": may_set_aside(request.actor, seen.record),
        "before_work": duties.before_work(seen.record, seen.snapshot, timezone.now()),
        # Drawn when the template asks, with the section it stands in.
        "field_map": partial(drawings.map_of_draft, seen.snapshot, business=request.actor.business),
        "wind_drawn": partial(drawings.wind_drawn, seen.snapshot),
    }


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.SIGN)
def sign_record(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """Read everything once more, explain what has to be explained, prove who you are, sign."""
    seen = examine(actor=request.actor, record_id=record_id)
    if request.method == "POST" and (why := why_closed(seen.record)):
        if lost := _explained_in_vain(request, seen):
            return given_back(request, seen.record, why, [("", lost)])
        return redirect("record", record_id)
    if seen.record.signed_at:
        return redirect("record", record_id)
    offered = standing(seen)
    typed = {key: one.text for key, one in offered.items()}
    typed |= {row.finding: row.text for row in seen.record.explanations.all()}
    errors: dict[str, list[str]] = {}
    if request.method == "POST":
        typed = {
            finding.key: request.POST.get(f"explain:{finding.key}", "")
            for finding in seen.report.findings
        }
        # Whatever comes of it, what was said about the findings is not to be typed again.
        stands = keep_explanations(
            actor=request.actor,
            record_id=record_id,
            explanations=typed,
            seen=request.POST.getlist("explained"),
        )
        if request.POST.get("then") == "back":
            return redirect("record-edit", record_id)
        unread = [key for key, text in stands.items() if text and not typed[key].strip()]
        typed = stands
        try:
            if unread:
                raise Refused(
                    _(
                        "Not signed: somebody else explained a finding after this page was opened."
                        " Read it below, then sign."
                    )
                )
            seal = sign(
                actor=request.actor,
                record_id=record_id,
                revision=uint(request.POST.get("revision")) or 0,
                shown=request.POST.get("shown", ""),
                explanations=typed,
                carried_confirmed="carried_confirmed" in request.POST,
                confirmation=_confirmed(request, record_id),
                now=timezone.now(),
            )
        except RefusedInput as refusal:
            errors = refusal.errors
        except Refused as refusal:
            errors = {"record": [str(refusal)]}
        else:
            messages.success(
                request, _("Signed and sealed as no. %(number)s.") % {"number": seal.number}
            )
            return redirect("record", record_id)
    earlier = taken_over(seen, typed)
    rows = [
        present.Explained(
            mark=present.Mark(kind=f.mark),
            finding=f,
            text=typed.get(f.key, ""),
            refused=errors.get(f.key, []),
            earlier=earlier.get(f.key),
            standing=one if (one := offered.get(f.key)) and one.text == typed.get(f.key) else None,
        )
        for f in seen.report.findings
    ]
    found, blank = present.parted(rows)
    context = {
        **_looked(seen.snapshot, seen.report, seen.assessment),
        "sketch": drawings.sketch(seen.snapshot),
        "record": seen.record,
        "rows": found,
        "blanks": blank,
        # A text that was taken over is not signed unread.
        "errors": errors,
        "lacking": sum(bool(row.refused) for row in rows),
        "hindrance": hindrance(seen, timezone.now()),
        "shown": fingerprint(seen),
        "changes": pending_changes(seen),
        "carried": present.carried_over(seen.record.carried),
        "carried_ticked": "carried_confirmed" in request.POST,
        "has_passkey": passkeys.passkeys(request.actor.user).exists(),
    }
    return render(request, "book/sign.html", context, status=422 if errors else 200)


def _confirmed(request: BookRequest, record_id: uuid.UUID) -> Confirmation:
    """Return the proof of who signs, by the passkey if the page brought one, else the password.

    Raises: RefusedInput naming the passkey or the password.
    """
    user, answer = request.actor.user, request.POST.get("passkey", "")
    if answer:
        purpose = passkeys.signing(record_id)
        return passkeys.confirm_passkey(request, user=user, purpose=purpose, answer=answer)
    return confirm_password(request, user=user, password=request.POST.get("password", ""))


@require_POST
@front_door(Right.SIGN)
def sign_passkey(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """Return what the device needs to sign this record with a passkey."""
    selectors.existing(actor=request.actor, record_id=record_id)
    purpose = passkeys.signing(record_id)
    return JsonResponse(passkeys.ask(request, user=request.actor.user, purpose=purpose))


def _explained_in_vain(request: BookRequest, seen: Examination) -> list[tuple[str, str]]:
    """Return what was said about findings and stands nowhere: of a double click, nothing."""
    kept = {row.finding: row.text for row in seen.record.explanations.all()}
    sentences = {finding.key: localized(finding.sentence) for finding in seen.report.findings}
    sent = {
        name.removeprefix("explain:"): str(text).strip()
        for name, text in request.POST.items()
        if name.startswith("explain:")
    }
    return [
        (sentences.get(key, key), text)
        for key, text in sent.items()
        if text and text != kept.get(key)
    ]


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.AMEND)
def amend(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """Say what is wrong in a sealed record and begin the draft that corrects it."""
    seal = selectors.seal_of(actor=request.actor, record_id=record_id)
    errors: dict[str, list[str]] = {}
    if request.method == "POST":
        try:
            draft = begin_amendment(
                actor=request.actor,
                record_id=record_id,
                new_id=uuid_or_none(request.POST.get("id", "")) or uuid.uuid4(),
                reason=request.POST.get("reason", ""),
            )
        except RefusedInput as refusal:
            errors = refusal.errors
        except AlreadyBegun as refusal:
            yours = _("Yours was: “%(reason)s”.") % {"reason": request.POST.get("reason", "")}
            messages.error(request, f"{refusal} {yours}")
            return redirect("record-edit", refusal.standing.pk)
        else:
            return redirect("record-edit", draft.id)
    context = {"seal": seal, "errors": errors, "new_id": uuid.uuid4(), "typed": request.POST}
    return render(request, "book/amend.html", context, status=422 if errors else 200)


@require_safe
@front_door(Right.PRINT)
def pdf(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """The printed record."""
    seal = selectors.seal_of(actor=request.actor, record_id=record_id)
    amended_by = corrections(actor=request.actor, later=selectors.amendments_of(seal=seal))
    sealed = read_seal(seal)
    items = None
    if request.actor.may(Right.SEE):
        items, _entries = deadlines.of_record(record=seal.record, snapshot=sealed.snapshot)
    content = render_record(
        sealed,
        amended_by=amended_by,
        paper=request.actor.business.paper_size,
        items=items,
        printed_at=timezone.now(),
    )
    answer = HttpResponse(content, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="record-{seal.number}.pdf"'
    return answer
