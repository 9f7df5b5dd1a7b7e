"""Rows into the frozen snapshot, which `facts.codec` writes as the JSON of a seal.

The number of queries does not depend on how many products, loads or readings a record has.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Iterable, Mapping
from datetime import timedelta
from typing import Any

from django.db.models import Prefetch, QuerySet

from calc.geometry import inside_point
from logbook.accounts.models import Business, Person
from logbook.catalog.models import (
    CatchTest,
    Customer,
    Field,
    LabelEdition,
    NozzleModel,
    Planting,
    Rig,
)
from logbook.checks.used import used_of_product
from logbook.facts import record as facts
from logbook.facts.duty import (
    Asked,
    Clock,
    Deadline,
    HowRead,
    KeepFrom,
    Kind,
    Party,
    Retention,
    Since,
    When,
)
from logbook.facts.used import Basis, RateUsed, rate_used
from logbook.localization.locale import plain_english
from logbook.records.models import ApplicationRecord, LoadUse, Picture, ProductLine, Seal
from logbook.records.sealing.sealed import facts_and_rates

FORMAT = 2
"""The number of the layout below and of the sealed text; a change that old readers would misread
raises it. From 2 on a seal names the end of the journal; one of 1 is read as it was."""


# --- rows -> facts -------------------------------------------------------------------------------


def with_everything(records: QuerySet[ApplicationRecord]) -> QuerySet[ApplicationRecord]:
    """Return the query that fetches all that a snapshot needs, in a fixed number of queries."""
    lines = ProductLine.objects.select_related("product", "label").prefetch_related(
        "label__ingredients", "label__asks", "label__deadlines"
    )
    # A draft that was set aside took nothing from a load.
    uses = LoadUse.objects.filter(record__set_aside_at__isnull=True).select_related(
        "record__amendment"
    )
    loads = LoadUse.objects.select_related("load__copy_of").prefetch_related(
        "load__parts", Prefetch("load__uses", uses), Prefetch("load__copy_of__uses", uses)
    )
    return records.select_related(
        *("business", "customer", "field", "planting", "rig", "nozzle_set__nozzle"),
        *("amends__seal", "continues__seal", "applicator", "supervisor"),
    ).prefetch_related(
        "field__locations",
        "applicator__licences",
        "applicator__trainings",
        "supervisor__licences",
        "supervisor__trainings",
        "crew__person__licences",
        "crew__person__trainings",
        "nozzle_set__nozzle__class_rows",
        Prefetch("products", lines),
        Prefetch("load_uses", loads),
        "weather",
        "explanations",
        "pictures",
    )


@plain_english()
def snapshot_of(record: ApplicationRecord, *, history: bool = True) -> facts.Snapshot:
    """Return the facts of a record fetched by `with_everything`.

    Args: history, False leaves out the catch test, the earlier uses and what amendments say of the
    loads, which are asked for one record at a time and which no duty looks at.
    """
    nozzle_set = record.nozzle_set
    field = record.field
    return facts.Snapshot(
        business=business_facts(record.business),
        record=facts.RecordFacts(
            id=str(record.id),
            **{name: getattr(record, name) for name in _RECORD_COLUMNS},
        ),
        customer=_customer(record.customer) if record.customer else None,
        field=_field(field) if field else None,
        crop=_crop(record.planting, record.growth_stage) if record.planting else None,
        applicator=_person(record.applicator) if record.applicator else None,
        supervisor=_person(record.supervisor) if record.supervisor else None,
        rig=rig_facts(record.rig) if record.rig else None,
        nozzle=nozzle_facts(nozzle_set.nozzle) if nozzle_set else None,
        nozzle_mounted_on=nozzle_set.mounted_on if nozzle_set else None,
        catch_test=_catch_test(record) if history else None,
        products=tuple(_product(line) for line in record.products.all()),
        loads=_loads(record, _corrected_uses(record) if history else {}),
        weather=tuple(
            facts.WeatherFacts(
                read_at=reading.read_at,
                signs=None if reading.signs is None else tuple(reading.signs),
                **{name: getattr(reading, name) for name in _WEATHER_COLUMNS},
            )
            for reading in record.weather.all()
        ),
        earlier=_earlier(record) if history else (),
        amends=_amends(record),
        crew=tuple(_person(member.person) for member in record.crew.all()),
        continues=_continues(record),
        nozzle_removed_on=nozzle_set.removed_on if nozzle_set else None,
        pictures=tuple(picture_facts(one) for one in record.pictures.all()),
    )


def picture_facts(picture: Picture) -> facts.PictureFacts:
    """Return a picture as it is sealed."""
    return facts.PictureFacts(
        id=str(picture.id), **{name: getattr(picture, name) for name in _PICTURE_COLUMNS}
    )


def business_facts(business: Business) -> facts.BusinessFacts:
    """Return a business with its own settings for the checks."""
    return facts.BusinessFacts(
        id=str(business.pk),
        name=business.name,
        address=business.address,
        licence_number=business.licence_number,
        look_again_percent=business.look_again_percent,
        disagree_percent=business.disagree_percent,
        catch_test_max_days=business.catch_test_max_days,
        unit_system=business.unit_system,
        phone=business.phone,
    )


def _columns(kind: type, *, made: str) -> tuple[str, ...]:
    """Return the facts that are columns of the same name: all but those `made` from other rows."""
    return tuple(f.name for f in dataclasses.fields(kind) if f.name not in made.split())


_RECORD_COLUMNS = _columns(facts.RecordFacts, made="id")
_PICTURE_COLUMNS = _columns(facts.PictureFacts, made="id")
_WEATHER_COLUMNS = _columns(facts.WeatherFacts, made="read_at signs")
_LABEL_COLUMNS = _columns(
    facts.LabelFacts,
    made="id required_adjuvants forbidden_adjuvants ingredients classes asks deadlines retention",
)
_NOZZLE_COLUMNS = _columns(facts.NozzleFacts, made="class_table")
_RIG_COLUMNS = _columns(facts.RigFacts, made="id")


def _customer(customer: Customer) -> facts.CustomerFacts:
    return facts.CustomerFacts(id=str(customer.id), name=customer.name, address=customer.address)


def _crop(planting: Planting, growth_stage: int | None) -> facts.CropFacts:
    return facts.CropFacts(
        name=planting.crop,
        eppo_code=planting.eppo_code,
        planted_on=planting.planted_on,
        growth_stage_bbch=growth_stage,
    )


def _field(field: Field) -> facts.FieldFacts:
    middle = inside_point(shape=field.boundary) if field.boundary else None
    return facts.FieldFacts(
        id=str(field.id),
        name=field.name,
        place=field.place,
        time_zone=field.time_zone,
        locations=tuple(
            facts.LocationFacts(kind=location.kind, text=location.text)
            for location in field.locations.all()
        ),
        boundary=field.boundary,
        area_ha=field.area_ha,
        planted_size=field.planted_size,
        elevation=field.elevation,
        longitude=middle[0] if middle else None,
        latitude=middle[1] if middle else None,
    )


def _person(person: Person) -> facts.PersonFacts:
    return facts.PersonFacts(
        id=str(person.id),
        name=person.name,
        licences=tuple(
            facts.LicenceFacts(
                number=licence.number,
                authority=licence.authority,
                place=licence.place,
                categories=licence.category_list(),
                certified=licence.certified,
                valid_from=licence.valid_from,
                expires_on=licence.expires_on,
            )
            for licence in person.licences.all()
        ),
        trainings=tuple(
            facts.TrainingFacts(
                trained_on=training.trained_on,
                trainer=training.trainer,
                content=training.content,
                expires_on=training.expires_on,
            )
            for training in person.trainings.all()
        ),
    )


def rig_facts(rig: Rig) -> facts.RigFacts:
    """Return a rig as it stands on the shelf."""
    return facts.RigFacts(id=str(rig.id), **{name: getattr(rig, name) for name in _RIG_COLUMNS})


def nozzle_facts(nozzle: NozzleModel) -> facts.NozzleFacts:
    """Return a nozzle model as it stands on the shelf, with its class rows."""
    return facts.NozzleFacts(
        **{name: getattr(nozzle, name) for name in _NOZZLE_COLUMNS},
        class_table=tuple(
            facts.ClassRow(pressure=row.pressure, droplet_class=row.droplet_class)
            for row in nozzle.class_rows.all()
        ),
    )


def _catch_test(record: ApplicationRecord) -> facts.CatchTestFacts | None:
    """Return the last test of these nozzles up to the day of the work."""
    if record.nozzle_set_id is None:
        return None
    tests = CatchTest.objects.filter(nozzle_set_id=record.nozzle_set_id)
    if day := record.day:
        tests = tests.filter(tested_on__lte=day)
    test = tests.order_by("-tested_on", "-created_at").first()
    return test and catch_test_facts(test)


def catch_test_facts(test: CatchTest) -> facts.CatchTestFacts:
    """Return a catch test as it stands on the shelf."""
    return facts.CatchTestFacts(
        tested_on=test.tested_on,
        tested_by=test.tested_by,
        pressure=test.pressure,
        time=test.time,
        volumes=test.readings(),
        volume_unit=test.volume_unit,
        accuracy_percent=test.accuracy_percent,
        gauge=test.gauge,
        gauge_accuracy=test.gauge_accuracy,
    )


def _product(line: ProductLine) -> facts.ProductFacts:
    product = line.product
    return facts.ProductFacts(
        product_id=str(product.id),
        name=product.name,
        registration_number=product.registration_number,
        registrant=product.registrant,
        kind=product.kind,
        adjuvant_functions=tuple(product.adjuvant_functions),
        label=_label(line.label) if line.label else None,
        planned_rate=line.planned_rate,
        total_used=line.total_used,
        target=line.target,
    )


def _label(label: LabelEdition) -> facts.LabelFacts:
    return facts.LabelFacts(
        id=str(label.id),
        **{name: getattr(label, name) for name in _LABEL_COLUMNS},
        required_adjuvants=tuple(label.required_adjuvants),
        forbidden_adjuvants=tuple(label.forbidden_adjuvants),
        ingredients=tuple(
            facts.IngredientFacts(
                name=ingredient.name,
                content=ingredient.content,
                acid_equivalent=ingredient.acid_equivalent,
            )
            for ingredient in label.ingredients.all()
        ),
        classes=tuple(label.duty_classes),
        asks=tuple(
            Asked(
                name=ask.element,
                how_read=HowRead.LEGAL_TEXT,  # the label in hand is the law for its product
                when=When(ask.when),
                detail=ask.detail,
            )
            for ask in label.asks.all()
        ),
        deadlines=tuple(
            Deadline(
                kind=Kind(deadline.kind),
                clock=Clock(deadline.clock),
                how_read=HowRead.LEGAL_TEXT,
                since=Since(deadline.since),
                count=deadline.count,
                to=TO_WHOM.get(Kind(deadline.kind), Party.SELF),
                detail=deadline.detail,
            )
            for deadline in label.deadlines.all()
        ),
        retention=(
            (
                Retention(
                    years=label.keep_years,
                    since=KeepFrom.APPLICATION,
                    how_read=HowRead.LEGAL_TEXT,
                ),
            )
            if label.keep_years
            else ()
        ),
    )


TO_WHOM = {
    Kind.NOTICE_BEFORE: Party.FARM,
    Kind.NOTICE_AFTER: Party.FARM,
    Kind.DISPLAY: Party.WORKERS,
    Kind.COPY: Party.CUSTOMER,
    Kind.REPORT: Party.AUTHORITY,
}
"""To whom a thing goes that a label sets a time for."""


def _loads(
    record: ApplicationRecord, corrected: Mapping[Any, list[LoadUse]]
) -> tuple[facts.LoadFacts, ...]:
    return tuple(
        _load(use, corrected.get(use.load.copy_of_id or use.load_id, ()))
        for use in record.load_uses.all()
    )


def _load(use: LoadUse, corrected: Iterable[LoadUse]) -> facts.LoadFacts:
    return facts.LoadFacts(
        order=use.order,
        mixed_volume=use.load.mixed_volume,
        used_here=use.used,
        parts=tuple(
            facts.LoadPartFacts(product_id=str(part.product_id), amount=part.amount)
            for part in use.load.parts.all()
        ),
        shared=len((use.load.copy_of or use.load).uses.all()) > 1,
        places_elsewhere=_places_elsewhere(use, corrected),
    )


def _corrected_uses(record: ApplicationRecord) -> dict[Any, list[LoadUse]]:
    """Return by load what sealed amendments took from it; each points at a copy of its own."""
    mixed = {use.load.copy_of_id or use.load_id for use in record.load_uses.all()}
    found: dict[Any, list[LoadUse]] = {key: [] for key in mixed}
    if mixed:
        uses = LoadUse.objects.filter(load__copy_of__in=mixed, record__signed_at__isnull=False)
        for use in uses.select_related("load", "record__amendment"):
            found[use.load.copy_of_id].append(use)
    return found


def _places_elsewhere(use: LoadUse, corrected: Iterable[LoadUse]) -> tuple[int, ...]:
    """Return which places in the order of the load's fields other fields hold.

    A job that goes on the next day is the same field once more; a record that was corrected holds
    no place any more.
    """
    record = use.record
    mixed = (use.load.copy_of or use.load).uses.all()
    others = [*mixed, *corrected] if record.field_id else []
    return tuple(
        sorted(
            {
                other.order
                for other in others
                if other.record.field_id not in (None, record.field_id)
                if other.record_id != record.amends_id and not _is_corrected(other.record)
            }
        )
    )


def _is_corrected(record: ApplicationRecord) -> bool:
    amendment = getattr(record, "amendment", None)
    return amendment is not None and amendment.signed_at is not None


_A_YEAR = timedelta(days=366)
"""To each side of the start of the work; the calendar year of its day lies within."""


def _earlier(record: ApplicationRecord) -> tuple[facts.EarlierUse, ...]:
    """Return the sealed uses of the same products on the field within a year of this work.

    Those sprayed later count too: the season's total and the interval do not depend on the order of
    signing. One that was amended since counts as its amendment says, not twice.
    """
    instant = record.started_at or record.finished_at
    if record.field_id is None or instant is None:
        return ()
    lines = (
        ProductLine.objects.filter(
            product__in=[line.product_id for line in record.products.all()],
            record__field_id=record.field_id,
            record__signed_at__isnull=False,
        )
        # No record is signed without its start.
        .filter(record__started_at__range=(instant - _A_YEAR, instant + _A_YEAR))
        .exclude(record__amendment__signed_at__isnull=False)
        .exclude(record_id__in=[record.id, *([record.amends_id] if record.amends_id else [])])
        .select_related("record__seal")
        .defer("record__seal__text")
        .order_by("record__started_at", "record_id", "position")
    )
    job = _job(record, [line.record for line in lines])
    used = _used(lines)
    return tuple(
        facts.EarlierUse(
            product_id=str(line.product_id),
            applied_on=line.record.days[0],
            rate=one.rate if one else None,
            record_number=line.record.seal.number,
            same_job=line.record_id in job,
            treated_area=line.record.treated_area,
            basis=one.basis if one else Basis.PLANNED,
        )
        for line, one in zip(lines, used, strict=True)
    )


def _used(lines: Collection[ProductLine]) -> list[RateUsed | None]:
    """Return the rate used of each sealed line; the texts of those without a total are read."""
    found = [
        rate_used(planned=line.planned_rate, total=line.total_used, area=line.record.treated_area)
        for line in lines
    ]
    open_ = {
        line.record_id
        for line, one in zip(lines, found, strict=True)
        if one is None or one.basis is not Basis.TOTAL
    }
    texts = Seal.objects.filter(record_id__in=open_, purged_at__isnull=True) if open_ else ()
    read = {seal.record_id: facts_and_rates(seal.text) for seal in texts}
    return [
        used_of_product(*read[line.record_id], str(line.product_id))
        if line.record_id in read
        else one
        for line, one in zip(lines, found, strict=True)
    ]


def _job(record: ApplicationRecord, others: list[ApplicationRecord]) -> set[Any]:
    """Return the ids that belong to the job of a record: resumed from it or it from them.

    A correction stands for what it corrects. A job that hangs together only through a record that
    is not among the others counts as two, the stricter reading.
    """
    links: list[set[Any]] = [
        {one.pk, one.continues_id, one.amends_id} - {None} for one in (record, *others)
    ]
    job: set[Any] = {record.pk}
    grown = True
    while grown:
        grown = False
        for link in links:
            if link & job and not link <= job:
                job |= link
                grown = True
    return job


def _amends(record: ApplicationRecord) -> facts.AmendmentFacts | None:
    if record.amends is None:
        return None
    seal = record.amends.seal
    return facts.AmendmentFacts(
        number=seal.number, seal_sha256=seal.link, reason=record.amend_reason, changes=()
    )


def _continues(record: ApplicationRecord) -> facts.ContinuedFacts | None:
    before = record.continues
    if before is None:
        return None
    number = before.seal.number if before.signed_at else None
    return facts.ContinuedFacts(id=str(before.id), number=number, day=before.day)
