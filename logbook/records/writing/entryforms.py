"""The form of a duty entry; it reads, `services.entries` decides."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.utils.translation import gettext_lazy as _

from logbook.records.choices import Delivery, DutyKind
from logbook.records.writing.inputs import WallClockField, hour_choice, minute_shown, repeated


class DutyEntryForm(forms.Form):
    """One thing done for a record."""

    kind = forms.ChoiceField(
        label=_("what was done"), choices=[("", _("choose")), *DutyKind.choices]
    )
    to_whom = forms.CharField(
        label=_("to whom"),
        max_length=200,
        help_text=_("Of a request: who asked. A clock starts where a law names a time for it."),
    )
    how = forms.ChoiceField(label=_("how"), choices=[("", _("choose")), *Delivery.choices])
    given_at = WallClockField(label=_("when"))
    consent_on = forms.DateField(
        label=_("customer's written consent of"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        error_messages={"invalid": _("This is not a day, such as 2026-05-14.")},
        help_text=_(
            "Where the law wants it before electronic delivery, as Wisconsin does (ATCP 29.22). "
            "Write the true day: a delivery before it is kept, and does not count there."
        ),
    )
    note = forms.CharField(
        label=_("note"), required=False, widget=forms.Textarea(attrs={"rows": 2}), max_length=2000
    )

    def __init__(self, *args: Any, zone: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.zone = ZoneInfo(zone)
        shown = minute_shown(self, "given_at")
        if shown is not None and repeated(shown, self.zone):
            # An entry cannot be changed afterwards: which of the two is asked, not supposed.
            self.fields["hour"] = hour_choice(shown, self.zone, required=True)
            names = list(self.fields)
            names.insert(names.index("given_at") + 1, names.pop())
            self.order_fields(names)

    def take(self, errors: dict[str, list[str]]) -> None:
        """Put what a service refused beside the fields it speaks of."""
        for path, texts in errors.items():
            self.add_error(path if path in self.fields else None, texts)

    def data_for_service(self) -> dict[str, Any]:
        """Return what was typed as the service takes it."""
        values = dict(self.cleaned_data)
        hour = values.pop("hour", None)
        if hour is not None:
            values["given_at"] = values["given_at"].replace(tzinfo=self.zone, fold=hour)
        return values
