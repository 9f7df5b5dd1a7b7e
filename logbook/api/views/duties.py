"""What the law asks beyond the facts: duties, deadlines, entries, papers, totals, export."""

from __future__ import annotations

import json
from typing import Any, ClassVar
from uuid import UUID

from django.http import HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from logbook.accounts.rights import Right
from logbook.api.pagination import ByDue
from logbook.api.serializers.duties import (
    DeadlinesSerializer,
    DutiesSerializer,
    DutyEntrySerializer,
    ExportQuery,
    PeriodReportsSerializer,
    StrikeSerializer,
    TotalsQuery,
)
from logbook.api.viewbase import Door, id_chosen
from logbook.documents.papers import paper_of
from logbook.law.applicability import Outcome, applicable, statement
from logbook.law.cautions import AUTHORITY_PREVAILS, NOT_LEGAL_ADVICE
from logbook.law.coverage import coverage, lacking, no_set_words
from logbook.localization.locale import plain_english
from logbook.records.exchange.export import Selection, csv_pieces, json_pieces
from logbook.records.names import now_called
from logbook.records.reading import deadlines, duesheets, keeping, selectors
from logbook.records.reading.examine import examine
from logbook.records.reading.totals import LITRE_RULES, to_json_text, totals
from logbook.records.sealing.law import LawOf, as_sealed
from logbook.records.sealing.sealed import read_seal
from logbook.records.writing.entries import add_duty_entry, strike_duty_entry


class RecordDuties(Door):
    """Which duty sets apply to a record and why, where each element stands, what is due, what was
    written down as done, and until when the record is kept. Not legal advice.
    """

    says: ClassVar = {"GET": "Read the duties of a record"}
    right_to_read = Right.SEE
    serializer_class = DutiesSerializer

    def get(self, request: Request, record_id: UUID) -> Response:
        now = timezone.now()
        row = selectors.existing(actor=self.actor, record_id=record_id)
        if row.signed_at:
            sealed = read_seal(selectors.seal_of(actor=self.actor, record_id=record_id))
            facts = sealed.snapshot
            with plain_english():  # a field of an answer follows no Accept-Language
                law = as_sealed(sealed)
        else:
            facts = examine(actor=self.actor, record_id=record_id).snapshot
            law = LawOf(sets=None, note="")
        found, entries = deadlines.of_record(record=row, snapshot=facts)
        stated = statement(facts, sets=law.sets)
        rows = [one for one in stated if one.outcome is not Outcome.NOT_ASKED]
        sets = applicable(facts, sets=law.sets)
        said = {
            "sets": [
                {"applied": one, "rows": [row for row in rows if row.applied == one]}
                for one in sets
            ],
            "law": law.note,
            "not_carried": coverage(facts, law.sets),
            "none_applies": no_set_words(facts, law.sets),
            "due": found,
            "entries": entries,
            "keeping": keeping.keeping_of(row),
            "cautions": [NOT_LEGAL_ADVICE, AUTHORITY_PREVAILS],
        }
        return Response(DutiesSerializer(said, context={"now": now}).data)


class DutyEntryList(Door):
    """Writes down that a notice was given, a copy handed over, a report sent, or that it is not
    owed here. Asking twice makes one entry; it cannot be changed, only struck.
    """

    says: ClassVar = {"POST": "Write down what was done"}
    right_to_write = Right.DUTIES
    serializer_class = DutyEntrySerializer
    idempotent = True

    @extend_schema(responses={201: DutyEntrySerializer})
    def post(self, request: Request, record_id: UUID) -> Response:
        record = selectors.existing(actor=self.actor, record_id=record_id)
        entry_id = id_chosen(data := dict(self.read().validated_data))
        standing = deadlines.entries_of(record).filter(pk=entry_id).exists()
        entry = add_duty_entry(
            actor=self.actor,
            record_id=record_id,
            entry_id=entry_id,
            data=data,
            now=timezone.now(),
        )
        return Response(DutyEntrySerializer(entry).data, status=200 if standing else 201)


class DutyEntryStrike(Door):
    """Strikes a mistaken entry by a further one; both stay readable."""

    says: ClassVar = {"POST": "Strike an entry"}
    right_to_write = Right.DUTIES
    serializer_class = StrikeSerializer

    @extend_schema(responses={201: DutyEntrySerializer})
    def post(self, request: Request, record_id: UUID, entry_id: UUID) -> Response:
        selectors.existing(actor=self.actor, record_id=record_id)
        given = self.read().validated_data
        entry = strike_duty_entry(
            actor=self.actor,
            record_id=record_id,
            entry_id=entry_id,
            new_id=given["id"],
            reason=given["reason"],
            now=timezone.now(),
        )
        return Response(DutyEntrySerializer(entry).data, status=201)


class RecordPaper(Door):
    """A paper that the law asks for, from the draft as it stands or from the seal; the customer's
    copy from the seal alone.
    """

    says: ClassVar = {"GET": "Print a paper: {paper}"}
    right_to_read = Right.SEE
    paper = ""

    @extend_schema(responses={(200, "application/pdf"): OpenApiTypes.BINARY})
    def get(self, request: Request, record_id: UUID) -> HttpResponse:
        content, name = paper_of(
            actor=self.actor, record_id=record_id, name=self.paper, now=timezone.now()
        )
        answer = HttpResponse(content, content_type="application/pdf")
        answer["Content-Disposition"] = f'attachment; filename="{name}"'
        return answer


class Deadlines(Door):
    """What is still to be done for signed records, by record, the first due first. What is due for
    drafts is computed as they stand: read it at each draft's duties.
    """

    says: ClassVar = {"GET": "List what is due"}
    right_to_read = Right.SEE
    serializer_class = DeadlinesSerializer
    pagination_class = ByDue

    @extend_schema(responses=DeadlinesSerializer(many=True))
    def get(self, request: Request) -> Response:
        self.asked()
        sheets = self.paginate_queryset(deadlines.open_sheets(actor=self.actor))
        lines = [
            {
                "record": sheet.record_id,
                "number": sheet.record.seal.number,
                "field": sheet.record.field_name.name,
                "customer": sheet.record.customer_name.name,
                "now_called": now_called(
                    [
                        ("customer", sheet.record.customer_name),
                        ("field", sheet.record.field_name),
                    ]
                ),
                "time_zone": sheet.record.time_zone,
                "not_carried": lacking(sheet.place),
                "due": [
                    item for item in duesheets.items_on(sheet) if item.open and not item.period
                ],
            }
            for sheet in sheets or ()
        ]
        served = DeadlinesSerializer(lines, many=True, context={"now": timezone.now()})
        return self.get_paginated_response(served.data)


class PeriodReports(Door):
    """The reports to an authority that are one for all signed records of a period and not sent yet:
    each with the records that it lists. A duty entry of kind “report” at any of them settles it.
    """

    says: ClassVar = {"GET": "List the reports of a period"}
    right_to_read = Right.SEE
    serializer_class = PeriodReportsSerializer
    pagination_class = None

    def get(self, request: Request) -> Response:
        self.asked()
        now = timezone.now()
        lines = [
            {
                "period": deadlines.period_of(task.item),
                "record": task.record_id,
                "numbers": task.numbers,
                "not_carried": lacking(task.place),
                "due": task.item,
            }
            for task in deadlines.by_due(deadlines.period_tasks(actor=self.actor, now=now))
        ]
        return Response(PeriodReportsSerializer({"results": lines}, context={"now": now}).data)


_AMOUNT = {
    "type": "object",
    "required": ["value", "unit", "note"],
    "properties": {
        "value": {"type": ["string", "null"], "description": "Decimal; null where there is none."},
        "unit": {"type": ["string", "null"]},
        "note": {"type": ["string", "null"], "description": "Why there is none."},
    },
}
_TEXTS = {"type": "array", "items": {"type": "string"}}
_TOTAL = {
    "product": {"type": "string"},
    "registration_number": {"type": ["string", "null"]},
    "applications": {"type": "integer"},
    "as_entered": {
        "type": "array",
        "items": {
            "type": "object",
            "required": ["value", "unit"],
            "properties": {"value": {"type": "string"}, "unit": {"type": "string"}},
        },
    },
    "label_units": _AMOUNT,
    "kilograms": _AMOUNT,
    "active_ingredients": {
        "type": "array",
        "items": {
            "type": "object",
            "required": ["name", "kilograms", "acid_equivalent"],
            "properties": {
                "name": {"type": "string"},
                "kilograms": _AMOUNT,
                "acid_equivalent": {"oneOf": [_AMOUNT, {"type": "null"}]},
            },
        },
    },
    "not_counted": _TEXTS,
}
_TOTALS = {
    "format": {"type": "integer"},
    "business": {"type": "string"},
    "customer": {"type": ["string", "null"]},
    "place": {"type": ["string", "null"]},
    "from": {"type": "string", "format": "date"},
    "to": {"type": "string", "format": "date"},
    "records": {"type": "integer"},
    "kilogram_rule": {"type": ["object", "null"]},
    "products": {
        "type": "array",
        "items": {"type": "object", "required": list(_TOTAL), "properties": _TOTAL},
    },
    "remarks": _TEXTS,
}


class ProductTotals(Door):
    """Totals by product over a period, from signed records alone: as entered, in label units, in
    kilograms, as active ingredient. A total is a sum of totals entered, never derived from a rate.
    """

    says: ClassVar = {"GET": "Total a period"}
    also_refuses = ("404", "422")
    right_to_read = Right.SEE
    pagination_class = None

    @extend_schema(
        operation_id="totals_retrieve",
        parameters=[TotalsQuery],
        responses={200: {"type": "object", "required": list(_TOTALS), "properties": _TOTALS}},
    )
    def get(self, request: Request) -> Response:
        asked = self.asked(TotalsQuery)
        rule = LITRE_RULES.get(asked.pop("rule", ""))
        return Response(json.loads(to_json_text(totals(actor=self.actor, rule=rule, **asked))))


class Export(Door):
    """The signed records as a stream that other programs read, in the order of their seals."""

    also_refuses = ("409",)
    right_to_read = Right.SEE
    pagination_class = None

    def selection(self) -> Selection:
        """Return which records are asked for."""
        return Selection(**self.asked(ExportQuery))

    def streamed(self, pieces: Any, kind: str, name: str) -> StreamingHttpResponse:
        """Return the pieces as a file."""
        answer = StreamingHttpResponse(pieces, content_type=kind)
        answer["Content-Disposition"] = f'attachment; filename="{name}"'
        return answer


_EXPORTED = {
    "type": "object",
    "required": ["format", "version", "records"],
    "properties": {
        "format": {"type": "string"},
        "version": {"type": "string"},
        "records": {"type": "array", "items": {"type": "object"}},
    },
    "description": "Described in full by the JSON Schema that “$schema” in the file names.",
}


class ExportJson(Export):
    """The signed records as JSON with a published JSON Schema, as a stream in the order of their
    seals: application as Regulation (EU) 2023/564 lists it, all sealed facts, and the seal.
    """

    says: ClassVar = {"GET": "Take records out as JSON"}

    @extend_schema(
        operation_id="export_json_retrieve", parameters=[ExportQuery], responses={200: _EXPORTED}
    )
    def get(self, request: Request) -> HttpResponseBase:
        pieces = json_pieces(
            actor=self.actor,
            selection=self.selection(),
            now=timezone.now(),
            schema_url=request.build_absolute_uri(reverse("exchange-schema")),
        )
        return self.streamed(pieces, "application/json", "records.json")


class ExportCsv(Export):
    """The signed records as CSV (RFC 4180) in UTF-8: one row per record and product."""

    says: ClassVar = {"GET": "Take records out as CSV"}

    @extend_schema(
        operation_id="export_csv_retrieve",
        parameters=[ExportQuery],
        responses={(200, "text/csv; charset=utf-8"): OpenApiTypes.STR},
    )
    def get(self, request: Request) -> HttpResponseBase:
        pieces = csv_pieces(actor=self.actor, selection=self.selection())
        return self.streamed(pieces, "text/csv; charset=utf-8", "records.csv")
