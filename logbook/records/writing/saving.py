"""What a save leans on: what it refuses, by path, and the rows that it names."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import models
from django.utils.translation import gettext as _

from logbook.catalog.models import Planting
from logbook.facts.messages import gettext_noop
from logbook.localization.locale import translate_word

NAMES = (
    gettext_noop("customer"),
    gettext_noop("field"),
    gettext_noop("person"),
    gettext_noop("rig"),
    gettext_noop("nozzle set"),
    gettext_noop("application record"),
    gettext_noop("planting"),
    gettext_noop("product"),
    gettext_noop("load"),
)
"""What a refusal calls the rows that a draft names."""


class Refusals(dict[str, list[str]]):
    """What is refused so far, by path.

    Args: ask_constraints: ask each constraint of a table before anything is written.
    """

    def __init__(self, *, ask_constraints: bool = False) -> None:
        super().__init__()
        self._ask_constraints = ask_constraints

    def add(self, path: str, why: str) -> None:
        self.setdefault(path, []).append(why)

    def clean(self, row: models.Model, path: str = "") -> None:
        """Note what the row's own columns refuse; what it refers to was looked up before."""
        refers = {column.name for column in row._meta.fields if column.is_relation}
        unread: set[str] = set()
        steps = [lambda: row.clean_fields(exclude=refers), row.clean]
        if self._ask_constraints:
            steps.append(lambda: row.validate_constraints(exclude=unread))
        for step in steps:
            try:
                step()
            except ValidationError as bad:
                by_name = bad.message_dict if hasattr(bad, "error_dict") else {"": bad.messages}
                unread |= by_name.keys()
                for name, texts in by_name.items():
                    own = name not in ("", NON_FIELD_ERRORS)
                    at = f"{path}{name}" if own else path.rstrip(".") or "record"
                    self.setdefault(at, []).extend(texts)


class Rows:
    """The rows of one business that a save names, each fetched once."""

    def __init__(self, business: Any) -> None:
        self.business = business
        self._known: dict[tuple[Any, Any], Any] = {}

    def fetch(self, model: Any, given: Iterable[Any], *, lock: bool = False) -> None:
        """Fetch all that are named of a model at once, with their rows locked if asked."""
        keys = {_key(model, one) for one in given if one not in (None, "")} - {None}
        wanted = [key for key in keys if (model, key) not in self._known]
        if not wanted:
            return
        rows = model.objects.all()
        if hasattr(rows, "within"):
            rows = rows.within(self.business)
        elif model is Planting:
            rows = rows.filter(field__business=self.business)
        # In one order, so that two who lock the same rows wait for each other only once.
        rows = rows.select_for_update().order_by("pk") if lock else rows.order_by()
        found = {row.pk: row for row in rows.filter(pk__in=wanted)}
        self._known |= {(model, key): found.get(key) for key in wanted}

    def find(self, model: Any, given: Any, path: str, errors: Refusals) -> Any | None:
        """Return the row that `given` names, or note that there is none."""
        if given in (None, ""):
            return None
        self.fetch(model, [given])
        row = self._known.get((model, _key(model, given)))
        if row is None:
            what = {"what": translate_word(str(model._meta.verbose_name)), "given": given}
            errors.add(path, _("There is no such %(what)s: %(given)s.") % what)
        return row


def _key(model: Any, given: Any) -> Any | None:
    """Return what was given as a key of the model, None if it cannot be one."""
    try:
        return model._meta.pk.to_python(given)
    except ValidationError:
        return None
