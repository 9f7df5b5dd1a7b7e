"""Records: the book, drafts, what the checks say, signing, amending, and the sealed text."""

from __future__ import annotations

from typing import Any, ClassVar
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import prefetch_related_objects
from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.exceptions import Throttled
from rest_framework.request import Request
from rest_framework.response import Response

from logbook.accounts.rights import Right
from logbook.accounts.services import confirm_password
from logbook.api.errors import PreconditionFailed
from logbook.api.pagination import ByBook
from logbook.api.serializers.base import Strict, stands
from logbook.api.serializers.records import (
    AmendSerializer,
    BookQuery,
    ExaminationSerializer,
    RecordLineSerializer,
    RecordSerializer,
    SealSerializer,
    SignSerializer,
    lines_of,
)
from logbook.api.viewbase import Door, id_chosen, revision_named, same_id
from logbook.documents.papers import corrections
from logbook.documents.record import render_record
from logbook.errors.exceptions import Conflict, RefusedInput
from logbook.records.reading import selectors
from logbook.records.reading.bookfilter import BookFilter
from logbook.records.reading.bookrows import TOLD, lines
from logbook.records.reading.examine import examine
from logbook.records.sealing.sealed import read_seal
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.sign import sign

IF_MATCH = OpenApiParameter(
    "If-Match",
    OpenApiTypes.STR,
    OpenApiParameter.HEADER,
    description="The ETag of the record that the change was made from; or “revision” in the body.",
)


OF_A_DRAFT = dict.fromkeys(
    (
        *("records_retrieve", "records_update", "records_partial_update"),
        *("records_check_retrieve", "records_sign_create", "records_duties_retrieve"),
        *("records_seal_retrieve", "records_amend_create", "records_duty_entries_create"),
    ),
    "record_id",
)
"""The operations that go on from a draft."""


class RecordDoor(Door):
    """An address of records as entered."""

    serializer_class: type[Strict] = RecordSerializer

    def entered(self, record_id: UUID) -> Any:
        """Return the record with all that its representation shows."""
        record = selectors.existing(actor=self.actor, record_id=record_id)
        prefetch_related_objects([record], "load_uses__load__parts", "weather")
        return record

    def served(self, record: Any, *, status: int = 200) -> Response:
        """Return the response that shows a record, with its revision as the ETag."""
        etag = {"ETag": f'"{record.revision}"'}
        return Response(RecordSerializer(record).data, status=status, headers=etag)


class RecordList(RecordDoor):
    """The book, the newest work first. A POST begins a draft under the id that the client chose,
    empty or with what is given; asking twice makes one draft.
    """

    says: ClassVar = {"GET": "List the records", "POST": "Begin a draft"}
    right_to_read = Right.READ
    right_to_write = Right.DRAFT
    idempotent = True
    pagination_class = ByBook
    leads_to: ClassVar = {"POST": {"201": OF_A_DRAFT, "200": OF_A_DRAFT}}

    @extend_schema(parameters=[BookQuery], responses=RecordLineSerializer(many=True))
    def get(self, request: Request) -> Response:
        # Thirteen fields are not made to read what nobody asked.
        asked = BookFilter(**self.asked(BookQuery)) if request.query_params else BookFilter()
        rows = self.paginate_queryset(lines(actor=self.actor, asked=asked, columns=TOLD))
        return self.get_paginated_response(list(lines_of(rows or ())))

    @extend_schema(responses={201: RecordSerializer})
    def post(self, request: Request) -> Response:
        given = self.read(given_only=True)
        data = given.validated_data
        record_id = id_chosen(data)
        data.pop("revision", None)
        for name in ("customer", "rig"):
            # null asks for the customer of the field and the rig of the nozzles, as saving does.
            if data.get(name) is None:
                data.pop(name, None)
        whole = selectors.book(actor=self.actor, state="whole")
        new = not whole.filter(id=record_id).exists()
        with transaction.atomic():
            record = begin_draft(actor=self.actor, record_id=record_id)
            fresh = record.revision == 1 and record.amends_id is None
            if data and fresh:
                save_draft(actor=self.actor, record_id=record_id, revision=1, data=data)
        record = self.entered(record_id)
        if not fresh and not stands(given, record):
            raise Conflict(
                _("This id is there already and says something else; change it with PUT.")
            )
        return self.served(record, status=201 if new else 200)


class RecordItem(RecordDoor):
    """A record as entered. A draft is saved whole or not at all. PUT replaces it: a field that is
    not given is blank again. PATCH changes what is given; a list that is given replaces the one
    that stood there. A signed record is refused: begin an amendment.
    """

    says: ClassVar = {"GET": "Read a record", "PUT": "Replace a draft", "PATCH": "Change a draft"}
    right_to_read = Right.SEE
    right_to_write = Right.DRAFT
    guards_revision = True

    def get(self, request: Request, record_id: UUID) -> Response:
        return self.served(self.entered(record_id))

    @extend_schema(parameters=[IF_MATCH])
    def put(self, request: Request, record_id: UUID) -> Response:
        return self._save(record_id, given_only=False)

    @extend_schema(parameters=[IF_MATCH])
    def patch(self, request: Request, record_id: UUID) -> Response:
        return self._save(record_id, given_only=True)

    def _save(self, record_id: UUID, *, given_only: bool) -> Response:
        selectors.existing(actor=self.actor, record_id=record_id)
        data = self.read(given_only=given_only).validated_data
        same_id(data, record_id)
        revision = revision_named(self.request, data.pop("revision", None))
        try:
            save_draft(actor=self.actor, record_id=record_id, revision=revision, data=data)
        except Conflict as moved:
            if "If-Match" in self.request.headers:
                raise PreconditionFailed(str(moved)) from None
            raise
        return self.served(self.entered(record_id))


class RecordCheck(Door):
    """What the checks say of a record as it stands: findings, heaviest first; what became of every
    check; and what was computed of the setting.
    """

    says: ClassVar = {"GET": "Check a record"}
    right_to_read = Right.SEE
    serializer_class = ExaminationSerializer

    def get(self, request: Request, record_id: UUID) -> Response:
        return Response(self.get_serializer(examine(actor=self.actor, record_id=record_id)).data)


class RecordSign(Door):
    """Signs and seals a draft. A breach and a missing fact do not stop an honest record, but each
    has to be explained.
    """

    says: ClassVar = {"POST": "Sign a record"}
    right_to_write = Right.SIGN
    serializer_class = SignSerializer

    @extend_schema(responses={201: SealSerializer})
    def post(self, request: Request, record_id: UUID) -> Response:
        # A record of another business is not there, whatever the password.
        selectors.existing(actor=self.actor, record_id=record_id)
        given = self.read().validated_data
        try:
            confirmation = confirm_password(
                request, user=self.actor.user, password=given["password"]
            )
        except RefusedInput:
            if getattr(request._request, "axes_locked_out", False):
                # The lock stands; only its page for browsers is not sent.
                request._request.axes_locked_out = False  # type: ignore[attr-defined]
                raise Throttled(
                    wait=settings.AXES_COOLOFF_TIME * 3600,
                    detail=_("Too many wrong passwords; wait, then try again."),
                ) from None
            raise
        sign(
            actor=self.actor,
            record_id=record_id,
            revision=given["revision"],
            explanations=given["explanations"],
            carried_confirmed=given["carried_confirmed"],
            confirmation=confirmation,
            now=timezone.now(),
        )
        return Response(sealed(self.actor, record_id), status=201)


class RecordAmend(RecordDoor):
    """Begins the amendment of a signed record: a new draft that points back and says why. Asking
    twice returns the same draft.
    """

    says: ClassVar = {"POST": "Begin an amendment"}
    right_to_write = Right.AMEND
    serializer_class = AmendSerializer
    idempotent = True

    @extend_schema(responses={201: RecordSerializer})
    def post(self, request: Request, record_id: UUID) -> Response:
        given = self.read().validated_data
        before = selectors.existing(actor=self.actor, record_id=record_id)
        new = getattr(before, "amendment", None) is None
        draft = begin_amendment(
            actor=self.actor, record_id=record_id, new_id=given["id"], reason=given["reason"]
        )
        return self.served(self.entered(draft.pk), status=201 if new else 200)


class RecordSeal(Door):
    """The seal of a signed record: its text byte for byte, the hashes, and its place in the log."""

    says: ClassVar = {"GET": "Read a seal"}
    right_to_read = Right.READ
    serializer_class = SealSerializer

    def get(self, request: Request, record_id: UUID) -> Response:
        return Response(sealed(self.actor, record_id))


class RecordPdf(Door):
    """The printed record, drawn from the seal alone: the same bytes every time."""

    says: ClassVar = {"GET": "Print a record"}
    right_to_read = Right.PRINT

    @extend_schema(
        operation_id="records_pdf_retrieve",
        responses={(200, "application/pdf"): OpenApiTypes.BINARY},
    )
    def get(self, request: Request, record_id: UUID) -> HttpResponse:
        seal = selectors.seal_of(actor=self.actor, record_id=record_id)
        later = corrections(actor=self.actor, later=selectors.amendments_of(seal=seal))
        content = render_record(
            read_seal(seal), amended_by=later, paper=self.actor.business.paper_size
        )
        name = f'attachment; filename="record-{seal.number}.pdf"'
        return HttpResponse(
            content, content_type="application/pdf", headers={"Content-Disposition": name}
        )


def sealed(actor: Any, record_id: UUID) -> dict[str, Any]:
    """Return the representation of a record's seal."""
    seal = selectors.seal_of(actor=actor, record_id=record_id)
    later = [one.number for one in selectors.amendments_of(seal=seal)]
    return dict(SealSerializer(seal, context={"amended_by": later}).data)
