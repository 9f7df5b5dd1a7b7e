"""Products and their dated label editions. The edition in force on the day is what counts."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.catalog.choices import (
    DutyClass,
    LabelClock,
    LabelDuty,
    LabelSince,
    LabelWhen,
)
from logbook.facts.choices import ADJUVANT_FUNCTIONS, DROPLET_CLASSES, PRODUCT_KINDS
from logbook.facts.record import IngredientFacts, LabelFacts, ProductFacts
from logbook.law.elements import ELEMENTS
from logbook.localization.locale import format_value, translate_word
from logbook.quantities.columns import bounds_of, column_of
from logbook.tenancy.models import TenantModel


class Product(TenantModel):
    """A product as it leaves the container."""

    name = column_of(ProductFacts, "name", blank=False)
    registration_number = column_of(ProductFacts, "registration_number")
    registrant = column_of(ProductFacts, "registrant")
    kind = column_of(ProductFacts, "kind", max_length=20)
    adjuvant_functions = column_of(ProductFacts, "adjuvant_functions")

    class Meta(TenantModel.Meta):
        ordering = ["name", "id"]
        constraints = [
            models.CheckConstraint(name="product_kind", condition=Q(kind__in=[*PRODUCT_KINDS]))
        ]

    def __str__(self) -> str:
        return str(self.name)

    def clean(self) -> None:
        super().clean()
        unknown = [f for f in self.adjuvant_functions if f not in ADJUVANT_FUNCTIONS]
        if unknown:
            raise ValidationError(
                {
                    "adjuvant_functions": _("%(given)s is not known; allowed are %(values)s.")
                    % {
                        "given": ", ".join(map(str, unknown)),
                        "values": ", ".join(ADJUVANT_FUNCTIONS),
                    }
                }
            )


class LabelEdition(TenantModel):
    """What one dated edition of a label allows. Empty means that the label is silent."""

    product = models.ForeignKey(Product, on_delete=models.CASCADE, related_name="editions")
    edition = column_of(LabelFacts, "edition", blank=False)
    in_force_from = column_of(LabelFacts, "in_force_from")
    in_force_to = column_of(LabelFacts, "in_force_to", null=True, blank=True)
    restricted_use = column_of(LabelFacts, "restricted_use")
    supervised_use_allowed = column_of(LabelFacts, "supervised_use_allowed")
    required_category = column_of(LabelFacts, "required_category")
    rate_min = column_of(LabelFacts, "rate_min")
    rate_max = column_of(LabelFacts, "rate_max")
    carrier_min = column_of(LabelFacts, "carrier_min")
    carrier_max = column_of(LabelFacts, "carrier_max")
    finest_class = column_of(LabelFacts, "finest_class", max_length=2)
    coarsest_class = column_of(LabelFacts, "coarsest_class", max_length=2)
    wind_min = column_of(LabelFacts, "wind_min")
    wind_max = column_of(LabelFacts, "wind_max")
    temperature_min = column_of(LabelFacts, "temperature_min")
    temperature_max = column_of(LabelFacts, "temperature_max")
    boom_height_max = column_of(LabelFacts, "boom_height_max")
    minutes_after_sunrise = column_of(LabelFacts, "minutes_after_sunrise")
    minutes_before_sunset = column_of(LabelFacts, "minutes_before_sunset")
    inversion_forbidden = column_of(LabelFacts, "inversion_forbidden")
    reentry_hours = column_of(LabelFacts, "reentry_hours", null=True, blank=True)
    worker_warning = column_of(LabelFacts, "worker_warning")
    preharvest_days = column_of(LabelFacts, "preharvest_days")
    season_max = column_of(LabelFacts, "season_max")
    applications_max = column_of(LabelFacts, "applications_max")
    interval_days = column_of(LabelFacts, "interval_days")
    no_drift_reducer_with_air_induction = column_of(
        LabelFacts, "no_drift_reducer_with_air_induction"
    )
    required_adjuvants = column_of(LabelFacts, "required_adjuvants", default=list, blank=True)
    forbidden_adjuvants = column_of(LabelFacts, "forbidden_adjuvants", default=list, blank=True)
    duty_classes = column_of(LabelFacts, "classes", default=list, blank=True)
    training = column_of(LabelFacts, "training")
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
                condition=Q(finest_class__in=["", *DROPLET_CLASSES])
                & Q(coarsest_class__in=["", *DROPLET_CLASSES]),
            ),
            models.CheckConstraint(
                name="label_reentry_not_negative",
                condition=Q(reentry_hours__isnull=True) | Q(reentry_hours__gte=0),
            ),
            *bounds_of("label", LabelFacts),
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
                    "high": format_value(high),
                    "low": format_value(low),
                }
            elif high.si < low.si:
                errors[high_name] = _("%(high)s is less than the lower limit, %(low)s.") % {
                    "high": format_value(high),
                    "low": format_value(low),
                }
        unknown = [name for name in self.duty_classes if name not in DutyClass.values]
        if unknown:
            errors["duty_classes"] = _("%(given)s is not known.") % {
                "given": ", ".join(map(str, unknown))
            }
        # A symbol that is none is refused beside its own column.
        symbols = (self.finest_class, self.coarsest_class)
        named = [symbol for symbol in symbols if symbol in DROPLET_CLASSES]
        if named != sorted(named, key=[*DROPLET_CLASSES].index):
            errors["coarsest_class"] = _(
                "%(coarsest)s is finer than the finest class, %(finest)s."
            ) % {"coarsest": self.coarsest_class, "finest": self.finest_class}
        if errors:
            raise ValidationError(errors)


class Ingredient(models.Model):
    """An active ingredient and how much of it the product holds."""

    edition = models.ForeignKey(LabelEdition, on_delete=models.CASCADE, related_name="ingredients")
    name = column_of(IngredientFacts, "name", blank=False)
    content = column_of(IngredientFacts, "content", blank=False)
    acid_equivalent = column_of(IngredientFacts, "acid_equivalent")

    class Meta:
        ordering = ["id"]
        constraints = bounds_of("ingredient", IngredientFacts)

    def __str__(self) -> str:
        return f"{self.name} {format_value(self.content)}"


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
        return (
            translate_word(ELEMENTS[self.element].title)
            if self.element in ELEMENTS
            else self.element
        )


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
