"""The forms of one record. They read what a person typed; services decide whether it can stand."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Collection, Iterable, Mapping, Set
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.forms.models import fields_for_model
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.accounts.models import Person
from logbook.accounts.rights import Actor
from logbook.catalog.models import Field, NozzleSet, Planting, Product
from logbook.facts.choices import SIGNS
from logbook.facts.messages import gettext_noop
from logbook.facts.quantity import Absence, Nothing, Quantity
from logbook.facts.record import ProductFacts, Snapshot, WeatherFacts
from logbook.facts.sets import BY_COLUMN, ROWS, VALUES, columns_of
from logbook.facts.spec import Amount, Instant, declared
from logbook.law.applicability import Outcome, statement
from logbook.law.elements import ELEMENTS, STATED, State
from logbook.localization.compass import NAMES, POINTS
from logbook.localization.locale import format_day, format_value, translate_word
from logbook.quantities.inputs import AnswerFormField, Boxes, StatementField
from logbook.records.models import (
    ApplicationRecord,
    Load,
    LoadUse,
    ProductLine,
    WeatherReading,
)
from logbook.records.reading.selectors import resumable, tanks
from logbook.records.writing.draft import save_draft


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


class _BookForm(forms.Form):
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


MAX_ROWS = 60
"""Rows of one list that a page may send; a record takes fewer still."""


def same_minute(typed: datetime | None, stands: datetime | None, zone: str) -> bool:
    """Return whether a page's minute is the instant that stands: it must not lose the seconds.

    Nor, in the hour that the clocks repeat, move it to the other pass of that hour.
    """
    shown = wall_clock(stands, zone)
    return (
        typed is not None and shown is not None and shown.replace(second=0, microsecond=0) == typed
    )


RECORD_NAMES = (
    *(one.column for one in VALUES if not isinstance(one.kind, Instant)),
    "amend_reason",
)
ROW_NAMES = tuple(one.column for one in ROWS)
INSTANTS = tuple(one.column for one in VALUES if isinstance(one.kind, Instant))


def label_of(column: str) -> str:
    """Return the label of a fact of the record, in the language of the page."""
    return _(BY_COLUMN[column].label)


STATEMENT = "statements-"
"""What the name of a statement's input begins with; the name of its element follows."""

CARRIED = "carried-"
"""What the name of a box begins with that confirms a value taken over; "all" confirms them all."""

OFFERED = (Outcome.STANDS, Outcome.MISSING, Outcome.CONFIRM)


def to_state(snapshot: Snapshot) -> list[str]:
    """Return the elements that the record is asked to state and that have no input of their own.

    What stands in the record through another fact is not asked again; what is stated stays.
    """
    asked = [
        row.element.name
        for row in statement(snapshot)
        if row.element.stated and row.outcome in OFFERED and row.stand.state is State.MISSING
    ]
    wanted = {*asked, *snapshot.record.statements}
    return [name for name in STATED if name in wanted]


class RecordForm(_BookForm):
    """The record's own columns; products, loads and weather have forms of their own."""

    revision = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        record: ApplicationRecord,
        actor: Actor,
        statements: Iterable[str] = (),
        **kwargs: Any,
    ) -> None:
        self.record = record
        initial = {name: getattr(record, name) for name in RECORD_NAMES}
        initial |= {
            "revision": record.revision,
            **{name: getattr(record, f"{name}_id") for name in ROW_NAMES},
            **{name: wall_clock(getattr(record, name), record.time_zone) for name in INSTANTS},
            "crew": [str(member.person_id) for member in record.crew.all()],
            **{f"{STATEMENT}{name}": text for name, text in record.statements.items()},
        }
        columns = fields_for_model(ApplicationRecord, fields=RECORD_NAMES)
        super().__init__(*args, actor=actor, columns=columns, initial=initial, **kwargs)
        business = actor.business
        chosen = self.data.get("field", record.field_id)
        people = list(Person.objects.within(business))
        sets = NozzleSet.objects.within(business).select_related("nozzle", "rig")
        self.fields |= {
            "field": RowChoiceField(
                Field.objects.within(business).select_related("customer"),
                label=label_of("field"),
                name=lambda field: f"{field.name} ({field.customer.name})",
            ),
            "planting": RowChoiceField(
                Planting.objects.filter(field__business=business, field_id=_uuid(chosen)),
                label=label_of("planting"),
                # Another field was chosen, and the page still names the crop of the one before.
                unknown_is_blank=str(chosen) != str(record.field_id),
            ),
            "nozzle_set": RowChoiceField(sets, label=label_of("nozzle_set")),
            "applicator": RowChoiceField(people, label=label_of("applicator")),
            "supervisor": RowChoiceField(people, label=label_of("supervisor")),
            "crew": forms.MultipleChoiceField(
                choices=[(str(person.pk), person.name) for person in people],
                required=False,
                label=label_of("crew"),
                widget=Boxes,
            ),
            **{name: WallClockField(label=label_of(name), required=False) for name in INSTANTS},
        }
        before = list(resumable(record=record))
        if before:
            self.fields["continues"] = RowChoiceField(
                before,
                label=label_of("continues"),
                name=_job_name,
                blank=_("a job of its own"),
            )
        if self.is_bound:
            sent = {key.removeprefix(STATEMENT).rpartition("_")[0] for key in self.data}
            statements = [name for name in STATED if name in sent]
        self.statements = [*statements]
        for name in self.statements:
            self.fields[f"{STATEMENT}{name}"] = StatementField(
                label=translate_word(ELEMENTS[name].title)
            )
        self.fields["note"].widget.attrs["rows"] = 3
        self.fields["amend_reason"].widget.attrs["rows"] = 2
        if not record.amends_id:
            del self.fields["amend_reason"]
        self.keep_absent(initial)
        for name in self.absent - {"revision"}:
            self.fields[name].required = False

    def data_for_service(self) -> dict[str, Any]:
        """Return the cleaned values as the draft service takes them."""
        values = {
            name: value
            for name, value in self.cleaned_data.items()
            if name not in {"revision", *self.absent} and not name.startswith(STATEMENT)
        }
        for name in values.keys() & set(ROW_NAMES):
            values[name] = values[name] and values[name].pk
        for name in values.keys() & set(INSTANTS):
            values[name] = self.as_it_stood(values[name], getattr(self.record, name))
        typed = {
            name: self.cleaned_data[f"{STATEMENT}{name}"]
            for name in self.statements
            if f"{STATEMENT}{name}" in self.cleaned_data.keys() - self.absent
        }
        said = {**self.record.statements, **typed}
        values["statements"] = {name: text for name, text in said.items() if text}
        every = f"{CARRIED}all" in self.data
        values["confirmed"] = [
            name for name in self.record.carried if every or f"{CARRIED}{name}" in self.data
        ]
        return values

    def as_it_stood(self, typed: datetime | None, stands: datetime | None) -> datetime | None:
        """Return what stands where the page shows its minute unchanged, else what was typed.

        On a field in another zone the clock on the wall stays what it was, not the instant.
        """
        zone = self.record.time_zone
        if not same_minute(typed, stands, zone):
            return typed
        field = self.cleaned_data.get("field")
        return stands if field is None or field.time_zone == zone else wall_clock(stands, zone)


def _job_name(record: ApplicationRecord) -> str:
    number = (
        _("no. %(number)s") % {"number": record.seal.number} if record.signed_at else _("draft")
    )
    return f"{format_day(record.day)}, {number}"


def _uuid(text: Any) -> Any:
    try:
        return uuid.UUID(str(text))
    except ValueError:
        return None


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


class ProductLineForm(_BookForm):
    """One product of the mix."""

    def __init__(self, *args: Any, on_shelf: list[Product], **kwargs: Any) -> None:
        columns = {
            "product": RowChoiceField(on_shelf, label=_("product")),
            **fields_for_model(ProductLine, fields=columns_of(ProductFacts)),
        }
        super().__init__(*args, columns=columns, **kwargs)

    def item(self) -> dict[str, Any] | None:
        """Return the line as the draft service takes it; None for a row left empty."""
        values = self.cleaned_data
        if not any(values.get(name) for name in ("product", *columns_of(ProductFacts))):
            return None
        return {**values, "product": values["product"] and values["product"].pk}


READING = declared(WeatherFacts)
MEASURED = tuple(one.column for one in READING.values() if isinstance(one.kind, Amount))


class WeatherForm(_BookForm):
    """One weather reading."""

    def __init__(self, *args: Any, zone: str, **kwargs: Any) -> None:
        columns = {
            "read_at": WallClockField(label=_(READING["read_at"].label), required=False),
            **fields_for_model(WeatherReading, fields=MEASURED),
            "signs": forms.MultipleChoiceField(
                choices=[(sign, _(shown)) for sign, shown in SIGNS.items()],
                required=False,
                widget=Boxes,
                label=_(READING["signs"].label),
            ),
        }
        super().__init__(*args, columns=columns, **kwargs)
        self.zone = ZoneInfo(zone)
        shown = minute_shown(self, "read_at")
        if shown is not None and repeated(shown, self.zone):
            # Only then: the clock at the field shows this minute twice, an hour apart.
            self.fields = {
                "read_at": self.fields.pop("read_at"),
                "hour": hour_choice(shown, self.zone, required=False),
                **self.fields,
            }

    def item(self) -> dict[str, Any] | None:
        """Return the reading as the draft service takes it; None for a row left empty."""
        values = dict(self.cleaned_data)
        hour = values.pop("hour", None)
        if not any(values.values()):
            return None
        read_at = values.get("read_at")
        if hour is not None and read_at and repeated(read_at, self.zone):
            values["read_at"] = read_at.replace(tzinfo=self.zone, fold=hour)
        return values


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


class _DirectionField(forms.ChoiceField):
    """A point of the compass, or any whole degree, which the ring of the page sends."""

    def valid_value(self, value: Any) -> bool:
        degrees = str(value)
        return super().valid_value(value) or (
            degrees.isascii() and degrees.isdecimal() and 0 < int(degrees[:4]) <= 360
        )


class WindForm(_BookForm):
    """One reading taken now: the time stands ready, a direction is chosen, a speed is written."""

    MEASURED = tuple(name for name in MEASURED if name not in ("wind_from", "cloud"))
    CALM = "calm"
    NO_SIGN = "none"

    shown_at = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, zone: str, **kwargs: Any) -> None:
        self.zone = zone
        columns = {
            "read_at": WallClockField(label=_(READING["read_at"].label), required=False),
            "wind_from": _DirectionField(
                choices=[
                    # North is 360°, for 0° is read as calm (WMO code 0877, from memory).
                    *(
                        (f"{float(degrees) or 360.0:g}", NAMES[point])
                        for point, degrees in POINTS.items()
                    ),
                    ("calm", _("calm")),
                ],
                required=False,
                widget=forms.RadioSelect,
                label=_(READING["wind_from"].label),
            ),
            **fields_for_model(WeatherReading, fields=self.MEASURED),
            "cloud": forms.ChoiceField(
                choices=[
                    ("0", _("none")),
                    ("25", _("a quarter")),
                    ("50", _("half")),
                    ("75", _("three quarters")),
                    ("100", _("all")),
                ],
                required=False,
                widget=forms.RadioSelect,
            ),
            "signs": forms.MultipleChoiceField(
                choices=[
                    *((sign, _(words)) for sign, words in SIGNS.items()),
                    (self.NO_SIGN, _("none of these")),
                ],
                required=False,
                widget=forms.CheckboxSelectMultiple,
            ),
        }
        super().__init__(*args, columns=columns, **kwargs)
        shown = minute_shown(self, "read_at")
        zone_ = ZoneInfo(zone)
        if self.is_bound and shown and repeated(shown, zone_) and not self._drawn_at(shown):
            # Another minute was written than the page showed: which of the two is asked.
            self.fields["hour"] = hour_choice(shown, zone_, required=True)

    def data_for_service(self) -> dict[str, Any]:
        """Return the reading as `add_reading` takes it.

        The minute shown is the instant at which the page was drawn, to the second, and in the hour
        that the clocks repeat the right one of the two.
        """
        values = {name: self.cleaned_data[name] for name in ("read_at", *self.MEASURED)}
        if signs := self.cleaned_data["signs"]:
            values["signs"] = [sign for sign in signs if sign != self.NO_SIGN]
        if cloud := self.cleaned_data["cloud"]:
            values["cloud"] = Quantity(Decimal(cloud), "%")
        chosen = self.cleaned_data["wind_from"]
        if chosen == self.CALM:
            values["wind_from"] = Nothing(Absence.NOT_APPLICABLE)
        elif chosen:
            values["wind_from"] = Quantity(Decimal(chosen), "°")
        read_at = values["read_at"]
        if "hour" in self.fields:
            hour = self.cleaned_data["hour"]
            values["read_at"] = read_at.replace(tzinfo=ZoneInfo(self.zone), fold=hour)
        else:
            values["read_at"] = self._drawn_at(read_at) or read_at
        return values

    def clean_signs(self) -> list[str]:
        """Refuse signs together with the answer that there are none."""
        signs: list[str] = self.cleaned_data["signs"]
        if self.NO_SIGN in signs and len(signs) > 1:
            raise forms.ValidationError(
                _("Both signs and “none of these” are ticked; leave one of the two.")
            )
        return signs

    def _drawn_at(self, typed: datetime | None) -> datetime | None:
        """Return the instant at which the page was drawn, if its minute is the one typed."""
        try:
            drawn = datetime.fromisoformat(str(self["shown_at"].value() or ""))
            same = drawn.tzinfo is not None and same_minute(typed, drawn, self.zone)
        except (ValueError, OverflowError):
            return None
        return drawn if same else None


class LoadForm(_BookForm):
    """One tank fill: how much was mixed, of what, and what of it went on this field."""

    def __init__(
        self, *args: Any, loads: list[Load], products: list[Product], **kwargs: Any
    ) -> None:
        self.products = products
        columns = {
            "load": RowChoiceField(loads, label=_("load"), name=_load_name, blank=_("a new load")),
            **fields_for_model(Load, fields=("mixed_volume",)),
            **fields_for_model(LoadUse, fields=("used", "order")),
            **{
                f"{PART}{product.pk}": AnswerFormField(
                    dimensions=("volume", "mass"),
                    words=False,
                    required=False,
                    label=_("%(product)s put in") % {"product": product.name},
                )
                for product in products
            },
        }
        super().__init__(*args, columns=columns, **kwargs)
        self.fields["order"].required = False
        self.fields["order"].initial = None

    def sent_products(self) -> list[Product]:
        """Return the products whose input was sent: of another the load keeps what it holds."""
        return [one for one in self.products if f"{PART}{one.pk}" not in self.absent]

    def item(self) -> dict[str, Any] | None:
        """Return the load as the draft service takes it; None for a row left empty."""
        values = self.cleaned_data
        parts = [
            {"product": product.pk, "amount": values.get(f"{PART}{product.pk}")}
            for product in self.sent_products()
        ]
        if not (
            values.get("load")
            or values.get("mixed_volume")
            or values.get("used")
            or any(part["amount"] for part in parts)
        ):
            return None
        load = values["load"]
        item = {
            "load": load and load.pk,
            "mixed_volume": values.get("mixed_volume"),
            "used": values.get("used"),
            "order": values.get("order"),
            "parts": parts,
        }
        if load and item["mixed_volume"] is None:
            # A load chosen from the list brings its own volume, and the parts that nobody typed.
            item["mixed_volume"] = load.mixed_volume
            own = {part.product_id: part.amount for part in load.parts.all()}
            typed = {part["product"]: part["amount"] for part in parts if part["amount"]}
            named = [part["product"] for part in parts]
            item["parts"] = [
                {"product": pk, "amount": typed.get(pk, own.get(pk))}
                for pk in dict.fromkeys([*named, *own])
            ]
        return item


def _load_name(load: Load) -> str:
    uses = load.uses.all()
    fields = ", ".join(use.record.field_name.name for use in uses if use.record.field)
    days = ", ".join(map(format_day, sorted({use.record.day for use in uses if use.record.day})))
    volume, fields = format_value(load.mixed_volume), fields or _("no field yet")
    return f"{days or _('no day yet')}: {volume} ({fields})"


class DraftForms:
    """All forms of one draft, bound or not, and their way to and from the service's paths."""

    LISTS = (gettext_noop("products"), gettext_noop("loads"), gettext_noop("weather"))

    def __init__(
        self,
        *,
        actor: Actor,
        record: ApplicationRecord,
        data: Any = None,
        add: str = "",
        snapshot: Snapshot | None = None,
    ) -> None:
        self.actor, self.record, self.data = actor, record, data
        self.incomplete: set[str] = set()
        asked = to_state(snapshot) if snapshot and data is None else []
        self.record_form = RecordForm(data, record=record, actor=actor, statements=asked)
        self.on_shelf = list(Product.objects.within(actor.business))
        lines = [self._line_initial(line) for line in record.products.all()]
        self.products = self._rows("products", lines, add)
        uses = {use.load_id: use for use in record.load_uses.all()}
        about = record.started_at or timezone.now()
        self.tanks = tanks(actor=actor, rig_id=record.rig_id, about=about, own=[*uses])
        self.mixed = self._mixed_products(own=uses.keys())
        taken = [self._use_initial(uses[load.pk], load) for load in self.tanks if load.pk in uses]
        self.loads = self._rows("loads", taken, add)
        standing = list(record.weather.all())
        self.read_at = [reading.read_at for reading in standing]
        readings = [self._reading_initial(reading) for reading in standing]
        self.weather = self._rows("weather", readings, add)

    def _rows(self, name: str, initials: list[dict[str, Any]], add: str) -> list[_BookForm]:
        count = len(initials)
        data = self.data
        if data is not None:
            sent = uint(data.get(f"{name}-count"))
            if sent is None or sent > MAX_ROWS:
                self.incomplete.add(name)
                data = None  # Nothing of the list can be told from it: what stands is shown.
            else:
                count = sent
        forms_: list[_BookForm] = []
        for place in range(count):
            if data is not None and data.get(f"{name}-{place}-drop"):
                continue
            stands = initials[place] if place < len(initials) else {}
            form = self._form(name, place, stands if data is None else {}, data)
            form.keep_absent(stands)
            # Lines may have changed their places since the page was drawn, so none is filled up.
            if initials and form.lacks_inputs():
                self.incomplete.add(name)
            forms_.append(form)
        blanks = (1 if add == name else 0) + (1 if data is None and not initials else 0)
        for place in range(count, count + blanks):
            blank = self._form(name, place, {}, None)
            if add == name:
                # The page comes back at the new line, not at its top.
                next(iter(blank.fields.values())).widget.attrs["autofocus"] = True
            forms_.append(blank)
        return forms_

    def _form(self, name: str, place: int, initial: dict[str, Any], data: Any) -> _BookForm:
        shared = {"prefix": f"{name}-{place}", "initial": initial, "actor": self.actor}
        if name == "products":
            return ProductLineForm(data, on_shelf=self.on_shelf, **shared)
        if name == "weather":
            return WeatherForm(data, zone=self.record.time_zone, **shared)
        return LoadForm(data, loads=self.tanks, products=self.mixed, **shared)

    def _mixed_products(self, own: Collection[uuid.UUID]) -> list[Product]:
        """Return the products whose amounts a load may hold: those of the lines, and of the loads.

        A product that was struck out of the record may still be in the tank.
        """
        chosen = {str(form["product"].value()) for form in self.products}
        for load in self.tanks:
            if load.pk in own:
                chosen |= {str(part.product_id) for part in load.parts.all()}
        return [product for product in self.on_shelf if str(product.pk) in chosen]

    def _line_initial(self, line: ProductLine) -> dict[str, Any]:
        return {
            "product": line.product_id,
            **{name: getattr(line, name) for name in columns_of(ProductFacts)},
        }

    def _use_initial(self, use: LoadUse, load: Load) -> dict[str, Any]:
        return {
            "load": load.pk,
            "mixed_volume": load.mixed_volume,
            "used": use.used,
            "order": use.order,
            **{f"part_{part.product_id}": part.amount for part in load.parts.all()},
        }

    def _reading_initial(self, reading: WeatherReading) -> dict[str, Any]:
        return {
            "hour": reading.read_at.astimezone(ZoneInfo(self.record.time_zone)).fold,
            "read_at": wall_clock(reading.read_at, self.record.time_zone),
            **{name: getattr(reading, name) for name in (*MEASURED, "signs")},
        }

    def save(self, *, actor: Actor, revision: int, data: dict[str, Any]) -> None:
        """Save over the draft; raises what `save_draft` raises."""
        self.record = save_draft(
            actor=actor, record_id=self.record.id, revision=revision, data=data
        )
        self.saved_revision = self.record.revision

    def revision_shown(self, standing: ApplicationRecord) -> int | str:
        """Return the revision that the page carries: the one saved, else the one that came in."""
        if self.data is None:
            return standing.revision
        return self.saved_revision or str(self.data.get("revision", ""))

    saved_revision: int | None = None

    def is_valid(self) -> bool:
        """Return whether everything could be read; all forms are looked at."""
        bound = [form for name in self.LISTS for form in getattr(self, name) if form.is_bound]
        valid = [form.is_valid() for form in (self.record_form, *bound)]
        if self.incomplete:
            said = {"lists": ", ".join(map(translate_word, sorted(self.incomplete)))}
            self.record_form.add_error(
                None,
                _("The page arrived without all of its lines (%(lists)s). Load it again.") % said,
            )
        return all(valid) and not self.incomplete

    def data_for_service(self) -> dict[str, Any]:
        """Return what could be read, as `save_draft` takes it; remembers which form a line is of.

        An input that cannot be read is left out, and with a line its whole list: what stood there
        stays, and the rest is not lost for its sake.
        """
        data = self.record_form.data_for_service()
        self._forms_by_path: dict[str, forms.Form] = {}
        for name in self.LISTS:
            listed = [form for form in getattr(self, name) if form.is_bound]
            if name in self.incomplete or not all(form.is_valid() for form in listed):
                continue
            items: list[dict[str, Any]] = []
            left = dict(enumerate(self.read_at))
            for form in getattr(self, name):
                item = form.item() if form.is_bound else None
                if item is not None:
                    if name == "weather":
                        place = uint(str(form.prefix).rpartition("-")[2])
                        item["read_at"] = self._as_it_stood(item["read_at"], place, left)
                    self._forms_by_path[f"{name}.{len(items)}"] = form
                    items.append(item)
            data[name] = items
        return data

    def _as_it_stood(
        self, typed: datetime | None, place: int | None, left: dict[int, datetime]
    ) -> datetime | None:
        """Return the reading's own instant where the page shows its minute unchanged.

        Of two readings in one minute each has its own: first is asked the one in its place, and
        none is taken twice.
        """
        for at, instant in sorted(left.items(), key=lambda one: one[0] != place):
            found: datetime | None = instant
            if typed is not None and typed.tzinfo is not None:
                same = instant.replace(second=0, microsecond=0) == typed.astimezone(UTC)
            else:
                found = self.record_form.as_it_stood(typed, instant)
                same = found is not typed
            if same:
                del left[at]
                return found
        return typed

    def asks_which_hour(self) -> str:
        """Return the section of a reading in a repeated hour of which the page did not ask which.

        "" if there is none. Until it is answered the first of the two hours stands.
        """
        unasked = any(
            form.is_bound and "hour" in form.fields and form.add_prefix("hour") not in form.data
            for form in self.weather
        )
        return "section-weather" if unasked else ""

    def add_errors(self, errors: dict[str, list[str]]) -> None:
        """Put the service's errors, by path, on the inputs they are about."""
        for path, texts in errors.items():
            form, name = self._owner(path)
            for text in texts:
                form.add_error(name if name in form.fields else None, text)

    def _owner(self, path: str) -> tuple[forms.Form, str]:
        parts = path.split(".")
        form = getattr(self, "_forms_by_path", {}).get(".".join(parts[:2]))
        if form is None:
            if parts[0] == "statements":
                return self.record_form, f"{STATEMENT}{parts[-1]}"
            return self.record_form, "crew" if parts[0] == "crew" else path
        if len(parts) == 5 and parts[2] == "parts" and isinstance(form, LoadForm):
            named = form.sent_products()[int(parts[3]) :]
            return form, f"{PART}{named[0].pk}" if named else ""
        return form, parts[2] if len(parts) > 2 else ""

    def path_prefixes(self) -> dict[str, str]:
        """Return the path of each row's form by its prefix: {"products-2": "products.1"}."""
        found, counts = {}, dict.fromkeys(self.LISTS, 0)
        for name in self.LISTS:
            for form in getattr(self, name):
                filled = form.is_bound and form.is_valid() and form.item() is not None
                if filled or (not form.is_bound and form.initial):
                    found[form.prefix] = f"{name}.{counts[name]}"
                    counts[name] += 1
        return found


def uint(text: Any) -> int | None:
    """Return the small whole number that a page sent, None if it is none."""
    digits = str(text or "")
    return int(digits) if digits.isascii() and digits.isdigit() and len(digits) < 10 else None
