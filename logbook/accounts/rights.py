"""Who may do what: one table, and the one object through which pages, API and services ask."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _

from logbook.errors.exceptions import NotAllowed
from logbook.facts.messages import gettext_noop
from logbook.localization.locale import translate_word

if TYPE_CHECKING:
    from logbook.accounts.models import Business, Grant, User


class Role(StrEnum):
    """A role within one business, or, by a grant, outside it."""

    OWNER = gettext_noop("owner")
    OFFICE = gettext_noop("office")
    APPLICATOR = gettext_noop("applicator")
    HELPER = gettext_noop("helper")
    FARM_MANAGER = gettext_noop("farm manager")
    INSPECTOR = gettext_noop("inspector")


INSIDE = (Role.OWNER, Role.OFFICE, Role.APPLICATOR, Role.HELPER)
"""The roles of members. They see the whole book of their business, drafts too."""

OUTSIDE = (Role.FARM_MANAGER, Role.INSPECTOR)
"""The roles that a grant gives. They see sealed records inside the grant's scope, nothing else."""


class Right(StrEnum):
    """Something a role may do."""

    SEE = gettext_noop("see records and the shelf")
    DRAFT = gettext_noop("write drafts")
    SET_ASIDE = gettext_noop("set aside drafts that others began")
    SIGN = gettext_noop("sign records")
    AMEND = gettext_noop("begin an amendment")
    SHELF = gettext_noop("change fields, products, nozzles and rigs")
    PEOPLE = gettext_noop("change people and their licences")
    BUSINESS = gettext_noop("change the business and its yardsticks")
    DUTIES = gettext_noop("write down notices, copies and reports")
    HOLD = gettext_noop("hold records back from being purged")
    PURGE = gettext_noop("lift a hold, and purge records that may go")
    READ = gettext_noop("see sealed records")
    PRINT = gettext_noop("print sealed records")
    VERIFY = gettext_noop("verify the log of seals")
    GRANTS = gettext_noop("give access from outside, withdraw it and see what it was used for")


TABLE: dict[Role, frozenset[Right]] = {
    Role.OWNER: frozenset(Right),
    Role.OFFICE: frozenset(
        {
            *(Right.SEE, Right.DRAFT, Right.AMEND, Right.SHELF, Right.PEOPLE),
            *(Right.DUTIES, Right.HOLD, Right.SET_ASIDE, Right.GRANTS),
            *(Right.READ, Right.PRINT, Right.VERIFY),
        }
    ),
    Role.APPLICATOR: frozenset(
        {
            *(Right.SEE, Right.DRAFT, Right.SIGN, Right.AMEND, Right.SHELF, Right.DUTIES),
            *(Right.READ, Right.PRINT, Right.VERIFY),
        }
    ),
    Role.HELPER: frozenset({Right.SEE, Right.DRAFT, Right.READ, Right.PRINT, Right.VERIFY}),
    # Not SEE, which opens drafts, the shelf, deadlines and files: least privilege.
    Role.FARM_MANAGER: frozenset({Right.READ, Right.PRINT}),
    Role.INSPECTOR: frozenset({Right.READ, Right.PRINT, Right.VERIFY}),
}


class Scope(StrEnum):
    """What a token may be used for, at most."""

    READ = gettext_noop("read")
    DRAFTS = gettext_noop("drafts")
    SHELF = gettext_noop("shelf")
    DUTIES = gettext_noop("duties")


LOOK = frozenset({Right.SEE, Right.READ, Right.PRINT, Right.VERIFY})
SCOPES: dict[Scope, frozenset[Right]] = {
    Scope.READ: LOOK,
    Scope.DRAFTS: LOOK | {Right.DRAFT, Right.AMEND},
    Scope.SHELF: LOOK | {Right.SHELF, Right.PEOPLE},
    Scope.DUTIES: LOOK | {Right.DUTIES},
}
"""The rights of a scope. Some rights are in none, whatever the role: to sign is to say "I looked at
this", which a program cannot; holds, purges and the business itself are for a person who is there.
"""


@dataclass(frozen=True)
class Actor:
    """A person acting in one business; every service takes one.

    Whoever acts from outside does so by one grant, and sees what it opens (`reading.visible`).
    Args: only, the rights beyond which the role counts for nothing: those of a token's scopes.
    """

    user: User
    business: Business
    role: Role
    grant: Grant | None = None
    only: frozenset[Right] | None = field(default=None, kw_only=True)

    def __post_init__(self) -> None:
        # Without its grant a role from outside would have no scope, which must not mean "all".
        if (self.role in OUTSIDE) != (self.grant is not None):
            raise ValueError(f"The role of {self.role.value} and a grant do not go together so.")

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
            raise NotAllowed(
                _("This token does not let a program %(deed)s.")
                % {"deed": translate_word(right.value)}
            )
        if not self.may(right):
            raise NotAllowed(
                _("As %(role)s you may not %(deed)s.")
                % {"role": translate_word(self.role.value), "deed": translate_word(right.value)}
            )
