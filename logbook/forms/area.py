"""The area of a simple shape from measures taken in the field, for a field without a map.

It is offered beside a form and sent with it. What it comes to is said, and nothing else: a person
writes it into the input, or does not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc import shapes
from calc.errors import OutOfRange
from calc.units import convert
from logbook.facts.messages import with_unit
from logbook.facts.units import Units
from logbook.facts.wording import three
from logbook.localization.locale import localized
from logbook.quantities.inputs import AnswerFormField

WORK_OUT = "area"
"""The value of the button `add` of a record, and with `add-row-` before it of the shelf's forms."""

SHAPES: Mapping[str, tuple[Any, tuple[str, ...], Callable[..., float]]] = {
    "rectangle": (
        gettext_lazy("rectangle: length, width"),
        ("length_m", "width_m"),
        shapes.rectangle_m2,
    ),
    "triangle": (
        gettext_lazy("triangle: base, height at a right angle to it"),
        ("base_m", "height_m"),
        shapes.triangle_m2,
    ),
    "sides": (
        gettext_lazy("triangle: its three sides"),
        ("a_m", "b_m", "c_m"),
        shapes.triangle_of_sides_m2,
    ),
    "circle": (gettext_lazy("circle: radius"), ("radius_m",), shapes.circle_m2),
    "sector": (
        gettext_lazy("part of a circle: radius, and the angle between its two edges"),
        ("radius_m", "angle_deg"),
        shapes.sector_m2,
    ),
    "trapezoid": (
        gettext_lazy("trapezoid: two parallel sides, the distance between them"),
        ("side_m", "parallel_m", "width_m"),
        shapes.trapezoid_m2,
    ),
}
"""By what the form sends: the shape with its measures in their order, and how they are called."""


def _measure(label: Any) -> AnswerFormField:
    return AnswerFormField(
        dimensions=("length",),
        words=False,
        required=False,
        label=label,
        units=Units(us=("ft",), metric=("m",)),
    )


class AreaForm(forms.Form):
    """A shape and its measures, in the order that the shape names them."""

    shape = forms.ChoiceField(
        choices=[(name, words) for name, (words, _names, _area) in SHAPES.items()],
        label=gettext_lazy("Shape, and what to measure"),
    )
    first = _measure(gettext_lazy("First measure"))
    second = _measure(gettext_lazy("Second measure"))
    third = _measure(gettext_lazy("Third measure"))
    angle = AnswerFormField(
        dimensions=("angle",), words=False, required=False, label=gettext_lazy("Angle")
    )

    def __init__(self, data: Any = None, *, system: str) -> None:
        super().__init__(data, prefix="area")
        self.system = system
        self.use_required_attribute = False
        for field in self.fields.values():
            if isinstance(field, AnswerFormField):
                field.offer_unit(system)

    def clean(self) -> dict[str, Any]:
        """Work the area out, or name the measures that lack, are not asked for or not possible."""
        data: dict[str, Any] = super().clean() or {}
        if self.errors:
            return data
        _words, names, area = SHAPES[data["shape"]]
        lengths = iter(("first", "second", "third"))
        asked = {"angle" if name == "angle_deg" else next(lengths): name for name in names}
        known = {}
        for name in ("first", "second", "third", "angle"):
            value = data[name]
            if name not in asked:
                if value is not None:
                    self.add_error(name, _("This shape has no such measure; leave it blank."))
            elif value is None or value.si <= 0 or (name == "angle" and value.si > 360):
                allowed = _("above 0, and an angle at most 360°")
                self.add_error(
                    name,
                    _("%(value)s is not possible; allowed is %(allowed)s.")
                    % {"value": value or _("blank"), "allowed": allowed},
                )
            else:
                known[asked[name]] = value.si
        if self.errors:
            return data
        try:
            self.area_m2 = area(**known)
        except OutOfRange:
            raise ValidationError(
                _("No triangle has these sides: each is shorter than the other two together.")
            ) from None
        return data

    @property
    def found(self) -> str:
        """The area in both systems, the person's own first; "" where there is none."""
        if not self.is_bound or not self.is_valid():
            return ""
        hectares, acres = (
            localized(with_unit(three(convert(self.area_m2, from_unit="m2", to_unit=unit)), unit))
            for unit in ("ha", "ac")
        )
        return f"{acres} ({hectares})" if self.system == "us" else f"{hectares} ({acres})"
