"""The rows that imported records refer to: found on the shelf by what names them, or put there.

A row that an earlier import made is found by its id, which follows from the id in the file; any
other by what names it to a person: a customer by name and address, a field by customer and name, a
product by name and authorisation number, a label edition by product and edition, a nozzle by name,
kind and size, a rig by name and plate, a person by name, unless the licences are others. What is
found stays as it is.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, NoReturn
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from logbook.accounts.models import Licence, Person
from logbook.accounts.rights import Actor
from logbook.accounts.services import save_person
from logbook.catalog.models import (
    CatchTest,
    Customer,
    Field,
    LabelEdition,
    NozzleModel,
    NozzleSet,
    Planting,
    Product,
    Rig,
)
from logbook.catalog.services import save_on_shelf
from logbook.errors.exceptions import Refused, RefusedInput
from logbook.facts import record as facts
from logbook.facts.codec import to_json
from logbook.facts.messages import gettext_noop
from logbook.records.exchange.reading import Reader

NAMESPACE = UUID("0b9c9f0e-8a77-4f0e-9a53-6d3c3f6f1b52")

Data = dict[str, Any]


def stable_id(actor: Actor, kind: str, key: str) -> UUID:
    """Return the id that a row of the file has in the actor's business, now and ever after."""
    return uuid.uuid5(NAMESPACE, f"{actor.business.pk}/{kind}/{key}")


@dataclass
class Count:
    """How many rows of a kind an import found on the shelf, and how many it put there."""

    found: int = 0
    new: int = 0


class Unsettled(Exception):
    """A row could neither be found nor made; what is wrong with it has been noted."""


class Shelf:
    """Settles which row of the shelf each fact of the file stands for; each is settled once.

    The versions of a row in several records are one row. Settle the newest record first: its
    version is the one that is put on the shelf.
    """

    def __init__(self, actor: Actor, reader: Reader) -> None:
        self.actor, self.reader = actor, reader
        self.business = actor.business
        self.rows: dict[tuple[str, str], UUID | int | None] = {}
        self.made: set[UUID] = set()
        self.counts: dict[str, Count] = {}

    def settle(self, snapshot: facts.Snapshot, at: str) -> Data:
        """Return the columns of the record that refer to the shelf, for `save_draft`.

        Args: at: the place of the facts in the file.
        Raises: Unsettled.
        """
        found: Data = {
            "customer": None,
            "field": None,
            "planting": None,
            "rig": None,
            "nozzle_set": None,
            "applicator": self._person(snapshot.applicator, f"{at}.applicator"),
            "supervisor": self._person(snapshot.supervisor, f"{at}.supervisor"),
            "crew": [
                self._person(person, f"{at}.crew[{place}]")
                for place, person in enumerate(snapshot.crew)
            ],
        }
        if snapshot.customer:
            found["customer"] = self._customer(snapshot.customer, f"{at}.customer")
        if snapshot.field:
            found["field"] = self._field(snapshot, f"{at}.field")
        if snapshot.crop:
            found["planting"] = self._planting(snapshot, f"{at}.crop")
        if snapshot.rig:
            found["rig"] = self._rig(snapshot.rig, f"{at}.rig")
        if snapshot.nozzle:
            found["nozzle_set"] = self._nozzle_set(snapshot, at)
        for place, line in enumerate(snapshot.products):
            self.product(line, f"{at}.products[{place}]")
        return found

    def product(self, line: facts.ProductFacts, at: str) -> UUID:
        """Return the id of the product of a line; its label edition is settled with it."""
        product_id = self._settled(
            "products",
            line.product_id,
            at,
            Product.objects.filter(name=line.name, registration_number=line.registration_number),
            {
                "name": line.name,
                "registration_number": line.registration_number,
                "registrant": line.registrant,
                "kind": line.kind,
                "adjuvant_functions": list(line.adjuvant_functions),
            },
        )
        if line.label:
            self._label(line.label, product_id, f"{at}.label")
        return product_id

    # --- kinds -----------------------------------------------------------------------------------

    def _customer(self, customer: facts.CustomerFacts, at: str) -> UUID:
        return self._settled(
            "customers",
            customer.id,
            at,
            Customer.objects.filter(name=customer.name, address=customer.address),
            {"name": customer.name, "address": customer.address},
        )

    def _field(self, snapshot: facts.Snapshot, at: str) -> UUID:
        field = snapshot.field
        if field is None or snapshot.customer is None:
            self._refuse(at, _("a field needs its customer."))
        customer_id = self._customer(snapshot.customer, at)
        return self._settled(
            "fields",
            f"{field.id}\n{customer_id}",  # A field that was sold is another one in the book.
            at,
            Field.objects.filter(customer_id=customer_id, name=field.name),
            {
                "customer": customer_id,
                "locations": [{"kind": one.kind, "text": one.text} for one in field.locations],
                **_columns(field, Field, without={"id", "area_ha"}),
            },
        )

    def _planting(self, snapshot: facts.Snapshot, at: str) -> int:
        crop = snapshot.crop
        if crop is None or snapshot.field is None:
            self._refuse(at, _("a crop needs the field on which it stands."))
        field_id = self._field(snapshot, at)
        # The facts do not say the season; it is the year of the work, or else of the planting.
        day = snapshot.local_day() or crop.planted_on
        if day is None:
            self._refuse(at, _("a crop needs the day of the work or of the planting."))
        season = day.year
        key = f"{field_id}/{crop.name}/{crop.eppo_code}/{crop.planted_on}/{season}"
        if ("plantings", key) not in self.rows:
            row = Planting.objects.filter(
                field_id=field_id,
                crop=crop.name,
                eppo_code=crop.eppo_code,
                planted_on=crop.planted_on,
                season__in={season, crop.planted_on.year if crop.planted_on else season},
            ).first()
            self._count(gettext_noop("plantings"), new=row is None)
            if row is None:
                row = Planting(
                    field_id=field_id,
                    crop=crop.name,
                    eppo_code=crop.eppo_code,
                    planted_on=crop.planted_on,
                    season=season,
                )
                with self._noting(at, {"crop": "name"}), transaction.atomic():
                    row.full_clean()
                    row.save()
            self.rows["plantings", key] = row.pk
        found: int = self._known("plantings", key)
        return found

    def _label(self, label: facts.LabelFacts, product_id: UUID, at: str) -> UUID:
        retention = label.retention[0].years if label.retention else None
        return self._settled(
            "labels",
            label.id,
            at,
            LabelEdition.objects.filter(product_id=product_id, edition=label.edition),
            {
                **_columns(label, LabelEdition, without={"id"}),
                "product": product_id,
                "duty_classes": list(label.classes),
                "keep_years": retention,
                "ingredients": [vars(ingredient) for ingredient in label.ingredients],
                "asks": [
                    {"element": ask.name, "when": ask.when.value, "detail": ask.detail}
                    for ask in label.asks
                ],
                "deadlines": [
                    {
                        "kind": deadline.kind.value,
                        "clock": deadline.clock.value,
                        "count": deadline.count,
                        "since": deadline.since.value,
                        "detail": deadline.detail,
                    }
                    for deadline in label.deadlines
                ],
            },
        )

    def _rig(self, rig: facts.RigFacts, at: str) -> UUID:
        return self._settled(
            "rigs",
            rig.id,
            at,
            Rig.objects.filter(name=rig.name, plate=rig.plate),
            _columns(rig, Rig, without={"id"}),
        )

    def _nozzle_set(self, snapshot: facts.Snapshot, at: str) -> UUID:
        nozzle, rig, mounted_on = snapshot.nozzle, snapshot.rig, snapshot.nozzle_mounted_on
        if nozzle is None or rig is None or mounted_on is None:
            self._refuse(f"{at}.nozzle", _("nozzles need their rig and the day they were mounted."))
        rig_id = self._rig(rig, f"{at}.rig")
        nozzle_id = self._settled(
            "nozzles",
            f"{nozzle.name}\n{nozzle.kind}\n{nozzle.size}",
            f"{at}.nozzle",
            NozzleModel.objects.filter(name=nozzle.name, kind=nozzle.kind, size=nozzle.size),
            {
                **_columns(nozzle, NozzleModel),
                "class_rows": [vars(row) for row in nozzle.class_table],
            },
        )
        set_id = self._settled(
            "nozzle-sets",
            f"{rig_id}\n{nozzle_id}\n{mounted_on}",
            f"{at}.nozzle_mounted_on",
            NozzleSet.objects.filter(rig_id=rig_id, nozzle_id=nozzle_id, mounted_on=mounted_on),
            {
                "rig": rig_id,
                "nozzle": nozzle_id,
                "mounted_on": mounted_on,
                "removed_on": snapshot.nozzle_removed_on,
            },
        )
        if snapshot.catch_test:
            self._catch_test(snapshot.catch_test, set_id, f"{at}.catch_test")
        return set_id

    def _catch_test(self, test: facts.CatchTestFacts, set_id: UUID, at: str) -> UUID:
        volumes = [f"{volume:f}" for volume in test.volumes]
        same_day = CatchTest.objects.filter(
            nozzle_set_id=set_id, tested_on=test.tested_on, volume_unit=test.volume_unit
        )
        same = [row.pk for row in same_day if row.readings() == test.volumes]
        return self._settled(
            "catch-tests",
            f"{set_id}\n{test.tested_on}\n{test.volume_unit}\n{volumes}",
            at,
            CatchTest.objects.filter(pk__in=same),
            {
                **_columns(test, CatchTest),
                "nozzle_set": set_id,
                "volumes": volumes,
            },
        )

    def _person(self, person: facts.PersonFacts | None, at: str) -> UUID | None:
        if person is None:
            return None
        numbers = [licence.number for licence in person.licences]
        named = Person.objects.filter(name=person.name).exclude(pk__in=self.made)
        # Nobody is taken for somebody of the same name who holds other licences.
        others = Licence.objects.filter(person__in=named)
        if numbers:
            same = others.filter(number__in=numbers).values("person")
            named = named.filter(pk__in=same) | named.exclude(pk__in=others.values("person"))
        return self._settled(
            "people",
            person.id,
            at,
            named,
            {
                "name": person.name,
                "licences": [
                    {**vars(licence), "categories": ", ".join(licence.categories)}
                    for licence in person.licences
                ],
                "trainings": [vars(training) for training in person.trainings],
            },
        )

    # --- finding and making ----------------------------------------------------------------------

    def _settled(self, kind: str, key: str, at: str, same: Any, data: Data) -> UUID:
        """Return the id of the row of `key`: one made before, one of `same`, or a new one."""
        if (kind, key) not in self.rows:
            # Whatever goes wrong is said once, not for every record that names the row.
            self.rows[kind, key] = None
            made_id = stable_id(self.actor, kind, key)
            own = same.model.objects.within(self.business)
            row = own.filter(pk=made_id).first() or (same & own).order_by("created_at").first()
            self._count(kind, new=row is None)
            if row is None:
                with self._noting(at):
                    row = self._make(kind, made_id, data)
                self.made.add(made_id)
            self.rows[kind, key] = row.pk
        found: UUID = self._known(kind, key)
        return found

    def _known(self, kind: str, key: str) -> Any:
        row_id = self.rows[kind, key]
        if row_id is None:
            raise Unsettled
        return row_id

    def _make(self, kind: str, row_id: UUID, data: Data) -> Any:
        if kind == "people":
            return save_person(actor=self.actor, person_id=row_id, data=data)
        return save_on_shelf(business=self.business, shelf=kind, row_id=row_id, data=data)

    def _count(self, kind: str, *, new: bool) -> None:
        count = self.counts.setdefault(kind, Count())
        if new:
            count.new += 1
        else:
            count.found += 1

    def _refuse(self, at: str, allowed: str) -> NoReturn:
        self.reader.refuse(at, None, allowed, absent=True)
        raise Unsettled

    @contextmanager
    def _noting(self, at: str, renamed: dict[str, str] | None = None) -> Iterator[None]:
        """Note what a service refuses, by the place in the file."""
        try:
            yield
        except ValidationError as bad:
            note(self.reader, at, bad.message_dict, renamed or {})
            raise Unsettled from None
        except RefusedInput as bad:
            note(self.reader, at, bad.errors, renamed or {})
            raise Unsettled from None
        except Refused as bad:
            self.reader.refuse(at, None, str(bad), absent=True)
            raise Unsettled from None


def note(reader: Reader, at: str, errors: dict[str, list[str]], renamed: dict[str, str]) -> None:
    """Note errors by path ("locations.0.kind") as problems of places ("….locations[0].kind")."""
    for path, texts in errors.items():
        place = at
        for part in path.split("."):
            name = renamed.get(part, "" if part == "__all__" else part)
            place += f"[{part}]" if part.isdigit() else f".{name}" if name else ""
        reader.refuse(place, None, " ".join(texts), absent=True)


def _columns(row: Any, model: Any, *, without: frozenset[str] | set[str] = frozenset()) -> Data:
    """Return the facts that are columns of the same name, lists as JSON."""
    names = {column.name for column in model._meta.concrete_fields}
    return {
        name: to_json(value) if isinstance(value, tuple) else value
        for name, value in vars(row).items()
        if name in names and name not in without
    }
