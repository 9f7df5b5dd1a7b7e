"""The forms of getting in and of a person's own settings."""

from __future__ import annotations

import zoneinfo
from collections.abc import Sequence
from threading import Thread
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.forms import PasswordResetForm
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.accounts.models import PaperSize, UnitSystem
from logbook.accounts.rights import Role
from logbook.errors.exceptions import Refused, RefusedInput
from logbook.localization.locale import PLAIN

_REGIONS: dict[str, Any] = {
    "America": gettext_lazy("America"),
    "Europe": gettext_lazy("Europe"),
    "Australia": gettext_lazy("Australia"),
    "Pacific": gettext_lazy("Pacific"),
    "Africa": gettext_lazy("Africa"),
    "Asia": gettext_lazy("Asia"),
    "Atlantic": gettext_lazy("Atlantic"),
    "Indian": gettext_lazy("Indian"),
    "Antarctica": gettext_lazy("Antarctica"),
}
"""Parts of the world as the names of zones begin, in words; a zone's own name is a code."""


class Taking(forms.Form):
    """A form that says what a service refused beside the field it speaks of."""

    def take(self, refusal: Refused) -> None:
        """Put a refusal where the person looks for it."""
        if not isinstance(refusal, RefusedInput):
            self.add_error(None, str(refusal))
            return
        for name, texts in refusal.errors.items():
            self.add_error(name if name in self.fields else None, texts)


class NewLoginForm(Taking):
    """Name, units and a password typed twice; the address stands already."""

    name = forms.CharField(
        label=gettext_lazy("Your name"),
        max_length=150,
        help_text=gettext_lazy("As it stands beside what you sign."),
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    unit_system = forms.ChoiceField(
        label=gettext_lazy("Your units"),
        choices=UnitSystem.choices,
        initial=UnitSystem.US,
        help_text=gettext_lazy("Offered first in forms; the other system always stands beside."),
    )
    password = forms.CharField(
        label=gettext_lazy("Password"),
        strip=False,
        help_text=gettext_lazy("At least 8 characters, not a common word; you sign with it too."),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    password2 = forms.CharField(
        label=gettext_lazy("Password again"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean_password2(self) -> str:
        again: str = self.cleaned_data["password2"]
        if self.cleaned_data.get("password") != again:
            raise forms.ValidationError(_("The two passwords are not the same."))
        return again

    def login(self) -> dict[str, Any]:
        """Return what the service wants to know of the login."""
        return {name: self.cleaned_data[name] for name in ("name", "unit_system", "password")}


class SignUpForm(NewLoginForm):
    """The business and its first owner."""

    business_name = forms.CharField(
        label=gettext_lazy("Name of the business"),
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "organization"}),
    )
    address = forms.CharField(
        label=gettext_lazy("Address"),
        widget=forms.Textarea(attrs={"rows": 3, "autocomplete": "street-address"}),
        help_text=gettext_lazy("As it stands on the record."),
    )
    licence_number = forms.CharField(
        label=gettext_lazy("Business licence number"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("Where your authority gives one; it can be added later."),
    )
    time_zone = forms.ChoiceField(
        label=gettext_lazy("Time zone"),
        help_text=gettext_lazy("Of the yard; a field's own place is asked with the field."),
    )
    paper_size = forms.ChoiceField(label=gettext_lazy("Paper"), choices=PaperSize.choices)
    email = forms.EmailField(
        label=gettext_lazy("E-mail address"),
        max_length=254,
        help_text=gettext_lazy("You log in with it."),
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )

    parts: ClassVar[tuple[tuple[Any, tuple[str, ...]], ...]] = (
        (
            gettext_lazy("The business"),
            ("business_name", "address", "licence_number", "time_zone", "paper_size"),
        ),
        (
            gettext_lazy("Its owner"),
            ("name", "email", "unit_system", "password", "password2"),
        ),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zone: Any = self.fields["time_zone"]
        zone.choices = [("", _("choose")), *_zones()]

    def sections(self) -> list[tuple[Any, list[forms.BoundField]]]:
        """Return the fields by section."""
        return [(title, [self[name] for name in names]) for title, names in self.parts]

    def business(self) -> dict[str, Any]:
        """Return the columns of the business."""
        columns = ("address", "licence_number", "time_zone", "paper_size")
        found = {name: self.cleaned_data[name] for name in columns}
        return {"name": self.cleaned_data["business_name"], **found}


def _zones() -> list[tuple[Any, list[tuple[str, str]]]]:
    """Return the time zones by part of the world; old aliases such as "US/Central" left out."""
    names = sorted(zoneinfo.available_timezones())
    return [
        (
            words,
            [
                (name, name.partition("/")[2].replace("_", " "))
                for name in names
                if name.startswith(f"{region}/")
            ],
        )
        for region, words in _REGIONS.items()
    ] + [("UTC", [("UTC", "UTC")])]


class QuietResetForm(PasswordResetForm):
    """Sends the e-mail beside the answer, so that its time does not tell whether there is one."""

    email = forms.EmailField(
        label=gettext_lazy("E-mail address"),
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
    )

    def send_mail(  # type: ignore[override]
        self, subject: str, letter: str, context: dict[str, Any], *args: Any, **kwargs: Any
    ) -> None:
        # A thread begins in the service's own language, not in the reader's.
        reads = context["user"].language or translation.get_language() or PLAIN
        send = super().send_mail

        def send_in_the_language_of_the_reader() -> None:
            with translation.override(reads):
                send(subject, letter, context, *args, **kwargs)

        Thread(target=send_in_the_language_of_the_reader, name="reset mail").start()


class CodeForm(Taking):
    """The second step of a login."""

    code = forms.CharField(
        label=gettext_lazy("Code"),
        max_length=20,
        help_text=gettext_lazy("Six figures from the app, or one of your recovery codes."),
        widget=forms.TextInput(
            attrs={
                "autocomplete": "one-time-code",
                "autocapitalize": "none",
                "spellcheck": "false",
            }
        ),
    )


class PasskeyNameForm(Taking):
    """What a person calls a passkey."""

    name = forms.CharField(
        label=gettext_lazy("Its name"),
        max_length=64,
        help_text=gettext_lazy("The device that holds it, such as “my phone”."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class NewPasskeyForm(PasskeyNameForm):
    """A name, and what the device answered, which the page's script writes."""

    passkey = forms.CharField(
        widget=forms.HiddenInput,
        error_messages={
            "required": gettext_lazy("The device gave no passkey. It takes a page with JavaScript.")
        },
    )


class PasswordForm(Taking):
    """The password again, before something that matters."""

    password = forms.CharField(
        label=gettext_lazy("Your password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class YouForm(Taking):
    """What a person settles for themselves."""

    name = forms.CharField(
        label=gettext_lazy("Your name"),
        max_length=150,
        help_text=gettext_lazy("Signed records keep the name they were signed with."),
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    unit_system = forms.ChoiceField(
        label=gettext_lazy("Your units"),
        choices=UnitSystem.choices,
        help_text=gettext_lazy("Offered first in forms; the other system always stands beside."),
    )


class RoleForm(Taking):
    """One of the roles that the actor may give."""

    role = forms.ChoiceField(label=gettext_lazy("Role"))

    def __init__(self, *args: Any, roles: Sequence[Role], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        given: Any = self.fields["role"]
        given.choices = [(role.value, ROLE_WORDS[role]) for role in roles]


class InviteForm(RoleForm):
    """Whom to invite as what."""

    email = forms.EmailField(
        label=gettext_lazy("E-mail address"),
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )
    field_order = ("email", "role")


ROLE_WORDS: dict[Role, Any] = {
    Role.OWNER: gettext_lazy("owner: everything"),
    Role.OFFICE: gettext_lazy("office: shelf, people, papers"),
    Role.APPLICATOR: gettext_lazy("applicator: drafts and signs"),
    Role.HELPER: gettext_lazy("helper: drafts alone"),
}
