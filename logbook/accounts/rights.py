"""Who may do what: one table, and the one object through which pages, API and services ask."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from logbook.base.refusals import NotAllowed

if TYPE_CHECKING:
    from logbook.accounts.models import Business, User


class Role(StrEnum):
    """A role within one business."""

    OWNER = "owner"
    OFFICE = "office"
    APPLICATOR = "applicator"
    HELPER = "helper"


class Right(StrEnum):
    """Something a role may do."""

    SEE = "see records and the shelf"
    DRAFT = "write drafts"
    SET_ASIDE = "set aside drafts that others began"
    SIGN = "sign records"
    AMEND = "begin an amendment"
    SHELF = "change fields, products, nozzles and rigs"
    PEOPLE = "change people and their licences"
    BUSINESS = "change the business and its yardsticks"
    DUTIES = "write down notices, copies and reports"
    HOLD = "hold records back from being purged"
    PURGE = "lift a hold, and purge records that may go"


TABLE: dict[Role, frozenset[Right]] = {
    Role.OWNER: frozenset(Right),
    Role.OFFICE: frozenset(
        {
            *(Right.SEE, Right.DRAFT, Right.AMEND, Right.SHELF, Right.PEOPLE),
            *(Right.DUTIES, Right.HOLD, Right.SET_ASIDE),
        }
    ),
    Role.APPLICATOR: frozenset(
        {Right.SEE, Right.DRAFT, Right.SIGN, Right.AMEND, Right.SHELF, Right.DUTIES}
    ),
    Role.HELPER: frozenset({Right.SEE, Right.DRAFT}),
}


@dataclass(frozen=True)
class Actor:
    """A person acting in one business; every service takes one."""

    user: User
    business: Business
    role: Role

    def may(self, right: Right) -> bool:
        """Return whether the role carries the right."""
        return right in TABLE[self.role]

    @property
    def can(self) -> dict[str, bool]:
        """The rights by name, for templates: `actor.can.sign`."""
        return {right.name.lower(): self.may(right) for right in Right}

    def must(self, right: Right) -> None:
        """Raise NotAllowed unless the role carries the right."""
        if not self.may(right):
            raise NotAllowed(f"As {self.role.value} you may not {right.value}.")
