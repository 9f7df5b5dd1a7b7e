"""What every address of the API has in common: who is let in, what is read, what is answered."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any, ClassVar
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _
from rest_framework.authentication import BaseAuthentication, SessionAuthentication
from rest_framework.exceptions import AuthenticationFailed, MethodNotAllowed, ValidationError
from rest_framework.generics import GenericAPIView
from rest_framework.negotiation import BaseContentNegotiation
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from logbook.accounts.rights import Actor, Right
from logbook.accounts.tokens import actor_of_token
from logbook.api.errors import PreconditionFailed, PreconditionRequired
from logbook.api.parsers import StrictJSONParser
from logbook.api.permissions import HasRight
from logbook.api.schema import LogbookSchema
from logbook.api.serializers.base import Strict
from logbook.errors.exceptions import NotThere


class SessionLogin(SessionAuthentication):
    """The login of the pages: session cookie, and CSRF token for every change.

    A token in the request comes first: who sends one acts by it alone.
    """


class TokenLogin(BaseAuthentication):
    """A person's token in `Authorization: Bearer …` (RFC 6750); no cookie, so no CSRF token."""

    def authenticate(self, request: Request) -> tuple[Any, None] | None:
        """Return the token's person, and let the request act within the token's scopes.

        Raises: AuthenticationFailed for a token that opens nothing, whatever session there is.
        """
        scheme, _, secret = request.headers.get("Authorization", "").partition(" ")
        if scheme.lower() != "bearer":
            return None
        try:
            actor = actor_of_token(secret=secret.strip(), now=timezone.now())
        except NotThere as refusal:
            raise AuthenticationFailed(str(refusal)) from None
        request._request.actor = actor  # type: ignore[attr-defined]
        return actor.user, None

    def authenticate_header(self, request: Request) -> str:
        """Return the challenge; it says so where a token was given (RFC 6750, 3)."""
        given = request.headers.get("Authorization", "")[:7].lower() == "bearer "
        return 'Bearer realm="logbook"' + (', error="invalid_token"' if given else "")


class JsonAlways(BaseContentNegotiation):
    """Answers JSON whatever is asked for (RFC 9110, 12.5.1 lets a server disregard Accept)."""

    def select_parser(self, request: Request, parsers: Iterable[Any]) -> Any:
        """Return the parser of the body's media type, or None."""
        given = (request.content_type or "").partition(";")[0].strip().lower()
        return next((parser for parser in parsers if parser.media_type == given), None)

    def select_renderer(
        self, request: Request, renderers: Iterable[Any], format_suffix: str | None = None
    ) -> tuple[Any, str]:
        """Return the first renderer."""
        first = next(iter(renderers))
        return first, first.media_type


class Door(GenericAPIView[Any]):
    """An address for members of a business whose role carries the right that the view names."""

    authentication_classes: Sequence[type[BaseAuthentication]] = (TokenLogin, SessionLogin)
    permission_classes: Sequence[Any] = (HasRight,)
    parser_classes = (StrictJSONParser,)
    content_negotiation_class = JsonAlways
    metadata_class = None
    http_method_names = ("get", "head", "post", "put", "patch")
    schema = LogbookSchema()
    right_to_read: Right | None = None
    right_to_write: Right | None = None
    says: ClassVar[dict[str, str]] = {}

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Refuse a verb that the address does not know before anybody's right is asked.

        Raises: MethodNotAllowed, and what the permission and the throttle raise.
        """
        if request.method not in self.allowed_methods:
            raise MethodNotAllowed(str(request.method))
        super().initial(request, *args, **kwargs)

    @property
    def actor(self) -> Actor:
        """Who acts; the permission has made sure that somebody does."""
        actor: Actor = self.request._request.actor  # type: ignore[attr-defined]
        return actor

    def asked(self, query: type[Strict] | None = None) -> dict[str, Any]:
        """Return the checked query parameters; one that is not known is refused by name."""
        given = self.request.query_params.dict()
        if getattr(self, "pagination_class", None):
            for name in ("cursor", "page_size"):
                given.pop(name, None)
        serializer = (query or Strict)(data=given)
        serializer.is_valid(raise_exception=True)
        checked: dict[str, Any] = serializer.validated_data
        return checked

    def read(self, *, given_only: bool = False) -> Any:
        """Return the serializer that has checked the body.

        Args: given_only: whether a name that is not given is left as it stands.
        """
        serializer = self.get_serializer(data=self.request.data, given_only=given_only)
        serializer.is_valid(raise_exception=True)
        return serializer

    def page(self, rows: Any) -> Response:
        """Return the page of `rows` that was asked for."""
        found = self.paginate_queryset(rows)
        return self.get_paginated_response(self.get_serializer(found, many=True).data)

    def get_throttles(self) -> list[Any]:
        """Return the throttles of this request, the same ones to ask and to answer with."""
        if not hasattr(self, "throttles"):
            self.throttles = super().get_throttles()
        return self.throttles

    def finalize_response(
        self, request: Request, response: Response, *args: Any, **kwargs: Any
    ) -> Response:
        """Keep what a member is shown out of every cache on the way, and say what quota is left."""
        done = super().finalize_response(request, response, *args, **kwargs)
        done.headers.setdefault("Cache-Control", "no-store")
        # draft-ietf-httpapi-ratelimit-headers-08: structured fields (RFC 9651), one item a policy.
        counted = [one for one in self.get_throttles() if getattr(one, "used", 0)]
        if counted:
            done["RateLimit-Policy"] = ", ".join(one.policy for one in counted)
            done["RateLimit"] = ", ".join(one.left for one in counted)
        return done


class PublicDoor(Door):
    """An address for everybody: it knows no user, keeps nothing and shows nothing of a business."""

    authentication_classes = ()
    permission_classes = (AllowAny,)


_REVISION = re.compile(r'"([1-9][0-9]{0,8})"\Z')


def revision_named(request: Request, given: int | None) -> int:
    """Return the revision that a change was made from, out of If-Match or the body.

    Raises: PreconditionRequired if neither says it; PreconditionFailed if If-Match is no ETag of a
    revision, or the two contradict each other.
    """
    tag = request.headers.get("If-Match")
    if tag is None:
        if given is None:
            raise PreconditionRequired(
                _(
                    "Say from which revision the change was made: the ETag in If-Match, or "
                    "revision in the body."
                )
            )
        return given
    match = _REVISION.match(tag.strip())
    if match is None or (given is not None and given != int(match[1])):
        raise PreconditionFailed(
            _('If-Match names no revision of this record; write it like the ETag, "%(tag)d".')
            % {"tag": given or 3}
        )
    return int(match[1])


def id_chosen(given: dict[str, Any]) -> UUID:
    """Return the id that the client chose for a new row, taken out of `given`.

    Raises: ValidationError naming `id` if it chose none.
    """
    chosen: UUID | None = given.pop("id", None)
    if chosen is None:
        raise ValidationError(
            {"id": [_("Choose an id, a random UUID; asking twice makes one row.")]}
        )
    return chosen


def same_id(given: dict[str, Any], row_id: UUID) -> None:
    """Take the id out of `given`.

    Raises: ValidationError naming `id` if it is another than that of the address.
    """
    if given.pop("id", row_id) != row_id:
        raise ValidationError(
            {"id": [_("The address says %(id)s; an id never changes.") % {"id": row_id}]}
        )
