"""Nozzle models, rigs, the nozzles mounted on them, and catch tests."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc.nozzle import SIZES
from logbook.catalog.models.standing import StandingBlanks
from logbook.facts.choices import DROPLET_CLASSES, NOZZLE_KINDS
from logbook.facts.record import CatchTestFacts, ClassRow, NozzleFacts, RigFacts
from logbook.localization import locale
from logbook.quantities.columns import bounds_of, column_of
from logbook.tenancy.models import TenantModel

VOLUME_UNITS = ("mL", "L", "fl oz", "pt", "qt", "gal")
"""What a measuring cup shows."""


def validate_size(size: str) -> None:
    """Refuse a size that ISO 10625 does not have."""
    if size not in SIZES:
        raise ValidationError(
            _('"%(size)s" is not a size; allowed are %(values)s.')
            % {"size": size, "values": ", ".join(SIZES)}
        )


class NozzleModel(TenantModel):
    """A nozzle as its data sheet states it; the class comes from its own table alone."""

    name = column_of(NozzleFacts, "name", blank=False)
    kind = column_of(NozzleFacts, "kind", max_length=30)
    size = column_of(NozzleFacts, "size", validators=[validate_size])
    angle = column_of(NozzleFacts, "angle")
    rated_flow = column_of(NozzleFacts, "rated_flow", blank=False)
    rated_pressure = column_of(NozzleFacts, "rated_pressure", blank=False)
    exponent = column_of(NozzleFacts, "exponent", default=Decimal("0.5"))
    flow_accuracy_percent = column_of(NozzleFacts, "flow_accuracy_percent", default=Decimal(5))
    pressure_min = column_of(NozzleFacts, "pressure_min", blank=False)
    pressure_max = column_of(NozzleFacts, "pressure_max", blank=False)

    class Meta(TenantModel.Meta):
        ordering = ["name", "id"]
        constraints = [
            models.CheckConstraint(name="nozzle_kind", condition=Q(kind__in=[*NOZZLE_KINDS])),
            models.CheckConstraint(
                name="nozzle_exponent", condition=Q(exponent__gte=0.4) & Q(exponent__lte=0.6)
            ),
            models.CheckConstraint(
                name="nozzle_pressure_range",
                condition=Q(pressure_max_si__gte=models.F("pressure_min_si")),
                violation_error_message=gettext_lazy("The highest pressure is below the lowest."),
            ),
            *bounds_of("nozzle", NozzleFacts),
        ]

    def __str__(self) -> str:
        return str(self.name)

    def clean(self) -> None:
        """Refuse a range that is none: the constraint sees reference values only when saving."""
        super().clean()
        low, high = self.pressure_min, self.pressure_max
        if low is not None and high is not None and high.si <= low.si:
            raise ValidationError(
                {
                    "pressure_max": _("%(high)s is not above the lowest, %(low)s.")
                    % {"high": locale.format_value(high), "low": locale.format_value(low)}
                }
            )


class NozzleClassRow(models.Model):
    """At this pressure the data sheet gives this droplet class."""

    nozzle = models.ForeignKey(NozzleModel, on_delete=models.CASCADE, related_name="class_rows")
    pressure = column_of(ClassRow, "pressure", blank=False)
    droplet_class = column_of(ClassRow, "droplet_class", max_length=2)

    class Meta:
        ordering = ["pressure_si", "id"]
        constraints = [
            models.CheckConstraint(
                name="class_row_known", condition=Q(droplet_class__in=[*DROPLET_CLASSES])
            ),
            *bounds_of("class_row", ClassRow),
        ]

    def __str__(self) -> str:
        return f"{locale.format_value(self.pressure)} {self.droplet_class}"


class Rig(StandingBlanks, TenantModel):
    """A ground rig and how well its instruments measure."""

    name = column_of(RigFacts, "name", blank=False)
    plate = column_of(RigFacts, "plate")
    tank = column_of(RigFacts, "tank", blank=False)
    spacing = column_of(RigFacts, "spacing", blank=False)
    nozzle_count = column_of(RigFacts, "nozzle_count", null=False, blank=False)
    gauge_accuracy = column_of(RigFacts, "gauge_accuracy", blank=False)
    speed_accuracy = column_of(RigFacts, "speed_accuracy", blank=False)
    spacing_accuracy_percent = column_of(RigFacts, "spacing_accuracy_percent", default=Decimal(1))
    tank_accuracy_percent = column_of(RigFacts, "tank_accuracy_percent", default=Decimal(3))
    line_loss = column_of(RigFacts, "line_loss")
    line_loss_flow = column_of(RigFacts, "line_loss_flow")
    gauge_repeatability = column_of(RigFacts, "gauge_repeatability")

    class Meta(TenantModel.Meta):
        ordering = ["name", "id"]
        constraints = [
            models.CheckConstraint(name="rig_has_nozzles", condition=Q(nozzle_count__gt=0)),
            *bounds_of("rig", RigFacts),
        ]

    def __str__(self) -> str:
        return str(self.name)


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
            "day": locale.format_day(self.mounted_on),
        }


class CatchTest(TenantModel):
    """Water caught from each nozzle for the same time at one pressure at the nozzle."""

    nozzle_set = models.ForeignKey(NozzleSet, on_delete=models.PROTECT, related_name="catch_tests")
    tested_on = column_of(CatchTestFacts, "tested_on")
    tested_by = column_of(CatchTestFacts, "tested_by", blank=False)
    pressure = column_of(CatchTestFacts, "pressure", blank=False)
    time = column_of(CatchTestFacts, "time", blank=False)
    volumes = column_of(CatchTestFacts, "volumes")
    volume_unit = column_of(
        CatchTestFacts, "volume_unit", blank=False, choices=[(u, u) for u in VOLUME_UNITS]
    )
    accuracy_percent = column_of(CatchTestFacts, "accuracy_percent", default=Decimal(2))
    gauge = column_of(CatchTestFacts, "gauge")
    gauge_accuracy = column_of(CatchTestFacts, "gauge_accuracy")

    class Meta(TenantModel.Meta):
        ordering = ["-tested_on", "-created_at"]
        constraints = bounds_of("catch_test", CatchTestFacts)

    def __str__(self) -> str:
        return _("catch test of %(day)s") % {"day": locale.format_day(self.tested_on)}

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
