"""What a sheet of each kind holds: the one list of columns from which all else follows."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django import forms as django_forms
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.catalog import forms
from logbook.catalog.services import SHELVES
from logbook.forms.rows import RowForm
from logbook.quantities.inputs import AnswerFormField

Words = str | Promise


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column; a quantity has a second one for its unit.

    Attributes: name in the head; meaning; example, of a quantity with its unit; field of the form,
    where it is called otherwise.
    """

    name: str
    meaning: Words
    example: str = ""
    field: str = ""

    @property
    def of(self) -> str:
        """The name of the form's field."""
        return self.field or self.name


@dataclass(frozen=True, kw_only=True)
class ListColumn(Column):
    """A cell that holds several rows of a list, separated by semicolons.

    Attributes: list, of the shape; pattern, whose named groups are the columns of one row; written,
    how one is written.
    """

    list: str
    pattern: re.Pattern[str]
    written: str


@dataclass(frozen=True, kw_only=True)
class Reference:
    """Columns that name a row of another kind: by its name, and where two have it by one more."""

    column: str
    shelf: str
    names: tuple[Column, ...]


@dataclass(frozen=True, kw_only=True)
class Part:
    """What a row of the sheet becomes on one shelf.

    Attributes: shelf; form, by whose fields the cells are read; columns; key, by which a row that
    is there already is known; reference to a row of another shelf; above, the column that points at
    the part before; thorough: whether constraints of the model say more than its columns do.
    """

    shelf: str
    form: type[RowForm]
    columns: tuple[Column, ...]
    key: Callable[[Any], tuple[Any, ...]]
    reference: Reference | None = None
    above: str = ""
    thorough: bool = False

    @property
    def model(self) -> Any:
        """The model of the part."""
        return SHELVES[self.shelf].model

    def is_quantity(self, column: Column) -> bool:
        """Return whether the column has a unit beside it."""
        return isinstance(self.form.base_fields.get(column.of), AnswerFormField)


@dataclass(frozen=True, kw_only=True)
class SheetKind:
    """One kind of sheet.

    Attributes: slug; many, its name; what, one sentence; parts; most_rows, in one file; needs, the
    columns without which a file is not of this kind.
    """

    slug: str
    many: Words
    what: Words
    parts: tuple[Part, ...]
    most_rows: int
    needs: tuple[str, ...] = field(default=())

    @property
    def names(self) -> tuple[str, ...]:
        """The columns by which a person knows a row."""
        return tuple(name for name in ("customer", "name") if name in self.needs)

    def columns(self) -> list[tuple[Part, Column]]:
        """Return all columns in the order of the template."""
        found: list[tuple[Part, Column]] = []
        for part in self.parts:
            if part.reference:
                found += [(part, column) for column in part.reference.names]
            found += [(part, column) for column in part.columns]
        return found

    def heads(self) -> list[str]:
        """Return the names in the first row, a unit beside each quantity."""
        return [name for name, _meaning, _example in self.explained()]

    def explained(self) -> list[tuple[str, str, str]]:
        """Return name, meaning and example of each column, for the page and the template."""
        found = []
        for part, column in self.columns():
            meaning = str(column.meaning) + _allowed(part, column)
            if part.is_quantity(column):
                value, _blank, unit = column.example.partition(" ")
                found.append((column.name, meaning, value))
                found.append((unit_of(column.name), _unit_meaning(part, column), unit))
            else:
                found.append((column.name, meaning, column.example))
        return found


def unit_of(name: str) -> str:
    """Return the name of the column with the unit of a quantity."""
    return f"{name}_unit"


def _unit_meaning(part: Part, column: Column) -> str:
    widget: Any = part.form.base_fields[column.of].widget
    units = [str(value) for value, words in widget.widgets[1].choices if value and value != "or"]
    return _("Its unit: %(units)s.") % {"units": ", ".join(units)}


def _allowed(part: Part, column: Column) -> str:
    """Return the closed list that a column takes, as words to put behind its meaning."""
    if isinstance(column, ListColumn):
        return " " + _("Several are separated by semicolons.")
    form_field = part.form.base_fields.get(column.of)
    if isinstance(form_field, django_forms.BooleanField):
        return " " + _("yes or no.")
    choices: Any = getattr(form_field, "choices", None)
    if choices is None or isinstance(form_field, django_forms.ModelChoiceField):
        return ""
    values = [str(value) for value, words in choices if value]
    return " " + _("One of: %(values)s.") % {"values": ", ".join(values)}


def folded(text: str) -> str:
    """Return a name as it is compared with others: neither spaces nor capitals tell two apart."""
    return " ".join(text.split()).casefold()


_QUANTITY = r"(?P<{0}>[0-9][0-9.,]*\s*\S[^;]*?)"

CUSTOMERS = SheetKind(
    slug="customers",
    many=gettext_lazy("customers"),
    what=gettext_lazy("For whom the work is done. A customer is known again by the name."),
    most_rows=100_000,
    needs=("name", "address"),
    parts=(
        Part(
            shelf="customers",
            form=forms.CustomerForm,
            key=lambda row: (folded(row.name),),
            columns=(
                Column(
                    name="name",
                    meaning=gettext_lazy("Name of the customer; needed."),
                    example="EXAMPLE: Flat Creek Farm",
                ),
                Column(
                    name="address",
                    meaning=gettext_lazy("Postal address; needed."),
                    example="12 Section Road, Stillwater Flats",
                ),
                Column(name="phone", meaning=gettext_lazy("Telephone number."), example="555 0100"),
                Column(
                    name="email",
                    meaning=gettext_lazy("E-mail address."),
                    example="office@flatcreek.example",
                ),
            ),
        ),
    ),
)

FIELDS = SheetKind(
    slug="fields",
    many=gettext_lazy("fields"),
    what=gettext_lazy(
        "Land of a customer who is on the shelf already. A field is known again by customer and "
        "name."
    ),
    most_rows=100_000,
    needs=("customer", "name"),
    parts=(
        Part(
            shelf="fields",
            form=forms.FieldForm,
            key=lambda row: (row.customer_id, folded(row.name)),
            reference=Reference(
                column="customer",
                shelf="customers",
                names=(
                    Column(
                        name="customer",
                        meaning=gettext_lazy("Name of the customer, as on the shelf; needed."),
                        example="EXAMPLE: Flat Creek Farm",
                    ),
                    Column(
                        name="customer_address",
                        meaning=gettext_lazy(
                            "Address of the customer, where two have the same name."
                        ),
                        example="",
                    ),
                ),
            ),
            columns=(
                Column(
                    name="name",
                    meaning=gettext_lazy("Name of the field; needed."),
                    example="North quarter",
                ),
                Column(
                    name="place",
                    meaning=gettext_lazy(
                        "State or province, by its name or as ISO 3166-2 writes it; needed. "
                        "The law of this place decides."
                    ),
                    example="US-ND",
                ),
                Column(
                    name="time_zone",
                    meaning=gettext_lazy("Time zone at the field; blank for that of the business."),
                    example="America/Chicago",
                ),
                Column(
                    name="planted_size",
                    meaning=gettext_lazy("Planted size: the number."),
                    example="125.0 ac",
                ),
                Column(
                    name="elevation",
                    meaning=gettext_lazy("Elevation above the sea: the number."),
                    example="1050 ft",
                ),
                Column(
                    name="boundary",
                    meaning=gettext_lazy(
                        "Boundary as GeoJSON, longitude first, WGS 84 (RFC 7946). Many "
                        "boundaries come more easily from one shape file, below."
                    ),
                    example="",
                ),
                ListColumn(
                    name="crops",
                    list="plantings",
                    meaning=gettext_lazy("Season and crop: “2026 soybeans”."),
                    pattern=re.compile(r"(?P<season>\d{4})\s+(?P<crop>.+)"),
                    written="2026 soybeans",
                    example="2026 soybeans",
                ),
                ListColumn(
                    name="locations",
                    list="locations",
                    meaning=gettext_lazy(
                        "Where it is, kind and text: “parcel: 12-345”. Kinds: legal description, "
                        "address, coordinates, parcel, map, description."
                    ),
                    pattern=re.compile(r"(?P<kind>[a-z ]+?)\s*:\s*(?P<text>.+)", re.DOTALL),
                    written="parcel: 12-345",
                    example="parcel: 12-345",
                ),
            ),
        ),
    ),
)

_LABEL_MEANINGS: dict[str, tuple[Words, str]] = {
    "edition": (
        gettext_lazy("Edition of the label as printed; blank where you have none."),
        "3/26",
    ),
    "in_force_from": (gettext_lazy("Day from which it is in force, year-month-day."), "2026-01-01"),
    "in_force_to": (gettext_lazy("Last day on which it is in force."), ""),
    "restricted_use": (gettext_lazy("Restricted-use product:"), "no"),
    "supervised_use_allowed": (gettext_lazy("A helper may apply it under supervision:"), "yes"),
    "required_category": (gettext_lazy("Licence category the label asks for."), ""),
    "rate_min": (gettext_lazy("Lowest rate: the number."), "16 fl oz/ac"),
    "rate_max": (gettext_lazy("Highest rate: the number."), "32 fl oz/ac"),
    "carrier_min": (gettext_lazy("Least carrier: the number."), "10 gal/ac"),
    "carrier_max": (gettext_lazy("Most carrier: the number."), "20 gal/ac"),
    "finest_class": (gettext_lazy("Finest droplet class the label allows."), "M"),
    "coarsest_class": (gettext_lazy("Coarsest droplet class the label allows."), ""),
    "wind_min": (gettext_lazy("Least wind: the number."), "3 mph"),
    "wind_max": (gettext_lazy("Most wind: the number."), "10 mph"),
    "temperature_min": (gettext_lazy("Lowest temperature: the number."), ""),
    "temperature_max": (gettext_lazy("Highest temperature: the number."), "85 °F"),
    "boom_height_max": (gettext_lazy("Highest boom above the target: the number."), "24 in"),
    "minutes_after_sunrise": (gettext_lazy("Not before, minutes after sunrise."), ""),
    "minutes_before_sunset": (gettext_lazy("Not after, minutes before sunset."), ""),
    "inversion_forbidden": (gettext_lazy("Forbids spraying in an inversion:"), "yes"),
    "reentry_hours": (gettext_lazy("Re-entry interval in hours."), "12"),
    "preharvest_days": (gettext_lazy("Pre-harvest interval in days."), "14"),
    "season_max": (gettext_lazy("Most in a season: the number."), ""),
    "applications_max": (gettext_lazy("Most applications in a season."), ""),
    "interval_days": (gettext_lazy("Days between applications."), ""),
    "no_drift_reducer_with_air_induction": (
        gettext_lazy("No drift-reducing adjuvant with an air-induction nozzle:"),
        "",
    ),
    "required_adjuvants": (gettext_lazy("Adjuvants the label asks for."), ""),
    "forbidden_adjuvants": (gettext_lazy("Adjuvants the label forbids."), ""),
    "duty_classes": (gettext_lazy("Classes that laws name."), ""),
    "training": (gettext_lazy("Training asked of whoever applies it."), ""),
    "keep_years": (gettext_lazy("Years to keep the record."), ""),
}

PRODUCTS = SheetKind(
    slug="products",
    many=gettext_lazy("products"),
    what=gettext_lazy(
        "Products, each with one label edition on its row; a second edition stands on a row of its "
        "own. A product is known again by name and registration number. The label is the law: "
        "where the sheet and the label differ, the label is right. What the label wants in the "
        "record, and its time limits, are written down on the page of the label edition."
    ),
    most_rows=5_000,
    needs=("name", "kind"),
    parts=(
        Part(
            shelf="products",
            form=forms.ProductForm,
            key=lambda row: (folded(row.name), folded(row.registration_number)),
            thorough=True,
            columns=(
                Column(
                    name="name",
                    meaning=gettext_lazy("Name of the product; needed."),
                    example="EXAMPLE: Leafkill 4",
                ),
                Column(
                    name="kind",
                    meaning=gettext_lazy("Kind of product; needed."),
                    example="foliar herbicide",
                ),
                Column(
                    name="registration_number",
                    meaning=gettext_lazy(
                        "Registration number as on the container. Format the column as text, or "
                        "the spreadsheet takes leading zeros away."
                    ),
                    example="00000-000",
                ),
                Column(name="registrant", meaning=gettext_lazy("Company on the label.")),
                Column(
                    name="adjuvant_functions",
                    meaning=gettext_lazy("For an adjuvant: what it does."),
                ),
            ),
        ),
        Part(
            shelf="labels",
            form=forms.LabelForm,
            above="product",
            key=lambda row: (row.product_id, folded(row.edition)),
            thorough=True,
            columns=(
                *(
                    Column(name=name, meaning=meaning, example=example)
                    for name, (meaning, example) in _LABEL_MEANINGS.items()
                ),
                ListColumn(
                    name="ingredients",
                    list="ingredients",
                    meaning=gettext_lazy(
                        "Active ingredient and content: “ingredient A 4.5 lb/gal”."
                    ),
                    pattern=re.compile(r"(?P<name>.+?)\s+" + _QUANTITY.format("content")),
                    written="ingredient A 4.5 lb/gal",
                    example="ingredient A 4.5 lb/gal",
                ),
            ),
        ),
    ),
)

NOZZLES = SheetKind(
    slug="nozzles",
    many=gettext_lazy("nozzle models"),
    what=gettext_lazy(
        "Nozzles as their data sheets state them. A nozzle is known again by its name."
    ),
    most_rows=5_000,
    needs=("name", "kind"),
    parts=(
        Part(
            shelf="nozzles",
            form=forms.NozzleForm,
            key=lambda row: (folded(row.name),),
            thorough=True,
            columns=(
                Column(
                    name="name",
                    meaning=gettext_lazy("How you call it; needed."),
                    example="EXAMPLE: AI 11004",
                ),
                Column(
                    name="kind",
                    meaning=gettext_lazy("Kind of nozzle; needed."),
                    example="air-induction flat fan",
                ),
                Column(
                    name="size",
                    meaning=gettext_lazy(
                        "Size by ISO 10625; blank where the name says it. Format the column as "
                        "text."
                    ),
                    example="04",
                ),
                Column(name="angle", meaning=gettext_lazy("Fan angle in degrees."), example="110"),
                Column(
                    name="rated_flow",
                    meaning=gettext_lazy("Rated flow: the number; needed."),
                    example="0.40 gal/min",
                ),
                Column(
                    name="rated_pressure",
                    meaning=gettext_lazy("Pressure at that flow: the number; needed."),
                    example="40 psi",
                ),
                Column(
                    name="pressure_min",
                    meaning=gettext_lazy("Lowest rated pressure: the number; needed."),
                    example="20 psi",
                ),
                Column(
                    name="pressure_max",
                    meaning=gettext_lazy("Highest rated pressure: the number; needed."),
                    example="90 psi",
                ),
                Column(
                    name="exponent",
                    meaning=gettext_lazy("Pressure exponent; blank for 0.5."),
                ),
                Column(
                    name="flow_accuracy_percent",
                    meaning=gettext_lazy("Flow of a new nozzle within so many %; blank for 5."),
                ),
                ListColumn(
                    name="droplet_table",
                    list="class_rows",
                    meaning=gettext_lazy("Pressure and droplet class: “40 psi C; 60 psi M”."),
                    pattern=re.compile(
                        _QUANTITY.format("pressure") + r"\s+(?P<droplet_class>[A-Za-z]{1,2})"
                    ),
                    written="40 psi C",
                    example="20 psi XC; 40 psi VC; 60 psi C",
                ),
            ),
        ),
    ),
)

SHEETS: dict[str, SheetKind] = {kind.slug: kind for kind in (CUSTOMERS, FIELDS, PRODUCTS, NOZZLES)}
