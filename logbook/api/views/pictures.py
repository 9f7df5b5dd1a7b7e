"""Pictures put to a record as evidence."""

from __future__ import annotations

from typing import Any, ClassVar
from uuid import UUID

from django.http import HttpResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from logbook.accounts.rights import Right
from logbook.api.parsers import PictureParser
from logbook.api.serializers.pictures import PictureSerializer, PicturesSerializer
from logbook.api.viewbase import Door, id_chosen
from logbook.records.reading import selectors
from logbook.records.writing.pictures import add_picture


class RecordPictures(Door):
    """The pictures of a record. A POST puts one to a draft, which is one revision on then: the
    picture is made anew, smaller, and without what the camera wrote into it. Asking twice makes
    one.
    """

    says: ClassVar = {"GET": "List the pictures of a record", "POST": "Put a picture to a draft"}
    right_to_read = Right.READ
    right_to_write = Right.DRAFT
    serializer_class = PictureSerializer
    parser_classes = (PictureParser,)
    idempotent = True

    @extend_schema(responses=PicturesSerializer)
    def get(self, request: Request, record_id: UUID) -> Response:
        record = selectors.existing(actor=self.actor, record_id=record_id)
        return Response(PicturesSerializer(record).data)

    @extend_schema(responses={201: PictureSerializer})
    def post(self, request: Request, record_id: UUID) -> Response:
        selectors.existing(actor=self.actor, record_id=record_id)
        given: dict[str, Any] = dict(self.read().validated_data)
        now = timezone.now()
        picture = add_picture(
            actor=self.actor,
            record_id=record_id,
            picture_id=id_chosen(given),
            raw=given.pop("file"),
            now=now,
            **given,
        )
        status = 201 if picture.added_at == now else 200
        return Response(PictureSerializer(picture).data, status=status)


class RecordPicture(Door):
    """A stored picture, byte for byte as its digest is sealed."""

    says: ClassVar = {"GET": "Read a picture"}
    right_to_read = Right.READ

    @extend_schema(
        operation_id="records_picture_retrieve",
        responses={(200, "image/jpeg"): OpenApiTypes.BINARY},
    )
    def get(self, request: Request, record_id: UUID, picture_id: UUID) -> HttpResponse:
        jpeg = selectors.picture(actor=self.actor, record_id=record_id, picture_id=picture_id)
        name = f'attachment; filename="picture-{picture_id}.jpg"'
        return HttpResponse(jpeg, content_type="image/jpeg", headers={"Content-Disposition": name})
