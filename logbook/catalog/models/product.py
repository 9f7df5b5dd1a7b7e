"""Products and their dated label editions. The edition in force on the day is what counts."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.base.fields import QuantityField, bounded
from logbook.base.locale import shown, word
from logbook.base.tenancy import TenantModel
from logbook.base.validators import MOST_PREHARVEST_DAYS, MOST_REENTRY_H
from logbook.catalog.choices import (
    AdjuvantFunction,
    DropletClassChoice,
    DutyClass,
    LabelClock,
    LabelDuty,
    LabelSince,
    LabelWhen,
    ProductKind,
    WorkerWarning,
)
from logbook.facts.record import PER_AREA, PRODUCT_RATE
from logbook.facts.units import CARRIER, SHORT
from logbook.rules.duties.elements import ELEMENTS


class Product(TenantModel):
    """A product as it leaves the container."""

    name = models.CharField(max_length=200)
    registration_number = models.CharField(max_length=60, blank=True)
    registrant = models.CharField(gettext_lazy("company on the label"), max_length=200, blank=True)
    kind = models.CharField(max_length=20, choices=ProductKind)
    adjuvant_functions = models.JSONField(
        default=list, blank=True, help_text=gettext_lazy("For an adjuvant: what it does.")
    )

    class Meta(TenantModel.Meta):
        ordering = ["name", "id"]
        constraints = [
            models.CheckConstraint(name="product_kind", condition=Q(kind__in=ProductKind.values))
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        super().clean()
        unknown = [f for f in self.adjuvant_functions if f not in AdjuvantFunction.values]
        if unknown:
            raise ValidationError(
                {
                    "adjuvant_functions": _("%(given)s is not known; allowed are %(values)s.")
                    % {
                        "given": ", ".join(map(str, unknown)),
                        "values": ", ".join(AdjuvantFunction.values),
                    }
                }
            )


class LabelEdition(TenantModel):
    """What one dated edition of a label allows. Empty means that the label is silent."""

    product = models.ForeignKey(Product, on_delete=models.CASCADE, related_name="editions")
    edition = models.CharField(
        max_length=80, help_text=gettext_lazy("As printed, such as a date or a number.")
    )
    in_force_from = models.DateField()
    in_force_to = models.DateField(null=True, blank=True)
    restricted_use = models.BooleanField(gettext_lazy("restricted-use product"), default=False)
    supervised_use_allowed = models.BooleanField(
        gettext_lazy("a helper may apply it under supervision"), default=True
    )
    required_category = models.CharField(
        gettext_lazy("licence category asked for"), max_length=80, blank=True
    )
    rate_min = QuantityField(
        gettext_lazy("lowest rate"), dimensions=PRODUCT_RATE, words=False, above=0
    )
    rate_max = QuantityField(
        gettext_lazy("highest rate"), dimensions=PRODUCT_RATE, words=False, above=0
    )
    carrier_min = QuantityField(
        gettext_lazy("least carrier"),
        dimensions=["volume_rate"],
        words=False,
        above=0,
        units=CARRIER,
    )
    carrier_max = QuantityField(
        gettext_lazy("most carrier"),
        dimensions=["volume_rate"],
        words=False,
        above=0,
        units=CARRIER,
    )
    finest_class = models.CharField(
        gettext_lazy("finest droplet class allowed"),
        max_length=2,
        choices=DropletClassChoice,
        blank=True,
    )
    coarsest_class = models.CharField(
        gettext_lazy("coarsest droplet class allowed"),
        max_length=2,
        choices=DropletClassChoice,
        blank=True,
    )
    wind_min = QuantityField(
        gettext_lazy("least wind"), dimensions=["speed"], words=False, at_least=0
    )
    wind_max = QuantityField(gettext_lazy("most wind"), dimensions=["speed"], words=False, above=0)
    temperature_min = QuantityField(
        gettext_lazy("lowest temperature"), dimensions=["temperature"], words=False
    )
    temperature_max = QuantityField(
        gettext_lazy("highest temperature"), dimensions=["temperature"], words=False
    )
    boom_height_max = QuantityField(
        gettext_lazy("highest boom above the target"),
        dimensions=["length"],
        words=False,
        above=0,
        units=SHORT,
    )
    minutes_after_sunrise = models.SmallIntegerField(
        gettext_lazy("not before (minutes after sunrise)"),
        null=True,
        blank=True,
        validators=[MinValueValidator(-240), MaxValueValidator(720)],
    )
    minutes_before_sunset = models.SmallIntegerField(
        gettext_lazy("not after (minutes before sunset)"),
        null=True,
        blank=True,
        validators=[MinValueValidator(-240), MaxValueValidator(720)],
    )
    inversion_forbidden = models.BooleanField(
        gettext_lazy("forbids spraying in an inversion"), default=False
    )
    reentry_hours = models.DecimalField(
        gettext_lazy("re-entry interval (hours)"),
        max_digits=6,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(MOST_REENTRY_H)],
    )
    worker_warning = models.CharField(
        gettext_lazy("warning of workers"),
        max_length=10,
        blank=True,
        choices=WorkerWarning,
        help_text=gettext_lazy(
            "Whether it tells the farm to warn workers orally and by signs, both. Blank: not "
            "looked up yet."
        ),
    )
    preharvest_days = models.PositiveSmallIntegerField(
        gettext_lazy("pre-harvest interval (days)"),
        null=True,
        blank=True,
        validators=[MaxValueValidator(MOST_PREHARVEST_DAYS)],
    )
    season_max = QuantityField(
        gettext_lazy("most in a season"), dimensions=PER_AREA, words=False, above=0
    )
    applications_max = models.PositiveSmallIntegerField(
        gettext_lazy("most applications in a season"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
    )
    interval_days = models.PositiveSmallIntegerField(
        gettext_lazy("days between applications"), null=True, blank=True
    )
    no_drift_reducer_with_air_induction = models.BooleanField(
        gettext_lazy("no drift-reducing adjuvant with an air-induction nozzle"), default=False
    )
    required_adjuvants = models.JSONField(default=list, blank=True)
    forbidden_adjuvants = models.JSONField(default=list, blank=True)
    duty_classes = models.JSONField(
        gettext_lazy("classes that laws name"), default=list, blank=True
    )
    training = models.CharField(
        gettext_lazy("training asked of whoever applies it"),
        max_length=200,
        blank=True,
        help_text=gettext_lazy("As the label names it; blank when it asks for none."),
    )
    keep_years = models.PositiveSmallIntegerField(
        gettext_lazy("years to keep the record"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(50)],
        help_text=gettext_lazy("Counted from the application."),
    )

    class Meta(TenantModel.Meta):
        ordering = ["-in_force_from", "-created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["product", "edition"], name="one_edition_of_a_name_per_product"
            ),
            models.CheckConstraint(
                name="label_ends_after_start",
                condition=Q(in_force_to__isnull=True) | Q(in_force_to__gte=F("in_force_from")),
                violation_error_message=gettext_lazy("A label cannot end before it is in force."),
            ),
            models.CheckConstraint(
                name="label_classes_known",
                condition=Q(finest_class__in=["", *DropletClassChoice.values])
                & Q(coarsest_class__in=["", *DropletClassChoice.values]),
            ),
            models.CheckConstraint(
                name="label_reentry_not_negative",
                condition=Q(reentry_hours__isnull=True) | Q(reentry_hours__gte=0),
            ),
            *bounded(
                "label",
                positive="rate_min rate_max carrier_min carrier_max wind_max boom_height_max"
                " season_max",
                not_negative="wind_min",
            ),
        ]

    def __str__(self) -> str:
        return _("%(product)s, label %(edition)s") % {
            "product": self.product,
            "edition": self.edition,
        }

    def clean(self) -> None:
        """Refuse limits that contradict each other."""
        super().clean()
        errors: dict[str, Any] = {}
        for low_name, high_name in (
            ("rate_min", "rate_max"),
            ("carrier_min", "carrier_max"),
            ("wind_min", "wind_max"),
            ("temperature_min", "temperature_max"),
        ):
            low, high = getattr(self, low_name), getattr(self, high_name)
            if low is None or high is None:
                continue
            if low.dimension != high.dimension:
                errors[high_name] = _("%(high)s and %(low)s are different kinds of quantity.") % {
                    "high": shown(high),
                    "low": shown(low),
                }
            elif high.si < low.si:
                errors[high_name] = _("%(high)s is less than the lower limit, %(low)s.") % {
                    "high": shown(high),
                    "low": shown(low),
                }
        unknown = [name for name in self.duty_classes if name not in DutyClass.values]
        if unknown:
            errors["duty_classes"] = _("%(given)s is not known.") % {
                "given": ", ".join(map(str, unknown))
            }
        # A symbol that is none is refused beside its own column.
        symbols = (self.finest_class, self.coarsest_class)
        named = [symbol for symbol in symbols if symbol in DropletClassChoice.values]
        if named != sorted(named, key=DropletClassChoice.values.index):
            errors["coarsest_class"] = _(
                "%(coarsest)s is finer than the finest class, %(finest)s."
            ) % {"coarsest": self.coarsest_class, "finest": self.finest_class}
        if errors:
            raise ValidationError(errors)


class Ingredient(models.Model):
    """An active ingredient and how much of it the product holds."""

    edition = models.ForeignKey(LabelEdition, on_delete=models.CASCADE, related_name="ingredients")
    name = models.CharField(max_length=120)
    content = QuantityField(
        dimensions=["mass_per_volume", "mass_per_mass"], words=False, above=0, blank=False
    )
    acid_equivalent = QuantityField(
        gettext_lazy("acid equivalent, as the label prints it"),
        dimensions=["mass_per_volume", "mass_per_mass"],
        words=False,
        above=0,
    )

    class Meta:
        ordering = ["id"]
        constraints = bounded("ingredient", positive="content acid_equivalent")

    def __str__(self) -> str:
        return f"{self.name} {shown(self.content)}"


def validate_element(name: str) -> None:
    """Refuse a name that no duty knows."""
    if name not in ELEMENTS:
        raise ValidationError(
            _('"%(name)s" is no element; allowed are %(values)s.')
            % {"name": name, "values": ", ".join(ELEMENTS)}
        )


class LabelAsk(models.Model):
    """One element that the label wants in the record, beside what the law asks."""

    edition = models.ForeignKey(LabelEdition, on_delete=models.CASCADE, related_name="asks")
    element = models.CharField(max_length=40, validators=[validate_element])
    when = models.CharField(max_length=30, choices=LabelWhen, default=LabelWhen.ALWAYS)
    detail = models.CharField(gettext_lazy("as the label says it"), max_length=300, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["edition", "element"], name="label_asks_once"),
            models.CheckConstraint(name="label_ask_when", condition=Q(when__in=LabelWhen.values)),
        ]

    def __str__(self) -> str:
        return self.get_element_display()

    def get_element_display(self) -> str:
        """Return the element in words."""
        return word(ELEMENTS[self.element].title) if self.element in ELEMENTS else self.element


class LabelDeadline(models.Model):
    """One thing that the label wants done by a certain time."""

    edition = models.ForeignKey(LabelEdition, on_delete=models.CASCADE, related_name="deadlines")
    kind = models.CharField(gettext_lazy("what is due"), max_length=20, choices=LabelDuty)
    clock = models.CharField(gettext_lazy("how it counts"), max_length=20, choices=LabelClock)
    count = models.PositiveSmallIntegerField(
        gettext_lazy("how many"), null=True, blank=True, validators=[MinValueValidator(1)]
    )
    since = models.CharField(
        gettext_lazy("counted from"), max_length=20, choices=LabelSince, default=LabelSince.END
    )
    detail = models.CharField(gettext_lazy("as the label says it"), max_length=300, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                name="label_deadline_known",
                condition=Q(kind__in=LabelDuty.values)
                & Q(clock__in=LabelClock.values)
                & Q(since__in=LabelSince.values),
            ),
            models.CheckConstraint(
                name="label_deadline_counts",
                condition=Q(clock=LabelClock.SAME_DAY, count__isnull=True)
                | (~Q(clock=LabelClock.SAME_DAY) & Q(count__isnull=False, count__gt=0)),
                violation_error_message=gettext_lazy(
                    "Say how many hours or days; the same day has no number."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.get_clock_display()}"
