"""Who may do what: one table, and the one object through which pages, API and services ask."""

from __future__ import annotations

from dataclasses import dataclass, field
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
            *(Right.DUTIES, Right.HOLD),
        }
    ),
    Role.APPLICATOR: frozenset(
        {Right.SEE, Right.DRAFT, Right.SIGN, Right.AMEND, Right.SHELF, Right.DUTIES}
    ),
    Role.HELPER: frozenset({Right.SEE, Right.DRAFT}),
}


class Scope(StrEnum):
    """What a token may be used for, at most."""

    READ = "read"
    DRAFTS = "drafts"
    SHELF = "shelf"
    DUTIES = "duties"


SCOPES: dict[Scope, frozenset[Right]] = {
    Scope.READ: frozenset({Right.SEE}),
    Scope.DRAFTS: frozenset({Right.SEE, Right.DRAFT, Right.AMEND}),
    Scope.SHELF: frozenset({Right.SEE, Right.SHELF, Right.PEOPLE}),
    Scope.DUTIES: frozenset({Right.SEE, Right.DUTIES}),
}
"""The rights of a scope. Some rights are in none, whatever the role: to sign is to say "I looked at
this", which a program cannot; holds, purges and the business itself are for a person who is there.
"""


@dataclass(frozen=True)
class Actor:
    """A person acting in one business; every service takes one.

    Args: only, the rights beyond which the role counts for nothing: those of a token's scopes.
    """

    user: User
    business: Business
    role: Role
    only: frozenset[Right] | None = field(default=None, kw_only=True)

    def may(self, right: Right) -> bool:
        """Return whether the role carries the right, and the token too where there is one."""
        return right in TABLE[self.role] and (self.only is None or right in self.only)

    @property
    def can(self) -> dict[str, bool]:
        """The rights by name, for templates: `actor.can.sign`."""
        return {right.name.lower(): self.may(right) for right in Right}

    def must(self, right: Right) -> None:
        """Raise NotAllowed unless the role carries the right."""
        if self.only is not None and right not in self.only:
            raise NotAllowed(f"This token does not let a program {right.value}.")
        if not self.may(right):
            raise NotAllowed(f"As {self.role.value} you may not {right.value}.")
