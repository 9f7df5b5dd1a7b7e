"""Who uses the book (user, business, membership) and who sprays (person, licence, training)."""

from logbook.accounts.models.business import Business, Membership, PaperSize
from logbook.accounts.models.person import Licence, Person, Training
from logbook.accounts.models.token import ApiToken
from logbook.accounts.models.user import UnitSystem, User, UserManager

__all__ = [
    "ApiToken",
    "Business",
    "Licence",
    "Membership",
    "PaperSize",
    "Person",
    "Training",
    "UnitSystem",
    "User",
    "UserManager",
]
