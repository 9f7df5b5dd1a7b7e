"""What the forms of a record share: the clock at the field, a choice among rows, its units."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Set
from datetime import datetime, timedelta
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.utils.translation import gettext as _

from logbook.accounts.rights import Actor
from logbook.quantities.inputs import AnswerFormField


class WallClockField(forms.DateTimeField):
    """What a clock at the field shows: a naive datetime, which the service puts in the zone."""

    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")

    def to_python(self, value: Any) -> datetime | None:
        if value in self.empty_values:
            return None
        for pattern in ("%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"):
            try:
                return datetime.strptime(str(value), pattern)  # noqa: DTZ007 - naive is meant
            except ValueError:
                continue
        raise forms.ValidationError(
            _('"%(value)s" is not a day and time, such as 2026-05-14 07:30.') % {"value": value}
        )


def wall_clock(instant: datetime | None, zone: str) -> datetime | None:
    """Return what a clock in `zone` shows at the instant, naive."""
    return instant.astimezone(ZoneInfo(zone)).replace(tzinfo=None) if instant else None


PART = "part_"
"""What the name of an input begins with that takes how much of a product was put in a load."""


def _as_it_stands(stands: Any, _sent: Any, _initial: Any) -> Any:
    return stands


class BookForm(forms.Form):
    """Offers the units of the person's system first."""

    absent: Set[str] = frozenset()

    def __init__(
        self, *args: Any, actor: Actor, columns: dict[str, forms.Field], **kwargs: Any
    ) -> None:
        self.actor = actor
        super().__init__(*args, **kwargs)
        self.fields = {**columns, **self.fields}
        for field in self.fields.values():
            if isinstance(field, AnswerFormField):
                field.offer_unit(actor.user.unit_system)

    def keep_absent(self, stands: Mapping[str, Any]) -> None:
        """Note the inputs that were not sent; each goes on showing what stands."""
        self.absent = {
            name
            for name, field in self.fields.items()
            if self.is_bound
            and field.widget.value_omitted_from_data(self.data, self.files, self.add_prefix(name))
        }
        for name in self.absent:
            shown = partial(_as_it_stands, stands.get(name))
            self.fields[name].bound_data = shown  # type: ignore[method-assign]

    def lacks_inputs(self) -> bool:
        """Return whether an input of a line was not sent that stands in every line."""
        return any(name != "hour" and not name.startswith(PART) for name in self.absent)


def same_minute(typed: datetime | None, stands: datetime | None, zone: str) -> bool:
    """Return whether a page's minute is the instant that stands: it must not lose the seconds.

    Nor, in the hour that the clocks repeat, move it to the other pass of that hour.
    """
    shown = wall_clock(stands, zone)
    return (
        typed is not None and shown is not None and shown.replace(second=0, microsecond=0) == typed
    )


class RowChoiceField(forms.TypedChoiceField):
    """A choice among rows already fetched: a form with forty lines asks for them once."""

    def __init__(
        self,
        rows: Iterable[Any],
        *,
        label: str,
        name: Callable[[Any], str] = str,
        blank: str = "",
        unknown_is_blank: bool = False,
    ) -> None:
        self.unknown_is_blank = unknown_is_blank
        self._rows = {str(row.pk): row for row in rows}
        super().__init__(
            choices=[
                ("", blank or _("choose")),
                *((pk, name(row)) for pk, row in self._rows.items()),
            ],
            coerce=self._rows.__getitem__,
            empty_value=None,
            required=False,
            label=label,
            error_messages={"invalid_choice": _("There is no such choice here: %(value)s.")},
        )

    def to_python(self, value: Any) -> Any:
        known = super().to_python(value)
        return known if not self.unknown_is_blank or known in self._rows else ""

    def __deepcopy__(self, memo: dict[int, Any]) -> RowChoiceField:
        # Forms copy their fields; the rows are shared, not copied.
        copied: RowChoiceField = super().__deepcopy__(memo)
        copied._rows, copied.coerce = self._rows, self._rows.__getitem__
        return copied


def minute_shown(form: forms.BaseForm, name: str) -> datetime | None:
    """Return the minute that stands in a wall-clock input, None if it is none."""
    given = form[name].value()
    try:
        return given if isinstance(given, datetime) else form.fields[name].to_python(given)
    except forms.ValidationError:
        return None


def hour_choice(shown: datetime, zone: ZoneInfo, *, required: bool) -> forms.TypedChoiceField:
    """Return the choice between the two passes of an hour that the clocks repeat."""

    def named(fold: int) -> str:
        name = shown.replace(tzinfo=zone, fold=fold).strftime("%Z (UTC%z)")
        return (_("the second, %(zone)s") if fold else _("the first, %(zone)s")) % {"zone": name}

    passes = [(f"{fold}", named(fold)) for fold in (0, 1)]
    return forms.TypedChoiceField(
        choices=[("", _("choose")), *passes] if required else passes,
        coerce=int,
        empty_value=None,
        required=required,
        label=_("which of the two hours"),
        help_text=_("The clocks went back: this hour was there twice."),
    )


def repeated(shown: datetime, zone: ZoneInfo) -> bool:
    """Return whether a clock in the zone shows this minute twice."""
    try:
        first, second = (shown.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
        # In the hour that is left out the offsets differ too, but the other way round.
        return (first.utcoffset() or timedelta()) > (second.utcoffset() or timedelta())
    except OverflowError:
        return False
