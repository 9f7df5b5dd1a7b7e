"""What the law asks of a record, what is due, what was written down as done, and how long it stays.

None of it is legal advice; the authority's own text prevails.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from logbook.api.fields import DayField, InstantField, OneOf, ReferenceField, RowId, line, maybe
from logbook.api.serializers.base import Strict
from logbook.api.serializers.records import NowCalledSerializer
from logbook.facts.duty import HowRead, Kind, Obligation
from logbook.law.applicability import Outcome
from logbook.law.clocks import Standing
from logbook.law.elements import State
from logbook.records.choices import Delivery, DutyKind
from logbook.records.reading.owed import Item
from logbook.records.reading.totals import LITRE_RULES


def words(of: Any) -> list[tuple[str, str]]:
    """Return the closed list that an enumeration is."""
    return [(one.value, one.value) for one in of]


class ElementSerializer(Strict):
    """One element that a set asks for: where it stands in the record, and what follows."""

    element = serializers.CharField(source="element.name")
    title = serializers.CharField(source="element.title")
    state = OneOf(words(State), source="stand.state")
    value = serializers.CharField(source="stand.value", allow_blank=True)
    where = serializers.ListField(
        child=serializers.CharField(), source="stand.where", help_text="Paths of the facts."
    )
    outcome = OneOf(words(Outcome))
    how_read = OneOf(words(HowRead))
    detail = serializers.CharField(source="asked.detail", allow_blank=True)


class DutySetSerializer(Strict):
    """A duty set that speaks of the record, and why."""

    id = serializers.CharField(source="applied.duty_set.id")
    title = serializers.CharField(source="applied.duty_set.title")
    why = serializers.CharField(source="applied.why")
    citation = serializers.CharField(source="applied.duty_set.citation")
    how_read = OneOf(words(HowRead), source="applied.duty_set.how_read")
    in_force_from = DayField(source="applied.duty_set.in_force_from", allow_null=True)
    in_force_to = DayField(source="applied.duty_set.in_force_to", allow_null=True)
    dates_how_read = OneOf(
        words(HowRead),
        source="applied.duty_set.dates_how_read",
        allow_null=True,
        help_text="null: as the set itself.",
    )
    last_read = DayField(source="applied.duty_set.last_read", allow_null=True)
    note = serializers.CharField(source="applied.duty_set.note", allow_blank=True)
    elements = ElementSerializer(source="rows", many=True)


class ItemSerializer(Strict):
    """One kind of duty: the strictest time for it, by which set, and how it stands now."""

    kind = OneOf(words(Kind))
    due = InstantField(allow_null=True, help_text="The last instant in time; null if none counts.")
    standing = serializers.SerializerMethodField()
    done_at = InstantField(allow_null=True)
    not_owed = serializers.CharField(allow_blank=True, help_text="The reason written down.")
    set = serializers.CharField(source="set_id")
    title = serializers.CharField()
    citation = serializers.CharField()
    how_read = OneOf(words(HowRead))
    obligation = OneOf(words(Obligation))
    period = serializers.CharField(
        allow_blank=True, help_text="Of which it is one for all records; else blank."
    )
    clock = serializers.CharField(help_text="How it counts, in words.")
    detail = serializers.CharField(allow_blank=True)

    @extend_schema_field(OneOf(words(Standing)))
    def get_standing(self, item: Item) -> str:
        """Return how it stands at the moment of the request; late stays late."""
        now: datetime = self.context["now"]
        return item.standing(now).value


class DutyEntrySerializer(Strict):
    """One thing written down as done; it cannot be changed, only struck by a further entry."""

    id = RowId(help_text="Chosen by the client; asking twice makes one entry.")
    kind = OneOf(DutyKind.choices)
    to_whom = line(200)
    how = OneOf(Delivery.choices)
    given_at = InstantField(help_text="Not in the future.")
    consent_on = DayField(
        allow_null=True,
        default=None,
        help_text="The customer's written consent, where the law wants it before electronic "
        "delivery.",
    )
    note = maybe(2000, help_text="Needed for “not owed”: the reason.")
    by = serializers.CharField(read_only=True)
    created_at = InstantField(read_only=True)
    strikes = ReferenceField(read_only=True, allow_null=True, help_text="The mistaken entry.")
    struck_by = serializers.UUIDField(
        source="struck_by.id", read_only=True, allow_null=True, default=None
    )


class StrikeSerializer(Strict):
    """What strikes a mistaken entry."""

    id = RowId(help_text="Of the further entry, chosen by the client.")
    reason = line(2000, min_length=5, help_text="What was wrong, in a sentence.")


class KeepingSerializer(Strict):
    """Until when a signed record stays, and by what law."""

    keep_until = DayField(allow_null=True, help_text="null where no set says; it is kept.")
    kept_by = serializers.CharField(allow_blank=True)
    may_go_after = DayField(
        allow_null=True, help_text="With all that belongs to it; null while one of them stays."
    )
    held = serializers.BooleanField(help_text="A hold stands on it, or on the whole book.")
    in_doubt = serializers.BooleanField(
        help_text="The place's rules are not carried, or the period was read in a summary or from "
        "memory: it is not let go by it."
    )


class DutiesSerializer(Strict):
    """All that is known of a record's duties."""

    sets = DutySetSerializer(many=True)
    law = serializers.CharField(
        allow_blank=True,
        help_text="Whether these are the sets as sealed with the record; blank for a draft.",
    )
    not_carried = serializers.CharField(
        allow_blank=True,
        help_text="That the rules of the field's place are not carried, or in part; else blank.",
    )
    none_applies = serializers.CharField(
        allow_blank=True, help_text="Message where no set speaks of the record."
    )
    due = ItemSerializer(many=True)
    entries = DutyEntrySerializer(many=True)
    keeping = KeepingSerializer(allow_null=True, help_text="null for a draft.")
    cautions = serializers.ListField(child=serializers.CharField())


class DeadlinesSerializer(Strict):
    """What is open for one record."""

    record = serializers.UUIDField()
    number = serializers.IntegerField(allow_null=True, help_text="Of the seal.")
    field = serializers.CharField()
    customer = serializers.CharField(allow_blank=True)
    now_called = NowCalledSerializer(many=True)
    time_zone = serializers.CharField()
    not_carried = serializers.CharField(
        allow_blank=True,
        help_text="That the rules of the field's place are not carried, or in part; else blank.",
    )
    due = ItemSerializer(many=True)


class PeriodReportSerializer(Strict):
    """A report that is one for all records of a period."""

    period = serializers.CharField(help_text="Year or month, such as 2026 or 2026-06.")
    record = serializers.UUIDField(help_text="The first of them, at which it may be written down.")
    numbers = serializers.ListField(
        child=serializers.IntegerField(), help_text="Of the seals of the records that it lists."
    )
    not_carried = serializers.CharField(
        allow_blank=True,
        help_text="That the rules of the fields' place are not carried, or in part; else blank.",
    )
    due = ItemSerializer()


class PeriodReportsSerializer(Strict):
    """All that are not sent yet, the first due first."""

    results = PeriodReportSerializer(many=True)


class PeriodQuery(Strict):
    """Which signed records; days are those at the field, both counted."""

    customer = ReferenceField(required=False, source="customer_id")

    def get_fields(self) -> dict[str, Any]:
        """Return the fields; "from" is a word of Python and cannot be written above."""
        return {
            "from": DayField(required=self.days_needed, source="day_from"),
            "to": DayField(required=self.days_needed, source="day_to"),
            **super().get_fields(),
        }

    days_needed = False


class ExportQuery(PeriodQuery):
    """Which signed records are taken out."""

    field = ReferenceField(required=False, source="field_id")


class TotalsQuery(PeriodQuery):
    """Of which period, and how litres become kilograms."""

    days_needed = True
    rule = OneOf(
        [(rule, rule) for rule in LITRE_RULES],
        required=False,
        help_text="A rule of an authority that counts a litre as a kilogram.",
    )
    place = maybe(6, help_text="Fields in this state or country alone, by ISO 3166, such as US-ND.")
