"""What everybody may read: the schema, and a page that shows it."""

from __future__ import annotations

from functools import partial
from typing import ClassVar

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe
from drf_spectacular.utils import extend_schema
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response

from logbook.api.reference import groups, shapes
from logbook.api.schema import the_schema, units_by_dimension
from logbook.api.viewbase import PublicDoor


class SchemaView(PublicDoor):
    """What stands here, as OpenAPI 3.1."""

    says: ClassVar = {"GET": "Read the schema"}

    @extend_schema(responses={200: {"type": "object", "description": "OpenAPI 3.1 document."}})
    def get(self, request: Request) -> Response:
        return Response(the_schema(), headers={"Cache-Control": "public, max-age=300"})


@require_safe
@login_not_required
def reference(request: HttpRequest) -> HttpResponse:
    """The schema as a page to read."""
    schema = the_schema()
    return render(
        request,
        "api/reference.html",
        {
            "info": schema["info"],
            # Called by the template where it has nothing in its cache yet.
            "groups": partial(groups, schema),
            "shapes": partial(shapes, schema),
            "units": units_by_dimension,
        },
    )


@extend_schema(exclude=True)
class NothingHere(PublicDoor):
    """The answer for every address that is none."""

    def initial(self, request: Request, *args: object, **kwargs: object) -> None:
        """Refuse before anything is read.

        Raises: NotFound.
        """
        raise NotFound(_("There is no such address; every address of this API ends in a slash."))
