"""The forms of people and of the business; `accounts.services` decides and saves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar, cast

from django import forms
from django.utils.functional import lazy
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from logbook.accounts.grants import MAX_DAYS_OF_INSPECTION
from logbook.accounts.models import (
    Business,
    GrantedCustomer,
    GrantedField,
    Licence,
    Person,
    Training,
)
from logbook.accounts.rights import OUTSIDE, Role, Scope
from logbook.errors.exceptions import RefusedInput
from logbook.forms.rows import RowForm, row_list
from logbook.localization.locale import translate_word
from logbook.localization.places import PlaceField


class PersonForm(RowForm):
    class Meta:
        model = Person
        fields = ("name", "address", "phone", "user")
        labels: ClassVar[Any] = {
            "name": _("Name"),
            "address": _("Address"),
            "phone": _("Phone"),
            "user": _("Login"),
        }
        help_texts: ClassVar[Any] = {
            "user": _("Who this is when logged in; blank for someone without a login.")
        }

    def choices_of(self, name: str, rows: Any) -> Any:
        """Return the logins of this business alone."""
        return rows.filter(memberships__business=self.business).order_by("name", "email")


class LicenceForm(RowForm):
    place = PlaceField()

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
        labels: ClassVar[Any] = {
            "number": _("Number"),
            "authority": _("Authority"),
            "categories": _("Categories"),
            "valid_from": _("Valid from"),
            "expires_on": _("Expires on"),
        }


class TrainingForm(RowForm):
    class Meta:
        model = Training
        fields = ("trained_on", "trainer", "content", "expires_on")
        labels: ClassVar[Any] = {
            "trained_on": _("Trained on"),
            "trainer": _("Trainer"),
            "expires_on": _("Expires on"),
        }


class BusinessForm(RowForm):
    sections: ClassVar[Any] = (
        (_("As it stands on the record"), ("name", "address", "phone", "licence_number")),
        (_("Place and paper"), ("time_zone", "paper_size", "unit_system")),
        (
            _("Its own yardsticks"),
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
            "unit_system",
            "look_again_percent",
            "disagree_percent",
            "catch_test_max_days",
        )
        labels: ClassVar[Any] = {
            "name": _("Name"),
            "address": _("Address"),
            "phone": _("Phone"),
            "time_zone": _("Time zone"),
            "paper_size": _("Paper size"),
        }


LICENCES = row_list(
    Person, LicenceForm, one=cast("Any", _("licence")), many=cast("Any", _("licences"))
)
TRAININGS = row_list(
    Person, TrainingForm, one=cast("Any", _("training")), many=cast("Any", _("trainings"))
)


if TYPE_CHECKING:
    RowChoice = forms.ModelMultipleChoiceField[Any]
else:
    RowChoice = forms.ModelMultipleChoiceField


_lazily = lazy(translate_word, str)


class FieldChoice(RowChoice):
    """Fields with the name of their customer: two customers may have a "North"."""

    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.name}, {obj.customer}"


class GrantForm(forms.Form):
    """Who is let in from outside, as what, to what and until when; `grants.give_grant` decides."""

    email = forms.EmailField(
        label=_("E-mail address of their login"),
        help_text=_("Whoever logs in by this address gets the access."),
    )
    role = forms.ChoiceField(
        label=_("As"),
        choices=[("", "")] + [(role.value, _lazily(role.value)) for role in OUTSIDE],
        help_text=_(
            "A farm manager audits what was sprayed for named customers. An inspector sees what an "
            "inspection is about, for a reason and until a day."
        ),
    )
    customers = RowChoice(
        queryset=None,
        label=_("Customers"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Their sealed records are opened. Drafts never are."),
    )
    every_customer = forms.BooleanField(
        label=_("Every customer"),
        required=False,
        help_text=_("The whole log. For an inspector alone."),
    )
    fields_only = FieldChoice(
        queryset=None,
        label=_("Only these fields"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("For an inspector. None chosen opens every field of the customers chosen."),
    )
    day_from = forms.DateField(
        label=_("Work from"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=_(
            "For an inspector: the first day of work that is opened, by the clock of the business."
        ),
    )
    day_to = forms.DateField(
        label=_("Work until"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=_("For an inspector: the last day of work that is opened."),
    )
    reason = forms.CharField(
        label=_("Why"),
        required=False,
        max_length=500,
        help_text=_("Needed for an inspector. The person sees it too."),
    )
    begins_on = forms.DateField(
        label=_("Access begins"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=_("Blank: at once."),
    )
    ends_on = forms.DateField(
        label=_("Last day of access"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=format_lazy(
            _(
                "Needed for an inspector, at most {most} days from the first. A farm manager's may "
                "stay blank: it stands until it is withdrawn."
            ),
            most=MAX_DAYS_OF_INSPECTION,
        ),
    )

    FOR_INSPECTORS = ("every_customer", "fields_only", "day_from", "day_to")
    """What a farm manager's access is never narrowed or widened by."""

    def for_everybody(self) -> list[forms.BoundField]:
        """Return the inputs that every access has."""
        return [one for one in self if one.name not in self.FOR_INSPECTORS]

    def for_inspectors(self) -> list[forms.BoundField]:
        """Return the inputs that an inspector's access has besides."""
        return [self[name] for name in self.FOR_INSPECTORS]

    def __init__(self, *args: Any, business: Business, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, through, column in (
            ("customers", GrantedCustomer, "customer"),
            ("fields_only", GrantedField, "field"),
        ):
            # The shelf is another room: its rows are reached by the key that points at them.
            rows: Any = through._meta.get_field(column).related_model
            choices: Any = self.fields[name]
            found = rows.objects.within(business)
            choices.queryset = found.select_related("customer") if column == "field" else found

    def for_service(self) -> dict[str, Any]:
        """Return what `give_grant` takes, from a valid form."""
        data = self.cleaned_data
        return {
            "email": data["email"],
            "role": Role(data["role"]),
            "customer_ids": [one.pk for one in data["customers"]],
            "every_customer": data["every_customer"],
            "field_ids": [one.pk for one in data["fields_only"]],
            "day_from": data["day_from"],
            "day_to": data["day_to"],
            "reason": data["reason"],
            "begins_on": data["begins_on"],
            "ends_on": data["ends_on"],
        }

    def take(self, refusal: RefusedInput) -> None:
        """Put what the service refused beside its input."""
        for path, texts in refusal.errors.items():
            name = "fields_only" if path == "fields" else path
            for text in texts:
                self.add_error(name if name in self.fields else None, text)


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
