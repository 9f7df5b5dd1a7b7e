"""What is said once of the blanks of a row of the shelf."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy


class StandingBlanks(models.Model):
    """Why what is blank on a row of the shelf stays so: offered where a record has to explain it.

    It is no fact of a record: sealed is what its signer says.
    """

    blank_because = models.CharField(
        gettext_lazy("why what is blank here stays blank"),
        max_length=500,
        blank=True,
        help_text=gettext_lazy(
            "Said once, and offered in each record that has to explain such a blank: “no outline "
            "yet, the customer sends it in spring”."
        ),
    )
    blank_said_on = models.DateField(gettext_lazy("said on"), null=True, blank=True)

    class Meta:
        abstract = True

    def clean(self) -> None:
        super().clean()
        if bool(self.blank_because) != bool(self.blank_said_on):
            raise ValidationError(
                {"blank_said_on": _("A reason and the day on which it was said belong together.")}
            )
