"""What stands on the shelf: each kind's forms, list columns, and what to do when there is none."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.http import Http404
from django.utils.translation import gettext, gettext_lazy, ngettext

from logbook.accounts import forms as people_forms
from logbook.accounts.rights import Actor, Right
from logbook.accounts.services import people, person, save_person
from logbook.catalog import forms
from logbook.catalog.selectors import from_shelf, on_shelf
from logbook.catalog.services import save_on_shelf
from logbook.catalog.sheets.kinds import SHEETS
from logbook.forms.rows import RowForm, RowList, Words
from logbook.localization import locale
from logbook.web.catalog.present import areas
from logbook.web.templatetags.book import size_swatch

Column = tuple[Words, Callable[[Any, str], Any]]
"""A column of a list: its head, and what it reads off a row for a person of a unit system."""


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One kind of row on the shelf.

    Attributes: slug in the address; one and many, its names; purpose, what it is for; empty, what
    to do when there is none; form and lists, how it is written; columns of the list after the name;
    hanging, by slug of another kind the column of that kind that points here; change, the right it
    takes.
    """

    slug: str
    one: Words
    many: Words
    purpose: Words
    empty: Words
    form: type[RowForm]
    columns: tuple[Column, ...]
    lists: Mapping[str, type[RowList]] = field(default_factory=dict)
    hanging: Mapping[str, str] = field(default_factory=dict)
    change: Right = Right.SHELF

    @property
    def by_sheet(self) -> bool:
        """Whether rows of the kind can be brought in from a sheet."""
        return self.slug in SHEETS

    def rows(self, *, actor: Actor, search: str = "") -> Any:
        """Return the rows of the actor's business, narrowed by `search`."""
        return on_shelf(business=actor.business, shelf=self.slug, search=search)

    def get(self, *, actor: Actor, row_id: UUID) -> Any:
        """Return one row.

        Raises: NotThere if the business has none of that id.
        """
        return from_shelf(business=actor.business, shelf=self.slug, row_id=row_id)

    def save(
        self, *, actor: Actor, row_id: UUID, data: dict[str, Any], create: bool, seen: str
    ) -> Any:
        """Return the saved row; all of it and its lists, or nothing. `seen`: see `save_row`.

        Raises: NotAllowed, Refused, RefusedInput.
        """
        actor.must(self.change)
        return save_on_shelf(
            business=actor.business,
            shelf=self.slug,
            row_id=row_id,
            data=data,
            create=create,
            seen=seen,
        )


class PeopleKind(Kind):
    """People are kept by `accounts`, behind a right of their own."""

    def rows(self, *, actor: Actor, search: str = "") -> Any:
        return people(actor=actor, search=search)

    def get(self, *, actor: Actor, row_id: UUID) -> Any:
        return person(actor=actor, person_id=row_id)

    def save(
        self, *, actor: Actor, row_id: UUID, data: dict[str, Any], create: bool, seen: str
    ) -> Any:
        if not create:
            self.get(actor=actor, row_id=row_id)
        return save_person(actor=actor, person_id=row_id, data=data, seen=seen)


def _area(row: Any, system: str) -> str:
    return areas(row.area_ha, system=system) if row.area_ha else ""


def _expiry(row: Any, _: str) -> Any:
    return max((licence.expires_on for licence in row.licences.all()), default=None)


def _editions(row: Any, _: str) -> str:
    count = len(row.editions.all())
    if not count:
        return gettext("no label yet")
    return ngettext("%(count)d edition", "%(count)d editions", count) % {"count": count}


def _nozzles(row: Any, _: str) -> str:
    words = gettext("%(count)d at %(spacing)s")
    return words % {"count": row.nozzle_count, "spacing": locale.format_value(row.spacing)}


_ALL = (
    Kind(
        slug="customers",
        one=gettext_lazy("customer"),
        many=gettext_lazy("customers"),
        purpose=gettext_lazy("for whom the work is done"),
        empty=gettext_lazy("Write down the first customer; fields belong to one."),
        form=forms.CustomerForm,
        columns=((gettext_lazy("Address"), lambda row, _: row.address),),
        hanging={"fields": "customer"},
    ),
    Kind(
        slug="fields",
        one=gettext_lazy("field"),
        many=gettext_lazy("fields"),
        purpose=gettext_lazy("where it is sprayed, and what grows there"),
        empty=gettext_lazy(
            "Write down the first field. With its boundary the area is measured for you."
        ),
        form=forms.FieldForm,
        lists={"locations": forms.LOCATIONS, "plantings": forms.PLANTINGS},
        columns=(
            (gettext_lazy("Customer"), lambda row, _: row.customer.name),
            (gettext_lazy("Area"), _area),
        ),
    ),
    Kind(
        slug="places",
        one=gettext_lazy("sensitive place"),
        many=gettext_lazy("sensitive places"),
        purpose=gettext_lazy("water, dwellings, hives, crops that spray must not reach"),
        empty=gettext_lazy(
            "Write down what lies near your fields; the map of a field then shows how far it is."
        ),
        form=forms.SensitivePlaceForm,
        columns=(
            (gettext_lazy("Kind"), lambda row, _: row.get_kind_display()),
            (gettext_lazy("Distance to keep"), lambda row, _: row.keep_off),
        ),
    ),
    Kind(
        slug="products",
        one=gettext_lazy("product"),
        many=gettext_lazy("products"),
        purpose=gettext_lazy("what is sprayed, as it leaves the container"),
        empty=gettext_lazy("Write down the first product, then the label edition you hold."),
        form=forms.ProductForm,
        columns=(
            (gettext_lazy("Kind"), lambda row, _: row.get_kind_display()),
            (gettext_lazy("Label"), _editions),
        ),
        hanging={"labels": "product"},
    ),
    Kind(
        slug="labels",
        one=gettext_lazy("label edition"),
        many=gettext_lazy("label editions"),
        purpose=gettext_lazy("what a dated label allows; the one in force on the day counts"),
        empty=gettext_lazy(
            "Copy the limits of a product's label from the container. The label is the law: "
            "where this page and the label differ, the label is right."
        ),
        form=forms.LabelForm,
        lists={
            "ingredients": forms.INGREDIENTS,
            "asks": forms.LABEL_ASKS,
            "deadlines": forms.LABEL_DEADLINES,
        },
        columns=(
            (gettext_lazy("Edition"), lambda row, _: row.edition),
            (gettext_lazy("In force from"), lambda row, _: row.in_force_from),
        ),
    ),
    Kind(
        slug="nozzles",
        one=gettext_lazy("nozzle model"),
        many=gettext_lazy("nozzle models"),
        purpose=gettext_lazy("flow and droplet table from the data sheet"),
        empty=gettext_lazy(
            "Write down the first nozzle from its data sheet, with its droplet table."
        ),
        form=forms.NozzleForm,
        lists={"class_rows": forms.CLASS_ROWS},
        columns=(
            (gettext_lazy("Size"), lambda row, _: size_swatch(row.size)),
            (gettext_lazy("Kind"), lambda row, _: row.get_kind_display()),
        ),
        hanging={"nozzle-sets": "nozzle"},
    ),
    Kind(
        slug="rigs",
        one=gettext_lazy("rig"),
        many=gettext_lazy("rigs"),
        purpose=gettext_lazy("tank, boom, and how well gauge and speed measure"),
        empty=gettext_lazy("Write down the first rig: its tank, its nozzles and its gauge."),
        form=forms.RigForm,
        columns=(
            (gettext_lazy("Nozzles"), _nozzles),
            (gettext_lazy("Tank"), lambda row, _: row.tank),
        ),
        hanging={"nozzle-sets": "rig"},
    ),
    Kind(
        slug="nozzle-sets",
        one=gettext_lazy("nozzle set"),
        many=gettext_lazy("nozzle sets"),
        purpose=gettext_lazy("which nozzles sit on which rig since when"),
        empty=gettext_lazy(
            "Say which nozzles are mounted on which rig. A rig and a nozzle model come first."
        ),
        form=forms.NozzleSetForm,
        columns=(
            (gettext_lazy("Mounted on"), lambda row, _: row.mounted_on),
            (gettext_lazy("Taken off"), lambda row, _: row.removed_on),
        ),
        hanging={"catch-tests": "nozzle_set"},
    ),
    Kind(
        slug="catch-tests",
        one=gettext_lazy("catch test"),
        many=gettext_lazy("catch tests"),
        purpose=gettext_lazy("what the nozzles really gave, caught and timed"),
        empty=gettext_lazy(
            "Catch water from every nozzle for the same time at one pressure, and write down the "
            "volumes. The checks then use what the nozzles gave, not what the data sheet says."
        ),
        form=forms.CatchTestForm,
        columns=(
            (gettext_lazy("Nozzles"), lambda row, _: row.nozzle_set),
            (gettext_lazy("Tested by"), lambda row, _: row.tested_by),
        ),
    ),
    PeopleKind(
        slug="people",
        one=gettext_lazy("person"),
        many=gettext_lazy("people"),
        purpose=gettext_lazy("who sprays, with licences and training"),
        empty=gettext_lazy(
            "Write down who sprays, with licence and training; a record names them."
        ),
        form=people_forms.PersonForm,
        lists={"licences": people_forms.LICENCES, "trainings": people_forms.TRAININGS},
        columns=(
            (gettext_lazy("Licences"), lambda row, _: len(row.licences.all()) or gettext("none")),
            (gettext_lazy("Last expires"), _expiry),
        ),
        change=Right.PEOPLE,
    ),
)

KINDS: dict[str, Kind] = {kind.slug: kind for kind in _ALL}


def kind_of(slug: str) -> Kind:
    """Return the kind of an address.

    Raises: Http404 if there is none.
    """
    if slug not in KINDS:
        raise Http404(gettext("There is no such shelf."))
    return KINDS[slug]
