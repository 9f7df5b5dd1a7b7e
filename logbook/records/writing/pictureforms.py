"""The form that puts a picture to a draft; it reads, `pictures` decides."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from logbook.errors.exceptions import RefusedInput
from logbook.facts.choices import PICTURED
from logbook.facts.record import PictureFacts
from logbook.facts.spec import declared
from logbook.quantities.columns import choices_of

OF_A_PICTURE = declared(PictureFacts)


class PictureForm(forms.Form):
    """A file, what it shows, and what to keep of it."""

    id = forms.UUIDField(widget=forms.HiddenInput)
    file = forms.FileField(
        label=_("picture"),
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        help_text=_(
            "JPEG, PNG or WebP. It is kept smaller than it comes, without what the camera wrote "
            "into it."
        ),
    )
    shows = forms.ChoiceField(
        label=_(OF_A_PICTURE["shows"].label), choices=[("", _("choose")), *choices_of(PICTURED)]
    )
    caption = forms.CharField(
        label=_(OF_A_PICTURE["caption"].label),
        help_text=_(OF_A_PICTURE["caption"].help),
        max_length=200,
        required=False,
    )
    keep_time_and_place = forms.BooleanField(
        label=_("Keep the time and place that the camera wrote down"),
        help_text=_(
            "They are then part of the sealed record, for whoever may read it. Else they are lost."
        ),
        required=False,
    )

    def take(self, refusal: RefusedInput) -> None:
        """Put what a service refused beside the fields it speaks of."""
        for path, texts in refusal.errors.items():
            self.add_error(path if path in self.fields else None, texts)
