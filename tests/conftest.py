"""Fixtures that most tests share: one business, its people, a clean draft, a sealed record."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import pytest

from tests import factories as make

NOW = datetime(2026, 6, 12, 20, 0, tzinfo=UTC)
"""The afternoon (15:00 in Chicago) of the day on which the clean draft was sprayed."""


@pytest.fixture(autouse=True)
def _settings_of_tests(settings: Any, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Hash passwords cheaply, lock nobody out, need no collected static files, and keep pictures
    where the tests' own files are.
    """
    settings.MEDIA_ROOT = str(tmp_path_factory.getbasetemp() / "pictures")
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.AXES_ENABLED = False
    settings.WHITENOISE_AUTOREFRESH = True


@pytest.fixture
def now() -> datetime:
    return NOW


@pytest.fixture
def business(db: None) -> Any:
    return make.BusinessFactory()


@pytest.fixture
def other_business(db: None) -> Any:
    """Another tenant, whose rows must never be seen."""
    return make.BusinessFactory(name="Other Side Spraying", licence_number="B-9902")


def actor_of(business: Any, role: str) -> Any:
    """Return somebody new who acts for a business in a role."""
    from logbook.accounts.services import actor_for

    user = make.UserFactory(name=f"The {role}", email=f"{role}.{business.pk}@example.test")
    make.MembershipFactory(user=user, business=business, role=role)
    return actor_for(user)


@pytest.fixture
def owner(business: Any) -> Any:
    return actor_of(business, "owner")


@pytest.fixture
def applicator(business: Any) -> Any:
    return actor_of(business, "applicator")


@pytest.fixture
def helper(business: Any) -> Any:
    return actor_of(business, "helper")


@pytest.fixture
def office(business: Any) -> Any:
    return actor_of(business, "office")


@pytest.fixture
def stranger(other_business: Any) -> Any:
    """The owner of the other business."""
    return actor_of(other_business, "owner")


@pytest.fixture
def confirmed() -> Callable[[Any], Any]:
    """Return the proof that an actor gave the password again."""
    from logbook.accounts.services import Confirmation

    return lambda actor: Confirmation(user=actor.user)


@pytest.fixture
def yard(business: Any) -> SimpleNamespace:
    return yard_of(business)


@pytest.fixture
def in_iowa(yard: SimpleNamespace) -> None:
    """Move field and licence to Iowa, whose three years (Iowa Code 206.15) were read in the text:
    what is past them may go. North Dakota's are from memory, so nothing there is let go by them.
    """
    yard.field.place = "US-IA"
    yard.field.save()
    yard.person.licences.update(place="US-IA")


def yard_of(business: Any) -> SimpleNamespace:
    """Return the rows of a clean draft, new: field, crop, product, rig, nozzles, people."""
    field = make.FieldFactory(business=business, name="North L")
    make.FieldLocationFactory(field=field)
    product = make.ProductFactory(business=business, name="Leafkill")
    label = make.LabelEditionFactory(product=product)
    make.IngredientFactory(edition=label)
    nozzle = make.NozzleModelFactory(business=business)
    for pressure, droplet_class in make.CLASS_TABLE:
        make.NozzleClassRowFactory(
            nozzle=nozzle, pressure=make.q(pressure), droplet_class=droplet_class
        )
    rig = make.RigFactory(business=business)
    nozzle_set = make.NozzleSetFactory(business=business, rig=rig, nozzle=nozzle)
    return SimpleNamespace(
        customer=field.customer,
        field=field,
        planting=make.PlantingFactory(field=field),
        place=make.SensitivePlaceFactory(business=business, name="Long slough"),
        product=product,
        label=label,
        nozzle=nozzle,
        rig=rig,
        nozzle_set=nozzle_set,
        catch_test=make.CatchTestFactory(nozzle_set=nozzle_set),
        person=make.PersonFactory(business=business, name="A. Lund", licensed=True),
    )


def clean_data(yard: SimpleNamespace) -> dict[str, Any]:
    """Return a complete entry on which settings, label, mix, weather and papers agree.

    Times are naive: the clock on the wall at the field.

    5940 × 0.40 gal/min / (7.9 mph × 20 in) = 15.04 gal/ac; 125.1 ac × 15.04 gal/ac = 1881 gal;
    125.1 ac × 22 fl oz/ac = 2752 fl oz, in three loads in proportion; 125.1 ac / 80 ft = 12.9 mi.
    """
    q = make.q
    loads = [
        {
            "mixed_volume": q(volume),
            "used": q(volume),
            "order": 1,
            "parts": [{"product": yard.product.pk, "amount": q(amount)}],
        }
        for volume, amount in (
            ("700 gal", "1024 fl oz"),
            ("700 gal", "1024 fl oz"),
            ("480 gal", "704 fl oz"),
        )
    ]
    weather = [
        {
            "read_at": datetime.fromisoformat(f"2026-06-12T{clock}"),
            "height": q("40 in"),
            "wind_from": q("290 °"),
            "wind_speed": q("8 mph"),
            "gust": q("10 mph"),
            "temperature": q(temperature),
            "humidity": q("55 %"),
            "cloud": q("40 %"),
            "signs": [],
        }
        for clock, temperature in (
            ("09:30", "70 °F"),
            ("10:30", "72 °F"),
            ("11:30", "73 °F"),
            ("12:00", "74 °F"),
        )
    ]
    return {
        "customer": yard.customer.pk,
        "field": yard.field.pk,
        "planting": yard.planting.pk,
        "growth_stage": 14,
        "purpose": "broad-leaved weeds",
        "pattern": "broadcast",
        "band_width": q("not applicable"),
        "row_spacing": q("not applicable"),
        "applicator": yard.person.pk,
        "rig": yard.rig.pk,
        "nozzle_set": yard.nozzle_set.pk,
        "started_at": datetime.fromisoformat("2026-06-12T09:30"),
        "finished_at": datetime.fromisoformat("2026-06-12T12:00"),
        "treated_area": q("125.1 ac"),
        "planned_carrier": q("15 gal/ac"),
        "pressure": q("40 psi"),
        "speed": q("7.9 mph"),
        "boom_height": q("20 in"),
        "duty": q("not applicable"),
        "density": q("not applicable"),
        "distance": q("12.9 mi"),
        "mix_used": q("1880 gal"),
        "note": "",
        "statements": {"rinsate-note": "none"},
        "products": [
            {
                "product": yard.product.pk,
                "planned_rate": q("22 fl oz/ac"),
                "total_used": q("2752 fl oz"),
                "target": "volunteer and broad-leaved weeds",
            }
        ],
        "loads": loads,
        "weather": weather,
    }


@pytest.fixture
def entry(yard: SimpleNamespace) -> dict[str, Any]:
    """The entry behind `clean_draft`, to be changed and saved by a test."""
    return clean_data(yard)


def written(actor: Any, data: dict[str, Any]) -> Any:
    """Return a new draft with `data`, written through the services."""
    from logbook.records.writing.draft import begin_draft, save_draft

    draft = begin_draft(actor=actor, record_id=uuid.uuid4())
    return save_draft(actor=actor, record_id=draft.pk, revision=draft.revision, data=data)


def said_of(finding: Any, text: str) -> str:
    """Return the text as it is said of the finding: of a breach and of a blank not the same."""
    return f"{text} It was left blank." if finding.severity == "missing" else text


def sealed_by(actor: Any, draft: Any, *, now: datetime = NOW, explained: str = "") -> Any:
    """Return the draft, signed by the actor.

    Args: explained, what is said of every finding; without it a finding that asks refuses.
    """
    from logbook.accounts.services import Confirmation
    from logbook.records.reading.examine import examine
    from logbook.records.writing.sign import sign

    draft.refresh_from_db()
    found = examine(actor=actor, record_id=draft.pk).report.findings if explained else ()
    sign(
        actor=actor,
        record_id=draft.pk,
        revision=draft.revision,
        explanations={one.key: said_of(one, explained) for one in found},
        confirmation=Confirmation(user=actor.user),
        now=now,
    )
    draft.refresh_from_db()
    return draft


@pytest.fixture
def clean_draft(owner: Any, entry: dict[str, Any]) -> Any:
    """A saved draft with nothing to find, written through the services."""
    return written(owner, entry)


@pytest.fixture
def signed(owner: Any, clean_draft: Any) -> Any:
    """The clean draft, signed by the owner: a sealed record."""
    return sealed_by(owner, clean_draft)


@pytest.fixture
def sealed_for_another(owner: Any, entry: dict[str, Any]) -> Any:
    """A sealed record of our business for a customer whom no grant names."""
    field = make.FieldFactory(business=owner.business, name="Not for them")
    make.FieldLocationFactory(field=field)
    planting = make.PlantingFactory(field=field)
    theirs = {**entry, "customer": field.customer.pk, "field": field.pk, "planting": planting.pk}
    return sealed_by(owner, written(owner, theirs))


@pytest.fixture
def one_connection() -> Iterator[None]:
    """Keep the connection of the test over requests that are answered outside Django's client."""
    from django.core.signals import request_finished, request_started
    from django.db import close_old_connections

    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)
