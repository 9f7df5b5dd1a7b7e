"""The forms of one record. They read what a person typed; services decide whether it can stand."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.forms.models import fields_for_model
from django.utils.translation import gettext as _

from logbook.accounts.models import Person
from logbook.accounts.rights import Actor
from logbook.catalog.models import Field, NozzleSet, Planting, Product
from logbook.facts.choices import NONE_SEEN, SIGNS
from logbook.facts.quantity import Absence, Nothing, Quantity
from logbook.facts.record import ProductFacts, Snapshot, WeatherFacts
from logbook.facts.sets import BY_COLUMN, ROWS, VALUES, columns_of
from logbook.facts.spec import Amount, Instant, declared
from logbook.law.applicability import Outcome, statement
from logbook.law.elements import ELEMENTS, STATED, State
from logbook.localization.compass import NAMES, POINTS
from logbook.localization.locale import format_day, format_days, format_value, translate_word
from logbook.quantities.inputs import AnswerFormField, Boxes, BoxesField, StatementField
from logbook.records.models import (
    ApplicationRecord,
    Load,
    LoadUse,
    ProductLine,
    WeatherReading,
)
from logbook.records.reading.selectors import resumable
from logbook.records.writing.inputs import (
    PART,
    BookForm,
    RowChoiceField,
    WallClockField,
    hour_choice,
    minute_shown,
    repeated,
    same_minute,
    wall_clock,
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


class RecordForm(BookForm):
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
    return f"{format_days(record.days)}, {number}"


def _uuid(text: Any) -> Any:
    try:
        return uuid.UUID(str(text))
    except ValueError:
        return None


class ProductLineForm(BookForm):
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


class WeatherForm(BookForm):
    """One weather reading."""

    def __init__(self, *args: Any, zone: str, **kwargs: Any) -> None:
        columns = {
            "read_at": WallClockField(label=_(READING["read_at"].label), required=False),
            **fields_for_model(WeatherReading, fields=MEASURED),
            "signs": BoxesField(
                words=SIGNS,
                none=NONE_SEEN,
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
        if all(value is None for value in values.values()):
            return None
        read_at = values.get("read_at")
        if hour is not None and read_at and repeated(read_at, self.zone):
            values["read_at"] = read_at.replace(tzinfo=self.zone, fold=hour)
        return values


class _DirectionField(forms.ChoiceField):
    """A point of the compass, or any whole degree, which the ring of the page sends."""

    def valid_value(self, value: Any) -> bool:
        degrees = str(value)
        return super().valid_value(value) or (
            degrees.isascii() and degrees.isdecimal() and 0 < int(degrees[:4]) <= 360
        )


class WindForm(BookForm):
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


class LoadForm(BookForm):
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
