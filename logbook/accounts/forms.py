"""The forms of people and of the business; `accounts.services` decides and saves."""

from __future__ import annotations

from typing import Any

from logbook.accounts.models import Business, Licence, Person, Training
from logbook.base.places import PlaceField
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
