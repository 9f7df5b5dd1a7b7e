"""The shelf: list, look up, add and change what records refer to."""

from __future__ import annotations

from typing import Any, ClassVar
from uuid import UUID

from django.db.models import QuerySet
from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import ListCreateAPIView, RetrieveUpdateAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from logbook.accounts.history import changes
from logbook.accounts.rights import Right
from logbook.accounts.services import people, person, save_person
from logbook.api.serializers.base import Strict, stands
from logbook.api.serializers.catalog import ShelfChangeSerializer
from logbook.api.viewbase import Door, id_chosen, same_id
from logbook.catalog.selectors import from_shelf, on_shelf
from logbook.catalog.services import save_on_shelf
from logbook.errors.exceptions import Conflict, NotThere


class ShelfQuery(Strict):
    """How a shelf is narrowed."""

    search = serializers.CharField(required=False, allow_blank=True, max_length=200)


class ShelfDoor(Door):
    """One kind of thing on the shelf."""

    shelf = ""
    right_to_read = Right.SEE
    right_to_write = Right.SHELF

    def rows(self, search: str) -> QuerySet[Any]:
        """Return the rows of this kind."""
        if self.shelf == "people":
            return people(actor=self.actor, search=search)
        return on_shelf(business=self.actor.business, shelf=self.shelf, search=search)

    def row(self, row_id: UUID) -> Any:
        """Return one row of this kind; NotThere if the business has none of that id."""
        if self.shelf == "people":
            return person(actor=self.actor, person_id=row_id)
        return from_shelf(business=self.actor.business, shelf=self.shelf, row_id=row_id)

    def save(self, row_id: UUID, data: dict[str, Any], *, create: bool) -> dict[str, Any]:
        """Return the saved row as it is served."""
        if self.shelf == "people":
            save_person(actor=self.actor, person_id=row_id, data=data)
        else:
            save_on_shelf(
                business=self.actor.business,
                shelf=self.shelf,
                row_id=row_id,
                data=data,
                create=create,
            )
        return dict(self.get_serializer(self.row(row_id)).data)


class ShelfList(ShelfDoor, ListCreateAPIView[Any]):
    """A shelf. Adding the same thing twice under one id makes one row; something else under an id
    that is taken is refused.
    """

    says: ClassVar = {"GET": "List the {kind}", "POST": "Add to the {kind}"}
    idempotent = True

    @extend_schema(parameters=[ShelfQuery])
    def get(self, request: Request) -> Response:
        return self.page(self.rows(self.asked(ShelfQuery).get("search", "")))

    def post(self, request: Request) -> Response:
        given = self.read()
        data = given.validated_data
        row_id = id_chosen(data)
        try:
            standing = self.row(row_id)
        except NotThere:
            return Response(self.save(row_id, data, create=True), status=201)
        if not stands(given, standing):
            raise Conflict(
                _("This id is there already and says something else; change it with PUT.")
            )
        return Response(self.get_serializer(standing).data)


class ShelfItem(ShelfDoor, RetrieveUpdateAPIView[Any]):
    """A thing on the shelf. PUT replaces it: a field that is not given is emptied, except the id.
    PATCH changes what is given. A list that is given replaces the one that stood there; rows of it
    that come with their id are kept.
    """

    says: ClassVar = {
        "GET": "Look one of the {kind} up",
        "PUT": "Replace one of the {kind}",
        "PATCH": "Change one of the {kind}",
    }

    def get(self, request: Request, row_id: UUID) -> Response:
        return Response(self.get_serializer(self.row(row_id)).data)

    def put(self, request: Request, row_id: UUID) -> Response:
        return self._change(row_id, given_only=False)

    def patch(self, request: Request, row_id: UUID) -> Response:
        return self._change(row_id, given_only=True)

    def _change(self, row_id: UUID, *, given_only: bool) -> Response:
        self.row(row_id)
        data = self.read(given_only=given_only).validated_data
        same_id(data, row_id)
        return Response(self.save(row_id, data, create=False))


class HistoryQuery(Strict):
    """Of which row."""

    row = serializers.UUIDField(
        required=False, help_text="Id of a row of the shelf, which may be gone; left out: of all."
    )


class ShelfHistory(Door):
    """What was changed on the shelf: who, what, when, before and after; the last first. What hangs
    on a row (a planting, an ingredient, a licence) is among its changes.
    """

    says: ClassVar = {"GET": "List the changes of the shelf"}
    right_to_read = Right.SEE
    serializer_class = ShelfChangeSerializer

    @extend_schema(parameters=[HistoryQuery], responses=ShelfChangeSerializer(many=True))
    def get(self, request: Request) -> Response:
        return self.page(changes(actor=self.actor, of=self.asked(HistoryQuery).get("row")))
