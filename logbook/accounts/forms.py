"""The forms of people and of the business; `accounts.services` decides and saves."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from logbook.accounts.models import Business, Licence, Person, Training
from logbook.accounts.rights import Scope
from logbook.base.rowforms import RowForm, row_list


class PersonForm(RowForm):
    class Meta:
        model = Person
        fields = ("name", "address", "phone", "user")
        labels = {"user": "Login"}
        help_texts = {"user": "Who this is when logged in; blank for someone without a login."}

    def choices_of(self, name: str, rows: Any) -> Any:
        """Return the logins of this business alone."""
        return rows.filter(memberships__business=self.business).order_by("name", "email")


class LicenceForm(RowForm):
    class Meta:
        model = Licence
        fields = (
            "number",
            "authority",
            "place",
            "categories",
            "certified",
            "valid_from",
            "expires_on",
        )


class TrainingForm(RowForm):
    class Meta:
        model = Training
        fields = ("trained_on", "trainer", "content", "expires_on")


class BusinessForm(RowForm):
    sections = (
        ("As it stands on the record", ("name", "address", "phone", "licence_number")),
        ("Place and paper", ("time_zone", "paper_size")),
        (
            "Its own yardsticks",
            ("look_again_percent", "disagree_percent", "catch_test_max_days"),
        ),
    )

    class Meta:
        model = Business
        fields = (
            "name",
            "address",
            "phone",
            "licence_number",
            "time_zone",
            "paper_size",
            "look_again_percent",
            "disagree_percent",
            "catch_test_max_days",
        )


LICENCES = row_list(Person, LicenceForm, one="licence", many="licences")
TRAININGS = row_list(Person, TrainingForm, one="training", many="trainings")


SCOPE_WORDS = {
    Scope.READ: _("read: see records and the shelf"),
    Scope.DRAFTS: _("drafts: read, write drafts and begin amendments"),
    Scope.SHELF: _("shelf: read, change the shelf and people"),
    Scope.DUTIES: _("duties: read, write down notices, copies and reports"),
}
DAYS = [
    ("7", _("a week")),
    ("30", _("30 days")),
    ("90", _("90 days")),
    ("365", _("a year, the longest")),
]


class TokenForm(forms.Form):
    """A token that is to be made."""

    name = forms.CharField(
        label=_("Which program"),
        max_length=80,
        help_text=_("And on which machine, so that you know it again."),
    )
    scopes = forms.MultipleChoiceField(
        label=_("What it may do"),
        choices=list(SCOPE_WORDS.items()),
        widget=forms.CheckboxSelectMultiple,
        help_text=_("At most what you may yourself."),
    )
    days = forms.ChoiceField(label=_("It expires in"), choices=DAYS, initial="90")
    password = forms.CharField(
        label=_("Your password"),
        strip=False,
        max_length=4096,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def take(self, errors: dict[str, list[str]]) -> None:
        """Put what a service refused beside the fields it speaks of."""
        for path, texts in errors.items():
            for text in texts:
                self.add_error(path if path in self.fields else None, text)
