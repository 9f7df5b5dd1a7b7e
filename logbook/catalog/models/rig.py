"""Nozzle models, rigs, the nozzles mounted on them, and catch tests."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc.nozzle import SIZES
from logbook.base import locale
from logbook.base.fields import QuantityField, bounded
from logbook.base.tenancy import TenantModel
from logbook.catalog.choices import DropletClassChoice, NozzleKind
from logbook.facts.units import MIX, SPACING

ACCURACY_HELP = gettext_lazy(
    "Half-width, as a quantity or in %: a gauge good to within 0.2 bar is “0.2 bar”."
)


def validate_size(size: str) -> None:
    """Refuse a size that ISO 10625 does not have."""
    if size not in SIZES:
        raise ValidationError(
            _('"%(size)s" is not a size; allowed are %(values)s.')
            % {"size": size, "values": ", ".join(SIZES)}
        )


class NozzleModel(TenantModel):
    """A nozzle as its data sheet states it; the class comes from its own table alone."""

    name = models.CharField(
        max_length=120, help_text=gettext_lazy("How you call it, such as “AI 11004”.")
    )
    kind = models.CharField(max_length=30, choices=NozzleKind)
    size = models.CharField(
        gettext_lazy("size (ISO 10625)"), max_length=4, blank=True, validators=[validate_size]
    )
    angle = models.PositiveSmallIntegerField(
        gettext_lazy("fan angle (°)"),
        null=True,
        blank=True,
        validators=[MinValueValidator(10), MaxValueValidator(180)],
    )
    rated_flow = QuantityField(dimensions=["flow"], words=False, above=0, blank=False)
    rated_pressure = QuantityField(dimensions=["pressure"], words=False, above=0, blank=False)
    exponent = models.DecimalField(
        gettext_lazy("pressure exponent"),
        max_digits=4,
        decimal_places=3,
        default=Decimal("0.5"),
        validators=[MinValueValidator(Decimal("0.4")), MaxValueValidator(Decimal("0.6"))],
        help_text=gettext_lazy("0.5 unless the data sheet or your own tests say otherwise."),
    )
    flow_accuracy_percent = models.DecimalField(
        gettext_lazy("flow of a new nozzle within (%)"),
        max_digits=4,
        decimal_places=1,
        default=Decimal(5),
        validators=[MinValueValidator(Decimal("0.1")), MaxValueValidator(Decimal(50))],
    )
    pressure_min = QuantityField(
        gettext_lazy("lowest rated pressure"),
        dimensions=["pressure"],
        words=False,
        above=0,
        blank=False,
    )
    pressure_max = QuantityField(
        gettext_lazy("highest rated pressure"),
        dimensions=["pressure"],
        words=False,
        above=0,
        blank=False,
    )

    class Meta(TenantModel.Meta):
        ordering = ["name", "id"]
        constraints = [
            models.CheckConstraint(name="nozzle_kind", condition=Q(kind__in=NozzleKind.values)),
            models.CheckConstraint(
                name="nozzle_exponent", condition=Q(exponent__gte=0.4) & Q(exponent__lte=0.6)
            ),
            models.CheckConstraint(
                name="nozzle_pressure_range",
                condition=Q(pressure_max_si__gte=models.F("pressure_min_si")),
                violation_error_message=gettext_lazy("The highest pressure is below the lowest."),
            ),
            *bounded("nozzle", positive="rated_flow rated_pressure pressure_min pressure_max"),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Refuse a range that is none: the constraint sees reference values only when saving."""
        super().clean()
        low, high = self.pressure_min, self.pressure_max
        if low is not None and high is not None and high.si <= low.si:
            raise ValidationError(
                {
                    "pressure_max": _("%(high)s is not above the lowest, %(low)s.")
                    % {"high": locale.shown(high), "low": locale.shown(low)}
                }
            )


class NozzleClassRow(models.Model):
    """At this pressure the data sheet gives this droplet class."""

    nozzle = models.ForeignKey(NozzleModel, on_delete=models.CASCADE, related_name="class_rows")
    pressure = QuantityField(dimensions=["pressure"], words=False, above=0, blank=False)
    droplet_class = models.CharField(max_length=2, choices=DropletClassChoice)

    class Meta:
        ordering = ["pressure_si", "id"]
        constraints = [
            models.CheckConstraint(
                name="class_row_known", condition=Q(droplet_class__in=DropletClassChoice.values)
            ),
            *bounded("class_row", positive="pressure"),
        ]

    def __str__(self) -> str:
        return f"{locale.shown(self.pressure)} {self.droplet_class}"


class Rig(TenantModel):
    """A ground rig and how well its instruments measure."""

    name = models.CharField(max_length=120)
    plate = models.CharField(gettext_lazy("licence plate or number"), max_length=40, blank=True)
    tank = QuantityField(
        gettext_lazy("tank"),
        dimensions=["volume"],
        words=False,
        above=0,
        units=MIX,
        blank=False,
    )
    spacing = QuantityField(
        gettext_lazy("nozzle spacing"),
        dimensions=["length"],
        words=False,
        above=0,
        at_most=30,
        units=SPACING,
        blank=False,
    )
    nozzle_count = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])
    gauge_accuracy = QuantityField(
        gettext_lazy("pressure gauge good to within"),
        dimensions=["pressure", "fraction"],
        words=False,
        above=0,
        blank=False,
        help_text=ACCURACY_HELP,
    )
    speed_accuracy = QuantityField(
        gettext_lazy("ground speed good to within"),
        dimensions=["speed", "fraction"],
        words=False,
        above=0,
        blank=False,
        help_text=ACCURACY_HELP,
    )
    spacing_accuracy_percent = models.DecimalField(
        gettext_lazy("nozzle spacing within (%)"),
        max_digits=4,
        decimal_places=1,
        default=Decimal(1),
        validators=[MinValueValidator(0), MaxValueValidator(20)],
    )
    tank_accuracy_percent = models.DecimalField(
        gettext_lazy("tank marks within (%)"),
        max_digits=4,
        decimal_places=1,
        default=Decimal(3),
        validators=[MinValueValidator(0), MaxValueValidator(50)],
    )
    line_loss = QuantityField(
        gettext_lazy("pressure lost between gauge and nozzle"), dimensions=["pressure"], at_least=0
    )
    line_loss_flow = QuantityField(
        gettext_lazy("… at this flow of the boom"), dimensions=["flow"], above=0
    )

    class Meta(TenantModel.Meta):
        ordering = ["name", "id"]
        constraints = [
            models.CheckConstraint(name="rig_has_nozzles", condition=Q(nozzle_count__gt=0)),
            *bounded(
                "rig",
                positive="tank spacing gauge_accuracy speed_accuracy line_loss_flow",
                not_negative="line_loss",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class NozzleSet(TenantModel):
    """Nozzles of one model, mounted on a rig from a day on."""

    rig = models.ForeignKey(Rig, on_delete=models.PROTECT, related_name="nozzle_sets")
    nozzle = models.ForeignKey(NozzleModel, on_delete=models.PROTECT, related_name="sets")
    mounted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)

    class Meta(TenantModel.Meta):
        ordering = ["-mounted_on", "id"]
        constraints = [
            models.CheckConstraint(
                name="nozzle_set_ends_after_start",
                condition=Q(removed_on__isnull=True) | Q(removed_on__gte=models.F("mounted_on")),
                violation_error_message=gettext_lazy(
                    "Nozzles cannot be taken off before they are mounted."
                ),
            )
        ]

    def __str__(self) -> str:
        return _("%(nozzle)s on %(rig)s since %(day)s") % {
            "nozzle": self.nozzle,
            "rig": self.rig,
            "day": locale.day(self.mounted_on),
        }


class CatchTest(TenantModel):
    """Water caught from each nozzle for the same time at one pressure at the nozzle."""

    nozzle_set = models.ForeignKey(NozzleSet, on_delete=models.PROTECT, related_name="catch_tests")
    tested_on = models.DateField()
    tested_by = models.CharField(max_length=150)
    pressure = QuantityField(
        gettext_lazy("pressure at the nozzle"),
        dimensions=["pressure"],
        words=False,
        above=0,
        blank=False,
    )
    time = QuantityField(
        gettext_lazy("time caught"), dimensions=["time"], words=False, above=0, blank=False
    )
    volumes = models.JSONField(help_text=gettext_lazy("One volume per nozzle, as read, in order."))
    volume_unit = models.CharField(
        max_length=10, choices=[(u, u) for u in ("mL", "L", "fl oz", "pt", "qt", "gal")]
    )
    accuracy_percent = models.DecimalField(
        gettext_lazy("catch and clock together within (%)"),
        max_digits=4,
        decimal_places=1,
        default=Decimal(2),
        validators=[MinValueValidator(Decimal("0.1")), MaxValueValidator(Decimal(20))],
    )

    class Meta(TenantModel.Meta):
        ordering = ["-tested_on", "-created_at"]
        constraints = bounded("catch_test", positive="pressure time")

    def __str__(self) -> str:
        return _("catch test of %(day)s") % {"day": locale.day(self.tested_on)}

    def clean(self) -> None:
        super().clean()
        entered = self.volumes if isinstance(self.volumes, list) else []
        bad = []
        for place, volume in enumerate(entered, start=1):
            try:
                positive = Decimal(str(volume)) > 0
            except InvalidOperation:
                positive = False
            if not positive:
                bad.append(
                    _("nozzle %(number)d: %(volume)s is not a volume above zero")
                    % {"number": place, "volume": repr(volume)}
                )
        if not entered:
            bad.append(_("enter one volume per nozzle"))
        if bad:
            raise ValidationError({"volumes": f"{'; '.join(bad)}."})

    def readings(self) -> tuple[Decimal, ...]:
        """Return the volumes as entered, one per nozzle."""
        return tuple(Decimal(str(volume)) for volume in self.volumes)
