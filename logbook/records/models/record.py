"""The application record and what hangs on it: product lines, loads, weather, explanations."""

from __future__ import annotations

import uuid
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.catalog.models import (
    Customer,
    Field,
    LabelEdition,
    NozzleSet,
    Planting,
    Product,
    Rig,
)
from logbook.facts.choices import BROADCAST, PATTERNS, SIGNS
from logbook.facts.days import days_of_work
from logbook.facts.messages import gettext_noop
from logbook.facts.record import (
    CropFacts,
    LoadFacts,
    LoadPartFacts,
    PictureFacts,
    ProductFacts,
    RecordFacts,
    WeatherFacts,
)
from logbook.localization.locale import format_value, translate_word
from logbook.quantities.columns import bounded, bounds_of, column_of
from logbook.records.names import Named, now_called
from logbook.tenancy.models import TenantModel
from logbook.validators import validate_time_zone


def _sealed_name() -> Any:
    # Null, not "": SQLite then adds the column without writing a million rows anew.
    return models.CharField(max_length=200, null=True, editable=False)


class ApplicationRecord(TenantModel):
    """What was done to one field in one go. Empty means not yet said; words are answers.

    A record is a draft until `signed_at` is set; from then on the database itself refuses every
    change to it and to what hangs on it.
    """

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, null=True, blank=True)
    field = models.ForeignKey(Field, on_delete=models.PROTECT, null=True, blank=True)
    planting = models.ForeignKey(
        Planting, on_delete=models.PROTECT, null=True, blank=True, verbose_name=gettext_lazy("crop")
    )
    growth_stage = column_of(CropFacts, "growth_stage_bbch")
    purpose = column_of(RecordFacts, "purpose")
    pattern = column_of(RecordFacts, "pattern", default=BROADCAST)
    band_width = column_of(RecordFacts, "band_width")
    row_spacing = column_of(RecordFacts, "row_spacing")
    nozzles_per_row = column_of(RecordFacts, "nozzles_per_row")
    applicator = models.ForeignKey(
        "accounts.Person",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=gettext_lazy("sprayed by"),
    )
    supervisor = models.ForeignKey(
        "accounts.Person",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=gettext_lazy("supervised by"),
    )
    rig = models.ForeignKey(Rig, on_delete=models.PROTECT, null=True, blank=True)
    nozzle_set = models.ForeignKey(
        NozzleSet,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        verbose_name=gettext_lazy("nozzles"),
    )
    time_zone = models.CharField(max_length=60, default="UTC", validators=[validate_time_zone])
    started_at = column_of(RecordFacts, "started_at", null=True, blank=True)
    finished_at = column_of(RecordFacts, "finished_at", null=True, blank=True)
    treated_area = column_of(RecordFacts, "treated_area")
    planned_carrier = column_of(RecordFacts, "planned_carrier")
    pressure = column_of(RecordFacts, "pressure")
    speed = column_of(RecordFacts, "speed")
    boom_height = column_of(RecordFacts, "boom_height")
    duty = column_of(RecordFacts, "duty")
    density = column_of(RecordFacts, "density")
    distance = column_of(RecordFacts, "distance")
    mix_used = column_of(RecordFacts, "mix_used")
    note = column_of(RecordFacts, "note")
    statements = models.JSONField(default=dict, blank=True)
    continues = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="continued_by",
        help_text=gettext_lazy(
            "The record of the same job, broken off before; each has its own area."
        ),
    )
    amends = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="amendment"
    )
    amend_reason = models.TextField(gettext_lazy("reason for the amendment"), blank=True)
    created_by = models.ForeignKey(
        "accounts.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    updated_at = models.DateTimeField(auto_now=True)
    revision = models.PositiveIntegerField(default=1)
    signed_at = models.DateTimeField(null=True, editable=False)
    # Values taken over from elsewhere that nobody touched or confirmed yet: name -> where from.
    carried = models.JSONField(default=dict, blank=True, editable=False)
    set_aside_at = models.DateTimeField(null=True, editable=False)  # its trace: SetAside
    book_at = models.DateTimeField(editable=False)  # its place in the book: start, end, or now
    # What the shelf called them when it was signed, out of the sealed text; lists read no text.
    sealed_customer = _sealed_name()
    sealed_field = _sealed_name()
    sealed_crop = _sealed_name()
    sealed_applicator = _sealed_name()
    sealed_rig = _sealed_name()

    class Meta(TenantModel.Meta):
        ordering = ["-book_at", "-id"]
        indexes = [
            models.Index(fields=["business", "-book_at", "-id"], name="record_book_order"),
            models.Index(fields=["field", "started_at"], name="record_field_jobs"),
            # The book narrowed by one thing is in the order of the book, too.
            *(
                models.Index(fields=["business", name, "-book_at", "-id"], name=f"record_by_{name}")
                for name in ("customer", "field", "applicator", "rig")
            ),
            models.Index(
                fields=["business", "-book_at", "-id"],
                name="record_drafts",
                condition=Q(signed_at__isnull=True),
            ),
            models.Index(
                fields=["business", "signed_at"],
                name="record_amendments",
                condition=Q(amends__isnull=False),
            ),
        ]
        constraints = [
            models.CheckConstraint(
                name="application_ends_after_start",
                condition=Q(finished_at__isnull=True)
                | Q(started_at__isnull=True)
                | Q(finished_at__gte=F("started_at")),
                violation_error_message=gettext_lazy("The spraying cannot end before it starts."),
            ),
            models.CheckConstraint(
                name="application_pattern", condition=Q(pattern__in=list(PATTERNS))
            ),
            models.CheckConstraint(
                name="application_growth_stage",
                condition=Q(growth_stage__isnull=True) | Q(growth_stage__lte=99),
            ),
            models.CheckConstraint(
                name="amendment_has_reason",
                condition=Q(amends__isnull=True) | ~Q(amend_reason=""),
                violation_error_message=gettext_lazy("An amendment needs its reason."),
            ),
            models.CheckConstraint(
                name="application_continues_another",
                condition=Q(continues__isnull=True) | ~Q(continues=F("id")),
                violation_error_message=gettext_lazy("A record cannot continue itself."),
            ),
            models.CheckConstraint(
                name="set_aside_is_not_signed",
                condition=Q(set_aside_at__isnull=True) | Q(signed_at__isnull=True),
                violation_error_message=gettext_lazy("A signed record cannot be set aside."),
            ),
            *bounds_of("application", RecordFacts),
        ]

    def __str__(self) -> str:
        return f"{self.field_name.name or _('no field yet')}, {translate_word(self.get_state())}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.book_at = self.started_at or self.finished_at or self.book_at or timezone.now()
        super().save(*args, **kwargs)

    def get_state(self) -> str:
        """Return "signed", "draft" or "set aside"."""
        if self.set_aside_at:
            return gettext_noop("set aside")
        return gettext_noop("signed") if self.signed_at else gettext_noop("draft")

    @property
    def customer_name(self) -> Named:
        """What the customer is called here."""
        return Named.of(self.sealed_customer, self.customer.name if self.customer else None)

    @property
    def field_name(self) -> Named:
        """What the field is called here."""
        return Named.of(self.sealed_field, self.field.name if self.field else None)

    @property
    def crop_name(self) -> Named:
        """What the crop is called here."""
        return Named.of(self.sealed_crop, self.planting.crop if self.planting else None)

    @property
    def now_called(self) -> list[dict[str, str]]:
        """What is called otherwise by now."""
        names = [("customer", self.customer_name), ("field", self.field_name)]
        names += [("crop", self.crop_name)]
        return now_called([*names, *(("product", line.named) for line in self.products.all())])

    @property
    def days(self) -> tuple[date, ...]:
        """The first and the last local day of the work: `days_of_work`."""
        return days_of_work(self.started_at, self.finished_at, ZoneInfo(self.time_zone))

    @property
    def day(self) -> date | None:
        """The day of the work, on which it began, local at the field; None if not known."""
        return next(iter(self.days), None)

    @property
    def superseded_by(self) -> int | None:
        """The number of the signed amendment that corrects this record, if there is one."""
        amendment = getattr(self, "amendment", None)
        return amendment.seal.number if amendment and amendment.signed_at else None

    def clean(self) -> None:
        """Refuse parts that do not belong together."""
        super().clean()
        errors = {}
        if self.planting and self.field and self.planting.field_id != self.field_id:
            errors["planting"] = _("%(crop)s does not stand on %(field)s.") % {
                "crop": self.planting,
                "field": self.field,
            }
        if self.continues and self.continues.field_id != self.field_id:
            errors["continues"] = _("A job is resumed on the field on which it was broken off.")
        elif self.continues and not _begun_before(self.continues, self):
            errors["continues"] = _("The record it continues begins no earlier than this one.")
        elif self.continues and _goes_on_from(self.continues, self):
            errors["continues"] = _("The record it continues goes on from this one.")
        if self.nozzle_set and self.rig and self.nozzle_set.rig_id != self.rig_id:
            errors["nozzle_set"] = _("%(nozzles)s is not mounted on %(rig)s.") % {
                "nozzles": self.nozzle_set,
                "rig": self.rig,
            }
        if errors:
            raise ValidationError(errors)


def _goes_on_from(later: ApplicationRecord, earlier: ApplicationRecord) -> bool:
    """Return whether the job of `later` goes back, part by part, to `earlier`."""
    part, seen = later.continues, {later.pk}
    while part is not None and part != earlier and part.pk not in seen:
        seen.add(part.pk)
        part = part.continues
    return part == earlier


def _begun_before(earlier: ApplicationRecord, later: ApplicationRecord) -> bool:
    """Return whether `earlier` begins first, as far as both beginnings are known."""
    if earlier.started_at is None or later.started_at is None:
        return True
    return bool(earlier.started_at < later.started_at)


class SetAside(models.Model):
    """A draft set aside: who, when and why; and who brought it back, if somebody did."""

    record = models.ForeignKey(
        ApplicationRecord, on_delete=models.CASCADE, related_name="set_asides"
    )
    at = models.DateTimeField()
    by = models.ForeignKey("accounts.User", on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=500)
    back_at = models.DateTimeField(null=True, blank=True)
    back_by = models.ForeignKey(
        "accounts.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.CheckConstraint(name="set_aside_has_reason", condition=~Q(reason="")),
            models.UniqueConstraint(
                fields=["record"],
                condition=Q(back_at__isnull=True),
                name="set_aside_once_at_a_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d}: {self.reason}"


class CrewMember(models.Model):
    """A further person who sprayed in the same job, beside the one named first."""

    record = models.ForeignKey(ApplicationRecord, on_delete=models.CASCADE, related_name="crew")
    person = models.ForeignKey("accounts.Person", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["person__name", "id"]
        constraints = [
            models.UniqueConstraint(fields=["record", "person"], name="person_once_in_crew")
        ]

    def __str__(self) -> str:
        return str(self.person)


class ProductLine(models.Model):
    """One product of the mix, each fact as entered: the rate, and the undiluted total."""

    record = models.ForeignKey(ApplicationRecord, on_delete=models.CASCADE, related_name="products")
    position = models.PositiveSmallIntegerField()
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="+")
    label = models.ForeignKey(
        LabelEdition,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=gettext_lazy("label edition"),
    )
    planned_rate = column_of(ProductFacts, "planned_rate")
    total_used = column_of(ProductFacts, "total_used")
    target = column_of(ProductFacts, "target")
    sealed_product = _sealed_name()

    class Meta:
        ordering = ["position", "id"]
        constraints = [
            models.UniqueConstraint(fields=["record", "product"], name="product_once_per_record"),
            *bounds_of("product_line", ProductFacts),
        ]

    def __str__(self) -> str:
        return f"{self.named.name} {self.planned_rate}"

    @property
    def named(self) -> Named:
        """What the product is called here."""
        return Named.of(self.sealed_product, self.product.name)

    def clean(self) -> None:
        super().clean()
        if self.label_id and self.label and self.label.product_id != self.product_id:
            named = {"label": self.label, "product": self.product}
            raise ValidationError({"label": _("%(label)s is not a label of %(product)s.") % named})


class Load(TenantModel):
    """One tank fill; it may serve several fields in an order."""

    rig = models.ForeignKey(Rig, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    mixed_volume = column_of(LoadFacts, "mixed_volume")
    copy_of = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text=gettext_lazy("The sealed load that this one corrects."),
    )

    class Meta(TenantModel.Meta):
        ordering = ["created_at", "id"]
        constraints = bounded("load", positive="mixed_volume")

    def __str__(self) -> str:
        return _("load of %(volume)s") % {"volume": format_value(self.mixed_volume)}


class LoadPart(models.Model):
    """How much of a product went into a load."""

    load = models.ForeignKey(Load, on_delete=models.CASCADE, related_name="parts")
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="+")
    amount = column_of(LoadPartFacts, "amount", blank=False)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["load", "product"], name="product_once_per_load"),
            *bounds_of("load_part", LoadPartFacts),
        ]

    def __str__(self) -> str:
        return f"{self.amount} {self.product}"


class LoadUse(models.Model):
    """What of a load went on the field of one record, and as which field in order."""

    record = models.ForeignKey(
        ApplicationRecord, on_delete=models.CASCADE, related_name="load_uses"
    )
    load = models.ForeignKey(Load, on_delete=models.PROTECT, related_name="uses")
    order = column_of(LoadFacts, "order", default=1, null=False, blank=False)
    used = column_of(LoadFacts, "used_here")

    class Meta:
        ordering = ["load__created_at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["record", "load"], name="load_once_per_record"),
            *bounded("load_use", not_negative="used"),
        ]

    def __str__(self) -> str:
        return f"{self.used} of {self.load}"


class WeatherReading(models.Model):
    """One look at the weather: when, how high, and what was read."""

    record = models.ForeignKey(ApplicationRecord, on_delete=models.CASCADE, related_name="weather")
    read_at = column_of(WeatherFacts, "read_at")
    height = column_of(WeatherFacts, "height")
    wind_from = column_of(WeatherFacts, "wind_from")
    wind_speed = column_of(WeatherFacts, "wind_speed")
    gust = column_of(WeatherFacts, "gust")
    temperature = column_of(WeatherFacts, "temperature")
    humidity = column_of(WeatherFacts, "humidity")
    cloud = column_of(WeatherFacts, "cloud")
    signs = column_of(WeatherFacts, "signs")

    class Meta:
        ordering = ["read_at", "id"]
        constraints = bounds_of("weather", WeatherFacts)

    def __str__(self) -> str:
        return f"{self.read_at:%Y-%m-%d %H:%M}"

    def clean(self) -> None:
        super().clean()
        unknown = [sign for sign in self.signs or () if sign not in SIGNS]
        if unknown:
            given = {"given": ", ".join(map(str, unknown))}
            raise ValidationError({"signs": _("%(given)s is not a known sign.") % given})


class Picture(models.Model):
    """A picture put to a record; `records.sealing.pictures` stores its bytes."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    record = models.ForeignKey(ApplicationRecord, on_delete=models.CASCADE, related_name="pictures")
    shows = column_of(PictureFacts, "shows")
    caption = column_of(PictureFacts, "caption", default="")
    sha256 = models.CharField(max_length=64)
    taken = column_of(PictureFacts, "taken", default="")
    place = column_of(PictureFacts, "place", default="")
    added_by = models.ForeignKey("accounts.User", on_delete=models.PROTECT, related_name="+")
    added_at = models.DateTimeField()

    class Meta:
        ordering = ["added_at", "id"]
        constraints = [models.CheckConstraint(name="picture_has_digest", condition=~Q(sha256=""))]

    def __str__(self) -> str:
        return f"{self.shows} {self.caption}".strip()


class Explanation(models.Model):
    """What the signer says about one finding; it is sealed with the record."""

    record = models.ForeignKey(
        ApplicationRecord, on_delete=models.CASCADE, related_name="explanations"
    )
    finding = models.CharField(max_length=200)
    text = models.TextField()

    class Meta:
        ordering = ["finding"]
        constraints = [
            models.UniqueConstraint(fields=["record", "finding"], name="one_explanation_a_finding"),
            models.CheckConstraint(name="explanation_not_empty", condition=~Q(text="")),
        ]

    def __str__(self) -> str:
        return self.finding
