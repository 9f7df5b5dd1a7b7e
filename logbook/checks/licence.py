"""Checks of who sprayed: licences valid on the day and at the place, supervision, training."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from logbook.checks.core import Finding, Severity, check
from logbook.checks.label import SILENT, labels
from logbook.checks.requirements import Requirements
from logbook.facts.messages import gettext_noop, msg
from logbook.facts.record import LicenceFacts, PersonFacts, Snapshot
from logbook.facts.wording import edition, listed
from logbook.law.elements import has_helper

_HELPER_LAW = msg("40 CFR 171.201 (helpers under direct supervision)")
_RESTRICTED_LAW = msg("7 U.S.C. 136a(d)(1)(C) (restricted use)")


@check(
    "applicator-licence",
    title=msg("a licence of the applicator, or of the supervisor, valid on the day at the field"),
    about=("applicator", "supervisor"),
)
def applicator_licence(s: Snapshot) -> Iterator[Finding]:
    person, day, place = _who_when_where(s)
    if _valid(person, day, place) or _valid(s.supervisor, day, place):
        return
    if s.supervisor is None:
        supervision = msg("no supervisor is named")
    else:
        supervision = msg(
            "none of the supervisor {supervisor} is either", supervisor=s.supervisor.name
        )
        supervision += _why_not(s.supervisor, day, place)
    yield applicator_licence.finding(
        Severity.BREACH,
        about="applicator",
        sentence=msg(
            "No licence of {name} is valid in {place} on {day}{why_not}, and {supervision}.",
            name=person.name,
            place=place,
            day=day,
            why_not=_why_not(person, day, place),
            supervision=supervision,
        ),
        basis=msg("Licensing law of {place}; {law}", place=place, law=_HELPER_LAW),
        settle=msg("Enter the licence that was valid on the day, or name the licensed supervisor."),
    )


@check(
    "helper-training",
    title=msg("a helper's training, valid on the day"),
    about=("applicator",),
)
def helper_training(s: Snapshot) -> Iterator[Finding]:
    person, day, place = _who_when_where(s)
    if _valid(person, day, place):
        return
    held = any(
        training.trained_on <= day and (training.expires_on is None or day <= training.expires_on)
        for training in person.trainings
    )
    if not held:
        latest = max((training.trained_on for training in person.trainings), default=None)
        trained = (
            msg("the latest training is of {day}", day=latest)
            if latest
            else msg("no training is on record")
        )
        yield helper_training.finding(
            Severity.BREACH,
            about="applicator",
            sentence=msg(
                "{name} has no licence valid in {place} on {day} and so works as a helper, "
                "but has no training valid on that day: {trained}.",
                name=person.name,
                place=place,
                day=day,
                trained=trained,
            ),
            basis=_HELPER_LAW,
            settle=msg(
                "Enter the training of {name}, or the licence valid on the day.", name=person.name
            ),
        )


@check(
    "restricted-use",
    title=msg("a certified applicator for every restricted-use product"),
    about=("applicator", "supervisor", "products.*.label"),
)
def restricted_use(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = labels(s, ask)
    for at, p, label in asked:
        unsaid = msg("whether {name} is a restricted-use product", name=p.name)
        ask.fact(label.restricted_use, f"products.{at}.label.restricted_use", unsaid)
    restricted = [(p, label) for _, p, label in asked if label.restricted_use]
    if restricted:
        person, day, place = _who_when_where(s, ask)
        held = (*_valid(person, day, place), *_valid(s.supervisor, day, place))
        if not any(licence.certified for licence in held):
            yield restricted_use.finding(
                Severity.BREACH,
                about="applicator",
                sentence=msg(
                    "{products}: for restricted use only, but on {day} neither {person} nor a "
                    "supervisor is a certified applicator in {place}.",
                    products=listed(p.name for p, _ in restricted),
                    day=day,
                    person=person.name,
                    place=place,
                ),
                basis=msg(
                    "{labels}; {law}",
                    labels=listed(edition(*one) for one in restricted),
                    law=_RESTRICTED_LAW,
                ),
                settle=msg("Name the certified applicator who sprayed or supervised."),
            )
    ask.done()


@check(
    "supervised-helper",
    title=msg("no helper where the label forbids one"),
    about=("applicator", "products.*.label"),
)
def supervised_helper(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = labels(s, ask)
    strict = [(p, label) for _, p, label in asked if label.supervised_use_allowed is False]
    if strict:
        person, day, place = _who_when_where(s, ask)
        must_certify = any(label.restricted_use for _, label in strict)
        held = [one for one in _valid(person, day, place) if one.certified or not must_certify]
        if not held:
            yield supervised_helper.finding(
                Severity.BREACH,
                about="applicator",
                sentence=msg(
                    gettext_noop(
                        "{products}: the label allows no helper under supervision, but {person} "
                        "holds no own certification valid in {place} on {day}."
                    )
                    if must_certify
                    else gettext_noop(
                        "{products}: the label allows no helper under supervision, but {person} "
                        "holds no own licence valid in {place} on {day}."
                    ),
                    products=listed(p.name for p, _ in strict),
                    person=person.name,
                    place=place,
                    day=day,
                ),
                basis=listed(edition(*one) for one in strict),
                settle=msg(
                    "Let a person spray who holds the licence; correct the name if one did."
                ),
            )
    if has_helper(s):
        for at, p, label in asked:
            unsaid = msg("whether the label of {name} allows a helper", name=p.name)
            ask.fact(
                label.supervised_use_allowed,
                f"products.{at}.label.supervised_use_allowed",
                unsaid,
            )
    ask.done()


@check(
    "licence-category",
    title=msg("the licence category that the label or the law asks for"),
    about=("applicator", "supervisor", "products.*.label"),
)
def licence_category(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = [(p, label) for _, p, label in labels(s, ask) if label.required_category]
    if asked:
        person, day, place = _who_when_where(s, ask)
        # A helper works under the supervisor's categories; a licensed applicator under the own.
        held = _valid(person, day, place) or _valid(s.supervisor, day, place)
        categories = {category for licence in held for category in licence.categories}
        lacking = [one for one in asked if one[1].required_category not in categories]
        if lacking:
            names = listed(
                msg(
                    "{category} for {product}",
                    category=label.required_category,
                    product=p.name,
                )
                for p, label in lacking
            )
            yield licence_category.finding(
                Severity.BREACH,
                about="applicator",
                sentence=msg(
                    "Licence category asked: {names}. Held on {day} in {place}: {held}.",
                    names=names,
                    day=day,
                    place=place,
                    held=listed(sorted(categories)) if categories else msg("none"),
                ),
                basis=listed(edition(*one) for one in lacking),
                settle=msg(
                    "Enter the licence with that category, or name a supervisor who holds it."
                ),
            )
    else:
        ask.nothing(SILENT)
    ask.done()


def _who_when_where(s: Snapshot, ask: Requirements | None = None) -> tuple[PersonFacts, date, str]:
    """Return the applicator, the local day and the place; what is blank is raised.

    Of a job over midnight it is the day on which fewer licences hold.
    """
    ask = ask or Requirements()
    person = ask.fact(s.applicator, "applicator")
    day = ask.fact(s.local_day(), "started_at")
    field = ask.fact(s.field, "field")
    if person is None or day is None or field is None:
        raise ask.lack()
    place = field.place

    def held(one: date) -> int:
        return len(_valid(person, one, place)) + len(_valid(s.supervisor, one, place))

    return person, min(s.days, key=held), place


def _valid(person: PersonFacts | None, day: date, place: str) -> tuple[LicenceFacts, ...]:
    """Return the licences of a person that hold on the day at the place."""
    if person is None:
        return ()
    return tuple(
        one
        for one in person.licences
        if _covers(one, place) and one.valid_from <= day <= one.expires_on
    )


def _covers(licence: LicenceFacts, place: str) -> bool:
    # A licence of a whole country ("US") covers its parts ("US-ND").
    return place == licence.place or place.startswith(f"{licence.place}-")


def _why_not(person: PersonFacts, day: date, place: str) -> str:
    """Return, in brackets, what is wrong with the latest licence; nothing when there is none.

    One that had run out says more of the day than one that came into force later.
    """
    if not person.licences:
        return ""
    last = max(
        person.licences,
        key=lambda one: (_covers(one, place), one.valid_from <= day, one.expires_on),
    )
    if not _covers(last, place):
        return msg(" ({number} is for {place})", number=last.number, place=last.place)
    if day > last.expires_on:
        return msg(" ({number} expired on {day})", number=last.number, day=last.expires_on)
    return msg(" ({number} is valid from {day})", number=last.number, day=last.valid_from)
