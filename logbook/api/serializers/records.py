"""Application records: as a line of the book, as entered, as checked, as sealed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any
from uuid import UUID

from rest_framework import serializers

from logbook.api.fields import (
    AnswerField,
    DayField,
    InstantField,
    OneOf,
    ReferenceField,
    RowField,
    RowId,
    Text,
    count,
    instant,
    line,
    maybe,
    number,
)
from logbook.api.serializers.base import Strict
from logbook.checks.core import RunState, Severity
from logbook.facts import spec
from logbook.facts.record import CropFacts, LoadFacts, ProductFacts, RecordFacts, WeatherFacts
from logbook.law.elements import LONGEST
from logbook.records.names import now_called
from logbook.records.reading.bookfilter import FLAGS, STATES
from logbook.records.reading.bookrows import named, products_of, state_of
from logbook.records.reading.examine import Examination, standing
from logbook.validators import FIRST_YEAR, LAST_YEAR


def fields_of(holder: type) -> dict[str, Any]:
    """Return the fields of the facts that a class declares as values, by their columns."""
    return {
        one.column: field
        for one in spec.entered(holder).values()
        if (field := _field_of(one)) is not None
    }


def _field_of(one: spec.Fact) -> Any:
    help_text = one.meaning
    blank: dict[str, Any] = {"allow_null": True, "default": None}
    match one.kind:
        case spec.Amount(words=words) as kind:
            shape = blank if words else {}
            return AnswerField(*kind.dimensions, words=words, help_text=help_text, **shape)
        case spec.Text(max_length=length):
            return maybe(length, help_text=help_text)
        case spec.Count(at_least=least, at_most=most):
            if one.holder is LoadFacts:
                return number(least, most, required=False, help_text=f"{help_text} {one.help}")
            return count(least, most, help_text=help_text)
        case spec.Choice(words=words, many=True, none=none):
            child = OneOf([*words.items()])
            shape = blank if none else {"default": list}
            return serializers.ListField(
                child=child, max_length=len(words), help_text=help_text, **shape
            )
        case spec.Choice(words=words, blank=True):
            choices = [*words.items()]
            return OneOf(choices, allow_blank=True, default="", help_text=help_text)
        case spec.Choice(words=words):
            return OneOf([*words.items()], default=next(iter(words)), help_text=help_text)
        case spec.Instant():
            shape = {} if one.holder is WeatherFacts else blank
            return InstantField(help_text=help_text, **shape)
    return None


def reference(**kwargs: Any) -> ReferenceField:
    """Return a reference that may be blank."""
    return ReferenceField(allow_null=True, default=None, **kwargs)


class ProductLineSerializer(Strict):
    """One product of the mix; rate and total are separate facts."""

    product = ReferenceField()
    name = serializers.CharField(source="named.name", read_only=True)
    label = ReferenceField(  # type: ignore[assignment]
        read_only=True, allow_null=True, help_text="The edition in force on the day."
    )

    def get_fields(self) -> dict[str, Any]:
        """Return the fields above and those of the declared facts."""
        return {**super().get_fields(), **fields_of(ProductFacts)}


class LoadPartSerializer(Strict):
    """How much of a product went into a load."""

    product = ReferenceField()
    amount = AnswerField("volume", "mass")


class Loads(serializers.ListSerializer[Any]):
    """The loads of a record, which reads them through their uses."""

    def get_attribute(self, instance: Any) -> Any:
        return instance.load_uses


class LoadSerializer(Strict):
    """One tank fill, and what of it went on this field; a load may serve several records."""

    load = ReferenceField(
        required=False, help_text="The id of a load that is there already; leave it out for new."
    )
    parts = LoadPartSerializer(many=True, default=list, max_length=40)

    class Meta:
        list_serializer_class = Loads

    def get_fields(self) -> dict[str, Any]:
        """Return the fields above and those of the declared facts."""
        return {**super().get_fields(), **fields_of(LoadFacts)}

    def to_representation(self, instance: Any) -> dict[str, Any]:
        shown: dict[str, Any] = super().to_representation(
            {
                "load": instance.load_id,
                "order": instance.order,
                "mixed_volume": instance.load.mixed_volume,
                "used": instance.used,
                "parts": instance.load.parts.all(),
            }
        )
        return shown


class WeatherSerializer(Strict):
    """One look at the weather."""

    def get_fields(self) -> dict[str, Any]:
        """Return the fields of the declared facts."""
        return fields_of(WeatherFacts)


class Crew(serializers.ListField):
    """The people who sprayed beside the applicator, by their ids."""

    child = ReferenceField()

    def get_attribute(self, instance: Any) -> Any:
        return [member.person_id for member in instance.crew.all()]


class RecordSerializer(Strict):
    """A record as entered: null is not yet said; words are answers."""

    id = RowId(help_text="Chosen by the client; asking twice makes one record.")
    state = serializers.CharField(
        source="get_state", read_only=True, help_text="“draft”, “signed” or “set aside”."
    )
    revision = number(
        1,
        2**31 - 1,
        required=False,
        help_text="That the change was made from; or If-Match with the ETag.",
    )
    number = serializers.IntegerField(
        source="seal.number", read_only=True, allow_null=True, default=None
    )
    created_at = InstantField(read_only=True)
    updated_at = InstantField(read_only=True)
    signed_at = InstantField(read_only=True, allow_null=True)
    carried = serializers.DictField(
        read_only=True,
        help_text="Names of values taken over from another record or the plan, each with where "
        "from, that nobody touched or confirmed yet.",
    )
    amends = ReferenceField(
        read_only=True, allow_null=True, help_text="The sealed record that this one corrects."
    )
    amended_by = serializers.UUIDField(
        source="amendment.id", read_only=True, allow_null=True, default=None
    )
    amend_reason = maybe(2000)
    customer = reference(help_text="Taken from the field if it is null.")
    field = reference()
    planting = RowField(allow_null=True, default=None, help_text="A planting of the field.")
    time_zone = serializers.CharField(read_only=True)
    applicator = reference(help_text="The person who sprayed.")
    supervisor = reference()
    rig = reference()
    nozzle_set = reference()
    statements = serializers.DictField(
        child=Text(max_length=LONGEST, allow_blank=True),
        default=dict,
        help_text="What a law or a label asks beyond the other fields, by the name of the element: "
        "a text, or “none”, “not applicable”, “not measured: why”.",
    )
    crew = Crew(default=list, max_length=40, help_text="Who sprayed beside the applicator.")
    continues = reference(help_text="The record of the same job, broken off before.")
    products = ProductLineSerializer(many=True, default=list, max_length=40)
    loads = LoadSerializer(many=True, default=list, max_length=40)
    weather = WeatherSerializer(many=True, default=list, max_length=40)

    def get_fields(self) -> dict[str, Any]:
        """Return the fields above and those of the declared facts."""
        return {**super().get_fields(), **fields_of(CropFacts), **fields_of(RecordFacts)}


class NowCalledSerializer(Strict):
    """What a sealed record names and the shelf calls otherwise today."""

    what = serializers.CharField(help_text="“customer”, “field”, “crop” or “product”.")
    name = serializers.CharField(help_text="As sealed, and as everywhere else in this answer.")
    now = serializers.CharField(help_text="On the shelf today.")


class RecordLineSerializer(Strict):
    """A record as a line of the book. Names are those that were sealed; a draft has the shelf's."""

    id = serializers.UUIDField()
    state = serializers.CharField(source="get_state", help_text="“draft”, “signed” or “set aside”.")
    revision = serializers.IntegerField()
    number = serializers.IntegerField(source="seal.number", allow_null=True, default=None)
    customer = ReferenceField(allow_null=True)
    customer_name = serializers.SerializerMethodField()
    field = ReferenceField(allow_null=True)
    field_name = serializers.SerializerMethodField()  # type: ignore[assignment]
    crop = serializers.SerializerMethodField()
    now_called = NowCalledSerializer(many=True)
    started_at = InstantField(allow_null=True)
    finished_at = InstantField(allow_null=True)
    time_zone = serializers.CharField()
    products = serializers.SerializerMethodField()
    amends = ReferenceField(allow_null=True)
    superseded_by = serializers.IntegerField(
        allow_null=True, help_text="Number of the signed amendment that corrects this record."
    )
    created_at = InstantField()

    def get_customer_name(self, record: Any) -> str | None:
        return record.customer_name.name or None

    def get_field_name(self, record: Any) -> str | None:
        return record.field_name.name or None

    def get_crop(self, record: Any) -> str | None:
        return record.crop_name.name or None

    def get_products(self, record: Any) -> list[str]:
        return [product_line.named.name for product_line in record.products.all()]


def lines_of(rows: Iterable[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Yield lines of the book, read as `bookrows.TOLD`, as `RecordLineSerializer` says them.

    Thirteen fields that find and tell their value one by one cost twice what reading the page does.
    """
    rows = list(rows)
    products = products_of(row["id"] for row in rows)
    for row in rows:
        names = [(what, named(row, what)) for what in ("customer", "field", "crop")]
        used = [("product", name) for (name,) in products.get(row["id"], ())]
        customer, field, crop = (name.name or None for _what, name in names)
        yield {
            "id": str(row["id"]),
            "state": state_of(row),
            "revision": row["revision"],
            "number": row["seal__number"],
            "customer": _id(row["customer_id"]),
            "customer_name": customer,
            "field": _id(row["field_id"]),
            "field_name": field,
            "crop": crop,
            "now_called": now_called([*names, *used]),
            "started_at": _instant(row["started_at"]),
            "finished_at": _instant(row["finished_at"]),
            "time_zone": row["time_zone"],
            "products": [name.name for _what, name in used],
            "amends": _id(row["amends_id"]),
            "superseded_by": row["amendment__signed_at"] and row["amendment__seal__number"],
            "created_at": _instant(row["created_at"]),
        }


def _id(pk: UUID | None) -> str | None:
    return None if pk is None else str(pk)


def _instant(value: datetime | None) -> str | None:
    return None if value is None else instant(value)


class BookQuery(Strict):
    """How the book is narrowed: each is an argument of `selectors.book`, its `source`."""

    state = OneOf([(state, state) for state in STATES], required=False)
    search = serializers.CharField(
        required=False,
        allow_blank=True,
        max_length=200,
        help_text="In the names of field, customer and product, or the number of a record.",
    )
    customer = ReferenceField(required=False, source="customer_id")
    field = ReferenceField(required=False, source="field_id")
    product = ReferenceField(required=False, source="product_id")
    applicator = ReferenceField(required=False, source="applicator_id")
    rig = ReferenceField(required=False, source="rig_id")
    # What an address carries is text: a number of a body is not.
    year = serializers.IntegerField(
        min_value=FIRST_YEAR,
        max_value=LAST_YEAR,
        required=False,
        help_text="Of the local day at the field.",
    )
    flag = OneOf(
        [(flag, flag) for flag in FLAGS],
        required=False,
        help_text="By the findings that the seal holds; “unexplained” finds drafts too, with a "
        "finding that must be explained before signing.",
    )

    def get_fields(self) -> dict[str, Any]:
        """Return the fields; "from" is a word of Python and cannot be written above."""
        start = "Day of the start, local at the field."
        return {
            **super().get_fields(),
            "from": DayField(required=False, source="day_from", help_text=start),
            "to": DayField(required=False, source="day_to", help_text=start),
        }


class AmendSerializer(Strict):
    """What begins an amendment."""

    id = RowId(help_text="Of the new draft, chosen by the client.")
    reason = line(2000, help_text="What is wrong in the sealed record, in a sentence.")


class SignSerializer(Strict):
    """What signs a record."""

    password = Text(
        trim_whitespace=False, max_length=4096, write_only=True, help_text="Your own, once more."
    )
    revision = number(1, 2**31 - 1, help_text="That you looked at.")
    explanations = serializers.DictField(
        child=Text(max_length=2000),
        default=dict,
        help_text="By the key of the finding; every breach and every missing fact needs one.",
    )
    carried_confirmed = serializers.BooleanField(
        default=False,
        help_text="That what is in “carried” of the record is true of this job too.",
    )


class ConsequenceSerializer(Strict):
    """What another check had to say, and follows from the finding under which it stands."""

    code = serializers.CharField()
    severity = OneOf([(severity.value, severity.value) for severity in Severity])
    about = serializers.CharField()
    sentence = serializers.CharField()
    basis = serializers.CharField()


class FindingSerializer(Strict):
    """One thing that a check has to say."""

    key = serializers.CharField(help_text="What an explanation is filed under.")
    code = serializers.CharField(help_text="Of the check; never reused.")
    severity = OneOf([(severity.value, severity.value) for severity in Severity])
    about = serializers.CharField(help_text="Path of the input that it speaks of.")
    sentence = serializers.CharField()
    basis = serializers.CharField(help_text="Label edition, law, standard or practice.")
    settle = serializers.CharField(help_text="What would settle it.")
    undecided = serializers.BooleanField(help_text="It cannot be decided at this accuracy.")
    must_be_explained = serializers.BooleanField(source="severity.must_be_explained")
    leads = ConsequenceSerializer(
        many=True, help_text="What follows from it, and is explained with it."
    )


class RunSerializer(Strict):
    """What became of one check."""

    id = serializers.CharField()
    title = serializers.CharField()
    about = serializers.ListField(child=serializers.CharField())
    state = OneOf([(state.value, state.value) for state in RunState])
    why = serializers.CharField(allow_blank=True)


class RateLineSerializer(Strict):
    """Planned, delivered and allowed rate of the carrier or a product, all in “unit”."""

    subject = serializers.CharField()
    path = serializers.CharField()
    unit = serializers.CharField()
    planned = serializers.FloatField(allow_null=True)
    label_min = serializers.FloatField(allow_null=True)
    label_max = serializers.FloatField(allow_null=True)
    delivered = serializers.FloatField(allow_null=True)
    expanded = serializers.FloatField(allow_null=True, help_text="Expanded uncertainty, k · u.")
    against_planned = serializers.CharField(
        allow_blank=True,
        help_text="“agrees”, “look again”, “cannot be decided at this accuracy” or “does not "
        "agree”; empty where there is nothing to compare.",
    )
    against_label = serializers.CharField(
        allow_blank=True,
        help_text="As against_planned, or “outside the label”. What was sealed before “verdict” "
        "calls that “does not agree”.",
    )
    look_again = serializers.BooleanField()
    basis = serializers.CharField()
    verdict = serializers.CharField(
        allow_blank=True, help_text="The heavier of the two; empty in what was sealed before."
    )
    at_limit = serializers.CharField(
        allow_blank=True, help_text="That the rate is at the label's limit, and how likely beyond."
    )
    k = serializers.FloatField(help_text="Coverage factor of “expanded”, for 95 %.")
    least = serializers.FloatField(allow_null=True, help_text="The truth lies between this …")
    most = serializers.FloatField(allow_null=True, help_text="… and this; null: no upper end.")


class AssessmentSerializer(Strict):
    """All that was computed of the setting."""

    lines = RateLineSerializer(many=True)
    nozzle_flow_l_min = serializers.FloatField(allow_null=True, help_text="Of the mix.")
    nozzle_pressure_kpa = serializers.FloatField(allow_null=True)
    classes = serializers.ListField(
        child=serializers.CharField(), help_text="Candidate droplet classes, finest first."
    )
    pressure_window_kpa = serializers.ListField(
        child=serializers.FloatField(), allow_null=True, help_text="The nozzle's rated range."
    )
    speed_window_km_h = serializers.ListField(
        child=serializers.FloatField(),
        allow_null=True,
        help_text="For the planned carrier over that range.",
    )
    flow_basis = serializers.CharField(allow_blank=True)
    statements = serializers.ListField(child=serializers.CharField())
    not_computed = serializers.ListField(child=serializers.CharField())
    undecided = serializers.CharField(
        allow_blank=True, help_text="That the rig measures too coarsely, and what would do."
    )


class ExaminationSerializer(Strict):
    """What the checks say of a record as it stands."""

    revision = serializers.IntegerField(source="record.revision")
    findings = FindingSerializer(source="report.findings", many=True)
    offered = serializers.SerializerMethodField(
        help_text="By the key of a finding, what the shelf says of that blank: an explanation to "
        "send with the signature, if it still holds."
    )
    runs = RunSerializer(source="report.runs", many=True)
    assessment = AssessmentSerializer()

    def get_offered(self, seen: Examination) -> dict[str, str]:
        """Return the texts by the key of their finding."""
        return {key: one.text for key, one in standing(seen).items()}


class SealLineSerializer(Strict):
    """A seal as a line of the log."""

    number = serializers.IntegerField()
    record = ReferenceField()
    sealed_at = InstantField()
    signer = serializers.CharField(source="signer.name")
    leaf = serializers.CharField(help_text="SHA-256(0x00 ‖ text), hex.")
    previous = serializers.CharField(help_text="Link of the seal before; 64 zeros for the first.")
    link = serializers.CharField(help_text="SHA-256(0x01 ‖ previous ‖ leaf), hex.")
    findings = serializers.IntegerField()
    breaches = serializers.IntegerField()
    mismatches = serializers.IntegerField(
        allow_null=True, help_text="Null, as the next two, if purged before it was counted."
    )
    missing = serializers.IntegerField(allow_null=True)
    unexplained = serializers.IntegerField(
        allow_null=True, help_text="Findings of any severity that hold no explanation."
    )


class SealSerializer(SealLineSerializer):
    """A seal with its text, byte for byte as it was sealed."""

    text = serializers.CharField(
        help_text="Canonical JSON (RFC 8785) of all that was sealed; hash exactly this text."
    )
    amends = serializers.IntegerField(
        source="record.amends.seal.number", allow_null=True, default=None
    )
    amended_by = serializers.SerializerMethodField(
        help_text="Numbers of the seals that correct this one."
    )

    def get_amended_by(self, seal: Any) -> list[int]:
        """Return the numbers of the later seals."""
        numbers: list[int] = self.context["amended_by"]
        return numbers


class BrokenSerializer(Strict):
    """Where a log breaks."""

    number = serializers.IntegerField()
    why = serializers.CharField()


class JournalReadSerializer(Strict):
    """What came of reading the whole journal: what was done beside the signing of records."""

    checked = serializers.IntegerField()
    last_link = serializers.CharField()
    broken = BrokenSerializer(allow_null=True)


class VerificationSerializer(Strict):
    """What came of reading the whole log."""

    whole = serializers.BooleanField(
        help_text="Every seal says what was sealed, in its order, and the journal holds."
    )
    checked = serializers.IntegerField()
    last_link = serializers.CharField()
    broken = BrokenSerializer(allow_null=True)
    journal = JournalReadSerializer()


class SeasonQuery(Strict):
    """Which year."""

    year = serializers.IntegerField(min_value=FIRST_YEAR, max_value=LAST_YEAR)
    customer = ReferenceField(required=False)


class SeasonLineSerializer(Strict):
    """What one product came to on one field in a year, from sealed records alone."""

    customer = serializers.CharField(source="customer.name")
    field = serializers.CharField(source="field.name")
    product = serializers.CharField(source="product.name")
    now_called = NowCalledSerializer(many=True)
    applications = serializers.IntegerField()
    last_on = DayField()
    total = serializers.ListField(
        child=AnswerField("volume", "mass"), help_text="Sums as entered, one per unit."
    )
    used = serializers.ListField(
        child=AnswerField("volume_rate", "mass_rate"),
        help_text="Sums of the rates used, one per unit, as if all were on the same ground: the "
        "total used over the treated area, else the delivered rate, else the planned one.",
    )
    used_from = serializers.ListField(
        child=serializers.CharField(),
        help_text="What the rates used are known from, where not from totals over treated areas.",
    )
    reentry_ends = InstantField(allow_null=True)
    harvest_from = DayField(allow_null=True)
    time_zone = serializers.CharField()
    record_ids = serializers.ListField(child=serializers.UUIDField())


class SeasonSerializer(Strict):
    """The totals of a calendar year by customer, field and product."""

    year = serializers.IntegerField()
    lines = SeasonLineSerializer(many=True)
