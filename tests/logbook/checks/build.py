"""One clean, plausible record of an invented scenario, and the means to change one fact of it.

Why the numbers agree, from the published constants:
5940 × 0.303 gal/min / (6.0 mph × 20 in) = 15.0 gal/ac (UF/IFAS WG013);
125 ac × 15 gal/ac = 1875 gal, in loads of 1000 and 875 gal;
125 ac × 22 fl oz/ac = 2750 fl oz, of which 1466.7 and 1283.3 go in the loads;
0.25 % v/v of 1875 gal = 4.6875 gal = 600 fl oz (Montana MT 2000-14, formula 10a);
125 ac × 43,560 ft² / 60 ft = 90,750 ft = 17.19 mi; at 6 mph that takes 2 h 52 min of 3 h 15 min.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from calc.geometry import area_ha
from calc.units import UNITS
from logbook.checks.core import CannotRun, Check, Finding, NothingToLookAt, run_all
from logbook.facts.quantity import Answer, parse_answer
from logbook.facts.record import (
    BusinessFacts,
    CatchTestFacts,
    ClassRow,
    CropFacts,
    CustomerFacts,
    EarlierUse,
    FieldFacts,
    IngredientFacts,
    LabelFacts,
    LicenceFacts,
    LoadFacts,
    LoadPartFacts,
    LocationFacts,
    NozzleFacts,
    PersonFacts,
    ProductFacts,
    RecordFacts,
    RigFacts,
    Snapshot,
    TrainingFacts,
    WeatherFacts,
)

ALL_DIMENSIONS = tuple({unit.dimension for unit in UNITS.values()})

# The L of the field: area 50.6338 ha = 125.119 ac on the ellipsoid.
L_SHAPE = {
    "type": "Polygon",
    "coordinates": [
        [
            [-97.20, 47.10],
            [-97.19, 47.10],
            [-97.19, 47.104],
            [-97.195, 47.104],
            [-97.195, 47.108],
            [-97.20, 47.108],
            [-97.20, 47.10],
        ]
    ],
}
DAY = date(2026, 6, 10)


def q(text: str) -> Any:
    """Return the answer that the text stands for: "15 gal/ac", "none", "not measured: why"."""
    return parse_answer(text, dimensions=ALL_DIMENSIONS)


def at(clock: str) -> datetime:
    """Return the instant of a time of the day at the field, five hours behind UTC in June."""
    hours, minutes = map(int, clock.split(":"))
    return datetime(2026, 6, 10, tzinfo=UTC) + timedelta(hours=hours + 5, minutes=minutes)


def label(**changes: Any) -> LabelFacts:
    """Return a label edition that is silent on all but what is given."""
    silent: dict[str, Any] = dict.fromkeys(
        [
            *("in_force_to", "rate_min", "rate_max", "carrier_min", "carrier_max"),
            *("wind_min", "wind_max", "temperature_min", "temperature_max", "boom_height_max"),
            *("minutes_after_sunrise", "minutes_before_sunset", "reentry_hours", "preharvest_days"),
            *("season_max", "applications_max", "interval_days"),
        ]
    )
    return LabelFacts(
        **(
            silent
            | {
                "id": "label",
                "edition": "2025-01",
                "in_force_from": date(2025, 1, 1),
                "restricted_use": False,
                "supervised_use_allowed": True,
                "required_category": "",
                "finest_class": "",
                "coarsest_class": "",
                "inversion_forbidden": False,
                "no_drift_reducer_with_air_induction": False,
                "required_adjuvants": (),
                "forbidden_adjuvants": (),
                "ingredients": (),
            }
            | changes
        )
    )


def herbicide() -> ProductFacts:
    return ProductFacts(
        product_id="herbicide",
        name="Fenland 4 EC",
        registration_number="00000-1",
        registrant="Invented Chemical",
        kind="foliar herbicide",
        adjuvant_functions=(),
        label=label(
            id="herbicide-label",
            in_force_to=date(2027, 12, 31),
            restricted_use=True,
            required_category="1A",
            rate_min=q("16 fl oz/ac"),
            rate_max=q("32 fl oz/ac"),
            carrier_min=q("10 gal/ac"),
            carrier_max=q("20 gal/ac"),
            finest_class="M",
            coarsest_class="VC",
            wind_min=q("3 mph"),
            wind_max=q("15 mph"),
            temperature_min=q("40 °F"),
            temperature_max=q("90 °F"),
            boom_height_max=q("24 in"),
            minutes_after_sunrise=60,
            minutes_before_sunset=120,
            inversion_forbidden=True,
            reentry_hours=Decimal(24),
            preharvest_days=60,
            season_max=q("64 fl oz/ac"),
            applications_max=2,
            interval_days=14,
            no_drift_reducer_with_air_induction=True,
            required_adjuvants=("nonionic surfactant",),
            forbidden_adjuvants=("ammonium sulfate",),
            ingredients=(
                IngredientFacts(name="inventol", content=q("4 lb/gal"), acid_equivalent=None),
            ),
        ),
        planned_rate=q("22 fl oz/ac"),
        total_used=q("2750 fl oz"),
        target="wild mustard",
    )


def surfactant() -> ProductFacts:
    return ProductFacts(
        product_id="surfactant",
        name="Wetting 90",
        registration_number="",
        registrant="Invented Chemical",
        kind="adjuvant",
        adjuvant_functions=("nonionic surfactant",),
        label=None,
        planned_rate=q("0.25 % v/v"),
        total_used=q("600 fl oz"),
        target="",
    )


def licence(**changes: Any) -> LicenceFacts:
    return replace(
        LicenceFacts(
            number="C-1001",
            authority="Department of Agriculture",
            place="US-ND",
            categories=("1A",),
            certified=True,
            valid_from=date(2024, 4, 1),
            expires_on=date(2027, 3, 31),
        ),
        **changes,
    )


def person(name: str = "A. Lund", **changes: Any) -> PersonFacts:
    return replace(PersonFacts(id=name, name=name, licences=(licence(),)), **changes)


def training(**changes: Any) -> TrainingFacts:
    return replace(
        TrainingFacts(
            trained_on=date(2026, 3, 1),
            trainer="B. Moen",
            content="helper's course",
            expires_on=date(2027, 2, 28),
        ),
        **changes,
    )


def reading(clock: str, **changes: Any) -> WeatherFacts:
    return replace(
        WeatherFacts(
            read_at=at(clock),
            height=q("2 m"),
            wind_from=q("300 °"),
            wind_speed=q("8 mph"),
            gust=q("11 mph"),
            temperature=q("72 °F"),
            humidity=q("55 %"),
            cloud=q("40 %"),
            signs=(),
        ),
        **changes,
    )


def load(volume: str, herbicide_amount: str, surfactant_amount: str) -> LoadFacts:
    return LoadFacts(
        order=1,
        mixed_volume=q(volume),
        used_here=q(volume),
        parts=(
            LoadPartFacts(product_id="herbicide", amount=q(herbicide_amount)),
            LoadPartFacts(product_id="surfactant", amount=q(surfactant_amount)),
        ),
        shared=False,
    )


def catch_test(**changes: Any) -> CatchTestFacts:
    """Return a test with a mean of 38.784 fl oz in a minute: 0.303 gal/min at 40 psi."""
    return replace(
        CatchTestFacts(
            tested_on=date(2026, 4, 2),
            tested_by="A. Lund",
            pressure=q("40 psi"),
            time=q("60 s"),
            volumes=tuple(map(Decimal, ("38.784", "38.3", "39.268", "38.6", "38.968"))),
            volume_unit="fl oz",
            accuracy_percent=Decimal("1.5"),
        ),
        **changes,
    )


def earlier(**changes: Any) -> EarlierUse:
    return replace(
        EarlierUse(
            product_id="herbicide",
            applied_on=date(2026, 5, 12),
            rate=q("22 fl oz/ac"),
            record_number=41,
        ),
        **changes,
    )


def clean() -> Snapshot:
    """Return the record on which every check looks and agrees."""
    return Snapshot(
        business=BusinessFacts(
            id="business", name="Coulee Custom Spraying", address="Box 1", licence_number="B-100"
        ),
        record=RecordFacts(
            id="record",
            started_at=at("9:00"),
            finished_at=at("12:15"),
            purpose="weeds",
            pattern="broadcast",
            band_width=q("not applicable"),
            row_spacing=q("not applicable"),
            nozzles_per_row=None,
            treated_area=q("125 ac"),
            planned_carrier=q("15.0 gal/ac"),
            pressure=q("42 psi"),
            speed=q("6.0 mph"),
            boom_height=q("20 in"),
            duty=q("not applicable"),
            density=q("not applicable"),
            distance=q("17.2 mi"),
            mix_used=q("1875 gal"),
            note="",
            # N.D. Admin. Code 60-03-01-07(2): the use or disposal of all rinsate.
            statements={"rinsate-note": "none"},
        ),
        customer=CustomerFacts(id="customer", name="C. Dahl", address="Box 2"),
        field=FieldFacts(
            id="field",
            name="North L",
            place="US-ND",
            time_zone="America/Chicago",
            locations=(
                LocationFacts(kind="description", text="north of the coulee"),
                LocationFacts(kind="legal description", text="part of SW 1/4, section 11 (demo)"),
            ),
            boundary=L_SHAPE,
            area_ha=area_ha(shape=L_SHAPE),
            planted_size=q("125 ac"),
            latitude=47.103,
            longitude=-97.196,
        ),
        crop=CropFacts(
            name="soybean", eppo_code="GLXMA", planted_on=date(2026, 5, 15), growth_stage_bbch=14
        ),
        applicator=person(),
        supervisor=None,
        rig=RigFacts(
            id="rig",
            name="Big Green",
            plate="ABC 123",
            tank=q("1000 gal"),
            spacing=q("20 in"),
            nozzle_count=36,
            gauge_accuracy=q("2 psi"),
            speed_accuracy=q("0.1 mph"),
            spacing_accuracy_percent=Decimal(1),
            tank_accuracy_percent=Decimal(2),
            line_loss=q("2 psi"),
            line_loss_flow=q("10.908 gal/min"),
        ),
        nozzle=NozzleFacts(
            name="AI 110-03",
            kind="air-induction flat fan",
            size="03",
            angle=110,
            rated_flow=q("0.30 gal/min"),
            rated_pressure=q("40 psi"),
            exponent=Decimal("0.5"),
            flow_accuracy_percent=Decimal(5),
            pressure_min=q("30 psi"),
            pressure_max=q("90 psi"),
            class_table=(
                ClassRow(pressure=q("30 psi"), droplet_class="VC"),
                ClassRow(pressure=q("50 psi"), droplet_class="C"),
                ClassRow(pressure=q("70 psi"), droplet_class="M"),
                ClassRow(pressure=q("90 psi"), droplet_class="F"),
            ),
        ),
        nozzle_mounted_on=date(2026, 4, 1),
        catch_test=catch_test(),
        products=(herbicide(), surfactant()),
        loads=(
            load("1000 gal", "1466.7 fl oz", "320 fl oz"),
            load("875 gal", "1283.3 fl oz", "280 fl oz"),
        ),
        weather=tuple(reading(clock) for clock in ("9:00", "10:00", "11:00", "12:00")),
    )


def given(snapshot: Snapshot | None = None, /, **changes: Any) -> Snapshot:
    """Return the record with facts changed: `given(record__speed=…, products__0__label=…)`."""
    facts: Any = snapshot or clean()
    for path, value in changes.items():
        facts = _put(facts, path.split("__"), value)
    return facts


def _put(facts: Any, path: list[str], value: Any) -> Any:
    name, *rest = path
    if isinstance(facts, tuple):
        place = int(name)
        new = _put(facts[place], rest, value) if rest else value
        return (*facts[:place], new, *facts[place + 1 :])
    return replace(facts, **{name: _put(getattr(facts, name), rest, value) if rest else value})


def look(check: Check, snapshot: Snapshot | None = None, /, **changes: Any) -> list[Finding]:
    """Return what a check finds; every finding stands under the check's own id.

    Where it had nothing to look at, it found nothing: `state` tells the two apart.
    """
    # Kept as long as it is looked at: answers are kept by snapshot.
    facts = given(snapshot, **changes)
    try:
        found = list(check.look(facts))
    except NothingToLookAt:
        found = []
    assert {finding.code for finding in found} <= {check.id}
    return found


def state(check: Check, snapshot: Snapshot | None = None, /, **changes: Any) -> tuple[str, str]:
    """Return what became of a check, and why."""
    (run,) = run_all(given(snapshot, **changes), [check]).runs
    return run.state.value, run.why


def the(check: Check, snapshot: Snapshot | None = None, /, **changes: Any) -> Finding:
    """Return the only finding of a check."""
    (finding,) = look(check, snapshot, **changes)
    return finding


def lack(check: Check, snapshot: Snapshot | None = None, /, **changes: Any) -> CannotRun:
    """Return what a check says when it cannot run."""
    try:
        found = list(check.look(given(snapshot, **changes)))
    except CannotRun as lacking:
        return lacking
    raise AssertionError(f"{check.id} looked, and found {found}")


def nothing(check: Check, /, **changes: Any) -> str:
    """Return why a check has nothing to look at."""
    with pytest.raises(NothingToLookAt) as why:
        list(check.look(given(**changes)))
    return str(why.value)


def paths(facts: Any, prefix: str = "") -> Iterator[str]:
    """Yield the path of every fact, those of the record bare, with `*` for places in a list."""
    for one in fields(facts):
        value = getattr(facts, one.name)
        path = f"{prefix}{one.name}"
        yield path
        if isinstance(value, tuple) and value and is_dataclass(value[0]):
            yield f"{path}.*"
            yield from paths(value[0], f"{path}.*.")
        elif is_dataclass(value) and not isinstance(value, Answer):
            yield from paths(value, "" if one.name == "record" else f"{path}.")
