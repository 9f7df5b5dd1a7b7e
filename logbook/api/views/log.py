"""The log of seals, its verification, and the totals of a season."""

from __future__ import annotations

from typing import ClassVar

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from logbook.accounts.rights import Right
from logbook.api.pagination import ByNumber
from logbook.api.serializers.records import (
    SealLineSerializer,
    SeasonQuery,
    SeasonSerializer,
    VerificationSerializer,
)
from logbook.api.throttles import Members, Verifications
from logbook.api.viewbase import Door
from logbook.records.reading import selectors, verification


class SealList(Door):
    """The log: every seal of the business, the highest number first."""

    says: ClassVar = {"GET": "List the seals"}
    right_to_read = Right.READ
    serializer_class = SealLineSerializer
    pagination_class = ByNumber

    @extend_schema(responses=SealLineSerializer(many=True))
    def get(self, request: Request) -> Response:
        self.asked()
        return self.page(selectors.log(actor=self.actor))


class LogVerify(Door):
    """Reads the whole log and says whether every seal still says what was sealed, in unbroken
    order, and whether the journal of notices, holds, purges, grants and visits holds; if not, where
    each breaks first and why.
    """

    says: ClassVar = {"GET": "Verify the log"}
    right_to_read = Right.VERIFY
    serializer_class = VerificationSerializer
    throttle_classes = (Verifications, Members)

    def get(self, request: Request) -> Response:
        found = verification.verify(business=self.actor.business)
        return Response(
            self.get_serializer(
                {
                    "whole": found.whole,
                    "checked": found.checked,
                    "last_link": found.last_link,
                    "broken": found.broken,
                    "journal": found.journal,
                }
            ).data
        )


class Season(Door):
    """The totals of a calendar year by customer, field and product, from sealed records alone.
    Totals are sums of the totals entered, unit by unit: none is derived from a rate.
    """

    says: ClassVar = {"GET": "Total a season"}
    right_to_read = Right.READ
    serializer_class = SeasonSerializer
    pagination_class = None

    @extend_schema(parameters=[SeasonQuery])
    def get(self, request: Request) -> Response:
        asked = self.asked(SeasonQuery)
        lines = selectors.season(
            actor=self.actor, year=asked["year"], customer_id=asked.get("customer")
        )
        return Response(self.get_serializer({"year": asked["year"], "lines": lines}).data)
