"""All forms of one draft together, and their way to and from the service that saves it."""

from __future__ import annotations

import uuid
from collections.abc import Collection
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.accounts.rights import Actor
from logbook.catalog.models import Product
from logbook.facts.messages import gettext_noop
from logbook.facts.record import ProductFacts, Snapshot
from logbook.facts.sets import columns_of
from logbook.localization.locale import translate_word
from logbook.records.models import (
    ApplicationRecord,
    Load,
    LoadUse,
    ProductLine,
    WeatherReading,
)
from logbook.records.reading.selectors import tanks
from logbook.records.writing.draft import save_draft
from logbook.records.writing.forms import (
    MEASURED,
    STATEMENT,
    LoadForm,
    ProductLineForm,
    RecordForm,
    WeatherForm,
    to_state,
)
from logbook.records.writing.inputs import PART, BookForm, wall_clock

MAX_ROWS = 60
"""Rows of one list that a page may send; a record takes fewer still."""


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

    def _rows(self, name: str, initials: list[dict[str, Any]], add: str) -> list[BookForm]:
        count = len(initials)
        data = self.data
        if data is not None:
            sent = uint(data.get(f"{name}-count"))
            if sent is None or sent > MAX_ROWS:
                self.incomplete.add(name)
                data = None  # Nothing of the list can be told from it: what stands is shown.
            else:
                count = sent
        forms_: list[BookForm] = []
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

    def _form(self, name: str, place: int, initial: dict[str, Any], data: Any) -> BookForm:
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
