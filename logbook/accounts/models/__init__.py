"""Who uses the book (user, business, membership, grant, device), who sprays, and the journal."""

from logbook.accounts.models.business import Business, Membership, PaperSize
from logbook.accounts.models.device import Device
from logbook.accounts.models.grant import Grant, GrantedCustomer, GrantedField, Visit
from logbook.accounts.models.history import ShelfChange
from logbook.accounts.models.invitation import Invitation
from logbook.accounts.models.journal import Journal, JournalEntry
from logbook.accounts.models.passkey import Passkey
from logbook.accounts.models.person import Licence, Person, Training
from logbook.accounts.models.token import ApiToken
from logbook.accounts.models.user import UnitSystem, User, UserManager

__all__ = [
    "ApiToken",
    "Business",
    "Device",
    "Grant",
    "GrantedCustomer",
    "GrantedField",
    "Invitation",
    "Journal",
    "JournalEntry",
    "Licence",
    "Membership",
    "PaperSize",
    "Passkey",
    "Person",
    "ShelfChange",
    "Training",
    "UnitSystem",
    "User",
    "UserManager",
    "Visit",
]
