"""The forms of one record. They read what a person typed; services decide whether it can stand."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.forms.models import fields_for_model
from django.utils import timezone

from logbook.accounts.models import Person
from logbook.accounts.rights import Actor
from logbook.base.forms import AnswerFormField
from logbook.base.offered import offered_unit
from logbook.catalog.models import Field, NozzleSet, Planting, Product
from logbook.records.models import (
    ApplicationRecord,
    Load,
    LoadUse,
    ProductLine,
    WeatherReading,
    WeatherSign,
)
from logbook.records.selectors import open_loads

# Where the unit of the trade is not the first of its dimension.
UNITS_BY_NAME = {
    "distance": {"us": "mi", "metric": "km"},
    "height": {"us": "ft", "metric": "m"},
    "planned_rate": {"us": "fl oz/ac", "metric": "L/ha"},
}


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
        raise forms.ValidationError(f'"{value}" is not a day and time, such as 2026-05-14 07:30.')


def wall_clock(instant: datetime | None, zone: str) -> datetime | None:
    """Return what a clock in `zone` shows at the instant, naive."""
    return instant.astimezone(ZoneInfo(zone)).replace(tzinfo=None) if instant else None


class _BookForm(forms.Form):
    """Offers the units of the person's system first."""

    def __init__(
        self, *args: Any, actor: Actor, columns: dict[str, forms.Field], **kwargs: Any
    ) -> None:
        self.actor = actor
        super().__init__(*args, **kwargs)
        self.fields = {**columns, **self.fields}
        for name, field in self.fields.items():
            if isinstance(field, AnswerFormField):
                field.offer_unit(self._unit(name, field))

    def _unit(self, name: str, field: AnswerFormField) -> str:
        system = self.actor.user.unit_system
        named = UNITS_BY_NAME.get(name, {}).get(system)
        return named or offered_unit(dimensions=field.dimensions[:1], system=system)


RECORD_NAMES = (
    "growth_stage",
    "purpose",
    "pattern",
    "band_width",
    "row_spacing",
    "nozzles_per_row",
    "pressure",
    "speed",
    "boom_height",
    "duty",
    "density",
    "planned_carrier",
    "treated_area",
    "mix_used",
    "distance",
    "note",
    "amend_reason",
)


class RecordForm(_BookForm):
    """The record's own columns; products, loads and weather have forms of their own."""

    revision = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, record: ApplicationRecord, actor: Actor, **kwargs: Any) -> None:
        self.record = record
        initial = {name: getattr(record, name) for name in RECORD_NAMES}
        initial |= {
            "revision": record.revision,
            "field": record.field_id,
            "planting": record.planting_id,
            "nozzle_set": record.nozzle_set_id,
            "applicator": record.applicator_id,
            "supervisor": record.supervisor_id,
            "started_at": wall_clock(record.started_at, record.time_zone),
            "finished_at": wall_clock(record.finished_at, record.time_zone),
        }
        columns = fields_for_model(ApplicationRecord, fields=RECORD_NAMES)
        super().__init__(*args, actor=actor, columns=columns, initial=initial, **kwargs)
        business = actor.business
        chosen = self.data.get("field") if self.is_bound else record.field_id
        people = list(Person.objects.within(business))
        sets = NozzleSet.objects.within(business).select_related("nozzle", "rig")
        self.fields |= {
            "field": RowChoiceField(
                Field.objects.within(business).select_related("customer"),
                label="field",
                name=lambda field: f"{field.name} ({field.customer.name})",
            ),
            "planting": RowChoiceField(
                Planting.objects.filter(field__business=business, field_id=_uuid(chosen)),
                label="crop",
            ),
            "nozzle_set": RowChoiceField(sets, label="rig and nozzles"),
            "applicator": RowChoiceField(people, label="sprayed by"),
            "supervisor": RowChoiceField(people, label="supervised by"),
            "started_at": WallClockField(label="started", required=False),
            "finished_at": WallClockField(label="finished", required=False),
        }
        self.fields["note"].widget.attrs["rows"] = 3
        self.fields["amend_reason"].widget.attrs["rows"] = 2
        if not record.amends_id:
            del self.fields["amend_reason"]

    def data_for_service(self) -> dict[str, Any]:
        """Return the cleaned values as the draft service takes them."""
        values = {name: value for name, value in self.cleaned_data.items() if name != "revision"}
        for name in ("field", "planting", "nozzle_set", "applicator", "supervisor"):
            values[name] = values[name] and values[name].pk
        return values


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
        blank: str = "choose",
    ) -> None:
        self._rows = {str(row.pk): row for row in rows}
        super().__init__(
            choices=[("", blank), *((pk, name(row)) for pk, row in self._rows.items())],
            coerce=self._rows.__getitem__,
            empty_value=None,
            required=False,
            label=label,
            error_messages={"invalid_choice": "There is no such choice here: %(value)s."},
        )

    def __deepcopy__(self, memo: dict[int, Any]) -> RowChoiceField:
        # Forms copy their fields; the rows are shared, not copied.
        copied: RowChoiceField = super().__deepcopy__(memo)
        copied._rows, copied.coerce = self._rows, self._rows.__getitem__
        return copied


class ProductLineForm(_BookForm):
    """One product of the mix."""

    def __init__(self, *args: Any, on_shelf: list[Product], **kwargs: Any) -> None:
        columns = {
            "product": RowChoiceField(on_shelf, label="product"),
            **fields_for_model(ProductLine, fields=("planned_rate", "total_used", "target")),
        }
        super().__init__(*args, columns=columns, **kwargs)

    def item(self) -> dict[str, Any] | None:
        """Return the line as the draft service takes it; None for a row left empty."""
        values = self.cleaned_data
        if not any(
            values.get(name) for name in ("product", "planned_rate", "total_used", "target")
        ):
            return None
        return {**values, "product": values["product"] and values["product"].pk}


class WeatherForm(_BookForm):
    """One weather reading."""

    signs = forms.MultipleChoiceField(
        choices=WeatherSign.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="signs of an inversion seen",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        measured = ("wind_from", "wind_speed", "gust", "temperature", "humidity", "cloud", "height")
        columns = {
            "read_at": WallClockField(label="read at", required=False),
            **fields_for_model(WeatherReading, fields=measured),
        }
        super().__init__(*args, columns=columns, **kwargs)

    def item(self) -> dict[str, Any] | None:
        """Return the reading as the draft service takes it; None for a row left empty."""
        return self.cleaned_data if any(self.cleaned_data.values()) else None


class LoadForm(_BookForm):
    """One tank fill: how much was mixed, of what, and what of it went on this field."""

    def __init__(
        self, *args: Any, loads: list[Load], products: list[Product], **kwargs: Any
    ) -> None:
        self.products = products
        columns = {
            "load": RowChoiceField(loads, label="load", name=_load_name, blank="a new load"),
            **fields_for_model(Load, fields=("mixed_volume",)),
            **fields_for_model(LoadUse, fields=("used", "order")),
            **{
                f"part_{product.pk}": AnswerFormField(
                    dimensions=("volume", "mass"),
                    words=False,
                    required=False,
                    label=f"{product.name} put in",
                )
                for product in products
            },
        }
        super().__init__(*args, columns=columns, **kwargs)
        self.fields["order"].label = "this field's place in the order"
        self.fields["order"].required = False

    def item(self) -> dict[str, Any] | None:
        """Return the load as the draft service takes it; None for a row left empty."""
        values = self.cleaned_data
        parts = [
            {"product": product.pk, "amount": values.get(f"part_{product.pk}")}
            for product in self.products
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
            "order": values.get("order") or 1,
            "parts": parts,
        }
        if load and item["mixed_volume"] is None:
            # A load chosen from the list brings its own volume and parts.
            item["mixed_volume"] = load.mixed_volume
            item["parts"] = [
                {"product": part.product_id, "amount": part.amount} for part in load.parts.all()
            ]
        return item


def _load_name(load: Load) -> str:
    fields = ", ".join(str(use.record.field) for use in load.uses.all() if use.record.field)
    return f"{load.mixed_volume} ({fields or 'no field yet'})"


class DraftForms:
    """All forms of one draft, bound or not, and their way to and from the service's paths."""

    LISTS = ("products", "loads", "weather")

    def __init__(
        self, *, actor: Actor, record: ApplicationRecord, data: Any = None, add: str = ""
    ) -> None:
        self.actor, self.record, self.data = actor, record, data
        self.record_form = RecordForm(data, record=record, actor=actor)
        self.lines = list(record.products.select_related("product"))
        self.on_shelf = list(Product.objects.within(actor.business))
        self.products = self._rows(
            "products", [self._line_initial(line) for line in self.lines], add
        )
        self.mixed = self._mixed_products()
        uses = list(
            record.load_uses.select_related("load").prefetch_related(
                "load__parts", "load__uses__record__field"
            )
        )
        since = (record.started_at or timezone.now()) - timedelta(days=7)
        others = open_loads(actor=actor, rig_id=record.rig_id, since=since)
        # Its own loads first: an older one, or that of an amendment, is not among the open ones.
        self.tanks = list(
            {load.pk: load for load in (*(use.load for use in uses), *others)}.values()
        )
        self.loads = self._rows("loads", [self._use_initial(use) for use in uses], add)
        readings = [self._reading_initial(reading) for reading in record.weather.all()]
        self.weather = self._rows("weather", readings, add)

    def _rows(self, name: str, initials: list[dict[str, Any]], add: str) -> list[forms.Form]:
        count = len(initials)
        if self.data is not None:
            count = min(int(_uint(self.data.get(f"{name}-count"))), 60)
        forms_: list[forms.Form] = []
        for place in range(count):
            if self.data is not None and self.data.get(f"{name}-{place}-drop"):
                continue
            initial = initials[place] if self.data is None else {}
            forms_.append(self._form(name, place, initial, self.data))
        blanks = (1 if add == name else 0) + (1 if self.data is None and not initials else 0)
        for place in range(count, count + blanks):
            forms_.append(self._form(name, place, {}, None))
        return forms_

    def _form(self, name: str, place: int, initial: dict[str, Any], data: Any) -> forms.Form:
        shared = {"prefix": f"{name}-{place}", "initial": initial, "actor": self.actor}
        if name == "products":
            return ProductLineForm(data, on_shelf=self.on_shelf, **shared)
        if name == "weather":
            return WeatherForm(data, **shared)
        return LoadForm(data, loads=self.tanks, products=self.mixed, **shared)

    def _mixed_products(self) -> list[Product]:
        """Return the products whose amounts a load may hold: those of the lines as they stand."""
        if self.data is None:
            return [line.product for line in self.lines]
        chosen = {form["product"].value() for form in self.products}
        return [product for product in self.on_shelf if str(product.pk) in chosen]

    def _line_initial(self, line: ProductLine) -> dict[str, Any]:
        return {
            "product": line.product_id,
            "planned_rate": line.planned_rate,
            "total_used": line.total_used,
            "target": line.target,
        }

    def _use_initial(self, use: LoadUse) -> dict[str, Any]:
        return {
            "load": use.load_id,
            "mixed_volume": use.load.mixed_volume,
            "used": use.used,
            "order": use.order,
            **{f"part_{part.product_id}": part.amount for part in use.load.parts.all()},
        }

    def _reading_initial(self, reading: WeatherReading) -> dict[str, Any]:
        names = ("height", "wind_from", "wind_speed", "gust", "temperature", "humidity", "cloud")
        return {
            "read_at": wall_clock(reading.read_at, self.record.time_zone),
            "signs": reading.signs,
            **{name: getattr(reading, name) for name in names},
        }

    def is_valid(self) -> bool:
        """Return whether everything could be read; all forms are looked at."""
        bound = [form for name in self.LISTS for form in getattr(self, name) if form.is_bound]
        valid = [form.is_valid() for form in (self.record_form, *bound)]
        return all(valid)

    def data_for_service(self) -> dict[str, Any]:
        """Return what was typed as `save_draft` takes it; remembers which form each line is of."""
        data = self.record_form.data_for_service()
        self._forms_by_path: dict[str, forms.Form] = {}
        for name in self.LISTS:
            items: list[dict[str, Any]] = []
            for form in getattr(self, name):
                item = form.item() if form.is_bound else None
                if item is not None:
                    self._forms_by_path[f"{name}.{len(items)}"] = form
                    items.append(item)
            data[name] = items
        return data

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
            return self.record_form, path
        if len(parts) == 5 and parts[2] == "parts":
            return form, f"part_{form.products[int(parts[3])].pk}"
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


def _uint(text: Any) -> int:
    return int(text) if str(text or "").isdigit() else 0
