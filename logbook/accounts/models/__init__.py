"""Who uses the book (user, business, membership, grant) and who sprays (person, licence …)."""

from logbook.accounts.models.business import Business, Membership, PaperSize
from logbook.accounts.models.grant import Grant, GrantedCustomer, GrantedField, Visit
from logbook.accounts.models.person import Licence, Person, Training
from logbook.accounts.models.user import UnitSystem, User, UserManager

__all__ = [
    "Business",
    "Grant",
    "GrantedCustomer",
    "GrantedField",
    "Licence",
    "Membership",
    "PaperSize",
    "Person",
    "Training",
    "UnitSystem",
    "User",
    "UserManager",
    "Visit",
]
