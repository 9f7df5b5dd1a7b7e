"""The neutral names of what laws ask of a record, and how each stands in the facts.

Every element is given, none, not applicable, not measured (with the reason) or missing; nothing is
derived silently: what has no fact of its own is stated by a person in `RecordFacts.statements`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from itertools import groupby
from operator import itemgetter

from logbook.facts.choices import WORKER_WARNINGS
from logbook.facts.duty import LocationFormat
from logbook.facts.intervals import intervals
from logbook.facts.messages import Message, joined, msg, term, with_unit
from logbook.facts.quantity import Absence, Answer, BadAnswer, Nothing, Quantity, parse_answer
from logbook.facts.record import (
    CropFacts,
    LicenceFacts,
    PersonFacts,
    ProductFacts,
    RigFacts,
    Snapshot,
    WeatherFacts,
)
from logbook.facts.used import Basis, rate_used
from logbook.facts.wording import clock_at, listed, three


class State(StrEnum):
    """How an element stands in a record; the words of `Absence` are answers."""

    GIVEN = "given"
    NONE = "none"
    NOT_APPLICABLE = "not applicable"
    NOT_MEASURED = "not measured"
    MISSING = "missing"


@dataclass(frozen=True, slots=True)
class Stand:
    """How an element stands: its state, its value in words, and where."""

    state: State
    value: str = ""  # as a paper prints it; with "not measured" the reason
    where: tuple[str, ...] = ()  # paths of the facts in which it stands
    blank: tuple[str, ...] = ()  # paths of the facts that would give it, when missing


Look = Callable[[Snapshot, tuple[int, ...]], Stand]
"""Snapshot, and the places in it of the products that the law covers, to how an element stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """A neutral field name, and where its value stands in a snapshot."""

    name: str
    title: str  # with its article, as it stands in a sentence
    stands_in: tuple[str, ...]  # paths, `*` for a place in a list
    look: Look
    stated: bool  # a person may state it where no fact gives it
    of_products: bool  # it depends on which products a law covers


ADJUVANT = "adjuvant"
"""The kind of product that some laws count among the pesticides."""

Answered = str | Nothing | None
Part = tuple[str, Answered]  # the path of a fact, and what it says


def _stand(parts: Iterable[Part], *, blank: str = "") -> Stand:
    """Return how all the facts together stand; one that is blank makes the element missing."""
    known = list(parts)
    empty = tuple(path for path, said in known if said in (None, ""))
    if empty or not known:
        return Stand(State.MISSING, blank=empty or (blank,))
    where = tuple(path for path, _ in known)
    texts = [said for _, said in known if isinstance(said, str)]
    if texts:
        return Stand(State.GIVEN, _semicolons(dict.fromkeys(texts)), where)
    nothing = next(said for _, said in known if isinstance(said, Nothing))
    return Stand(State(nothing.kind.value), nothing.reason, where)


def _semicolons(texts: Iterable[str]) -> str:
    """Return the texts as one; a single text stays what it is."""
    first, *more = [*texts] or [""]
    return joined("; ", (first, *more)) if more else first


def _amount(quantity: Quantity) -> Message:
    return Message("{amount}", {"amount": quantity})


def _words(answer: Answer) -> Answered:
    return _amount(answer) if isinstance(answer, Quantity) else answer


# --- what a person states in words ---------------------------------------------------------------

LONGEST = 500
"""The most characters of a statement."""


def read_statement(text: str) -> str | Nothing | None:
    """Return what a statement says: a text, a word as in any other entry, or None when blank.

    Raises: BadAnswer if the text is too long, or "not measured" has no reason.
    """
    text = text.strip()
    if len(text) > LONGEST:
        raise BadAnswer(
            msg(
                "The text has {count} characters; at most {most} are kept.",
                count=len(text),
                most=LONGEST,
            )
        )
    if text.partition(":")[0].strip().lower() in set(Absence):
        answer = parse_answer(text, dimensions=())
        return answer if isinstance(answer, Nothing) else None
    return text or None


def refused_statements(statements: Mapping[str, object]) -> dict[str, str]:
    """Return, by path, why each statement cannot be taken, as said; empty when all can."""
    refused = {}
    for name, text in statements.items():
        try:
            if name not in STATED:
                raise BadAnswer(
                    msg(
                        '"{name}" is not an element that is stated in words; allowed are '
                        "{allowed}.",
                        name=name,
                        allowed=", ".join(STATED),
                    )
                )
            if not isinstance(text, str):
                raise BadAnswer(msg("A statement is a text."))
            read_statement(text)
        except BadAnswer as bad:
            refused[f"statements.{name}"] = bad.args[0]
    return refused


def _statement(s: Snapshot, name: str) -> Part:
    try:
        said = read_statement(s.record.statements.get(name, ""))
    except BadAnswer:
        # Services refuse it; in an older text it counts as not said, so that the record asks again.
        said = None
    return f"statements.{name}", said


def _stated(name: str) -> Look:
    return lambda s, _: _stand([_statement(s, name)])


def _or_stated(name: str, look: Look) -> Look:
    """Return the look that falls back on a statement where no fact gives the element."""

    def looked(s: Snapshot, covered: tuple[int, ...]) -> Stand:
        found = look(s, covered)
        if found.state is not State.MISSING:
            return found
        stated = _stand([_statement(s, name)])
        return found if stated.state is State.MISSING else stated

    return looked


# --- people --------------------------------------------------------------------------------------


def _customer(name: str) -> Look:
    def look(s: Snapshot, _: tuple[int, ...]) -> Stand:
        if s.customer is None:
            return Stand(State.MISSING, blank=("customer",))
        return _stand([(f"customer.{name}", getattr(s.customer, name))])

    return look


def licence_of(person: PersonFacts | None, s: Snapshot) -> LicenceFacts | None:
    """Return the licence of a person for the field's place and day, or else the latest one there.

    Whether it was valid is the question of the checks of licences, not of this.
    """
    place = s.field.place if s.field else ""
    day = s.local_day()
    held = [
        one
        for one in (person.licences if person else ())
        if place == one.place or place.startswith(f"{one.place}-")
    ]
    return max(
        held,
        key=lambda one: (
            day is not None and one.valid_from <= day <= one.expires_on,
            one.expires_on,
        ),
        default=None,
    )


def _workers(s: Snapshot) -> list[tuple[str, PersonFacts]]:
    """Return who sprayed, each with the path: the applicator first, then the crew."""
    crew = [(f"crew.{place}", person) for place, person in enumerate(s.crew)]
    return [*([("applicator", s.applicator)] if s.applicator else []), *crew]


def _helpers(s: Snapshot) -> list[tuple[str, PersonFacts]]:
    """Return those of the workers who hold no licence for the place."""
    return [one for one in _workers(s) if licence_of(one[1], s) is None]


def has_helper(s: Snapshot) -> bool:
    """Return whether a person without a licence for the place sprayed."""
    return bool(_helpers(s))


def _applicator(s: Snapshot, _: tuple[int, ...]) -> Stand:
    if s.applicator is None:
        return Stand(State.MISSING, blank=("applicator",))
    return _stand([(f"{path}.name", person.name) for path, person in _workers(s)])


def _supervisor(s: Snapshot, _: tuple[int, ...]) -> Stand:
    if s.supervisor:
        return _stand([("supervisor.name", s.supervisor.name)])
    if s.applicator and licence_of(s.applicator, s):
        return _stand([("applicator.name", msg("{name}, who sprayed", name=s.applicator.name))])
    return Stand(State.MISSING, blank=("supervisor" if s.applicator else "applicator",))


def licence_holders(s: Snapshot) -> tuple[str, ...]:
    """Return the names of those who sprayed and hold a licence for the place."""
    return tuple(one.name for _, one in _workers(s) if licence_of(one, s))


def _licence_number(s: Snapshot, _: tuple[int, ...]) -> Stand:
    """Return the licence of each who sprayed and holds one, and of who answers for the work."""
    supervisor = [("supervisor", s.supervisor)] if s.supervisor else []
    parts: list[Part] = [
        (f"{who}.licences", f"{licence.number} ({person.name})")
        for who, person in (*_workers(s), *supervisor)
        if (licence := licence_of(person, s))
    ]
    return _stand(parts, blank="applicator.licences" if s.applicator else "applicator")


def _business(s: Snapshot, _: tuple[int, ...]) -> Stand:
    return _stand([("business.name", s.business.name), ("business.address", s.business.address)])


def _telephone(s: Snapshot, _: tuple[int, ...]) -> Stand:
    return _stand([("business.phone", s.business.phone)])


def _training(s: Snapshot, _: tuple[int, ...]) -> Stand:
    """Return the training of each helper; where there is none, of each who sprayed."""
    day = s.local_day() or date.max

    def said(person: PersonFacts) -> str:
        return _semicolons(
            msg(
                "{name}: {content}, {day} by {trainer}",
                name=person.name,
                content=one.content,
                day=one.trained_on,
                trainer=one.trainer,
            )
            for one in person.trainings
            if one.trained_on <= day and (one.expires_on is None or day <= one.expires_on)
        )

    people = _helpers(s) or _workers(s)
    return _stand(
        [(f"{path}.trainings", said(person)) for path, person in people], blank="applicator"
    )


# --- time and place ------------------------------------------------------------------------------


def _day(s: Snapshot, _: tuple[int, ...]) -> Stand:
    """Return the local day; of work over midnight both days, each with its own date."""
    times = [(name, getattr(s.record, name)) for name in ("started_at", "finished_at")]
    dated = [(name, instant.astimezone(s.zone).date()) for name, instant in times if instant]
    days: list[Part] = [(name, Message("{day}", {"day": day})) for name, day in dated]
    if len({day for _, day in dated}) < 2:
        days = days[-1:]
    return _stand(days, blank="started_at")


def _times(*names: str) -> Look:
    """Return the look at the first of the times that is there."""

    def look(s: Snapshot, _: tuple[int, ...]) -> Stand:
        for name in names:
            instant = getattr(s.record, name)
            if instant:
                return _stand([(name, clock_at(instant, s.zone))])
        return Stand(State.MISSING, blank=(names[0],))

    return look


_FORMATS = {one.value: one for one in LocationFormat}


def formats_of(s: Snapshot) -> dict[LocationFormat, str]:
    """Return the formats in which the record says where the field is, each with its path.

    A drawn boundary is an outline with its coordinates, and the map that is printed from it.
    """
    if s.field is None:
        return {}
    found: dict[LocationFormat, str] = {}
    for place, location in enumerate(s.field.locations):
        if location.text and location.kind in _FORMATS:
            path = f"field.locations.{place}"
            found.setdefault(_FORMATS[location.kind], path)
            if location.kind == LocationFormat.COORDINATES and location.text.count(",") >= 3:
                found.setdefault(LocationFormat.OUTLINE, path)
    if s.field.boundary:
        for drawn in (LocationFormat.OUTLINE, LocationFormat.MAP, LocationFormat.COORDINATES):
            found.setdefault(drawn, "field.boundary")
    return found


def _location(*, structured: bool) -> Look:
    def look(s: Snapshot, _: tuple[int, ...]) -> Stand:
        if s.field is None:
            return Stand(State.MISSING, blank=("field",))
        parts: list[Part] = [
            (f"field.locations.{place}", one.text)
            for place, one in enumerate(s.field.locations)
            if one.text and not (structured and one.kind == LocationFormat.DESCRIPTION)
        ]
        if s.field.boundary:
            parts.append(("field.boundary", msg("outline of {field}", field=s.field.name)))
        return _stand(parts, blank="field.locations")

    return look


def _parcel(s: Snapshot, _: tuple[int, ...]) -> Stand:
    found = formats_of(s)
    path = found.get(LocationFormat.PARCEL)
    if path is None or s.field is None:
        return Stand(State.MISSING, blank=("statements.government-id",))
    return _stand([(path, s.field.locations[int(path.rpartition(".")[2])].text)])


def _planted(s: Snapshot, _: tuple[int, ...]) -> Stand:
    return _stand(
        [("field.planted_size", _words(s.field.planted_size))] if s.field else [], blank="field"
    )


# --- products ------------------------------------------------------------------------------------


def _lines(said: Callable[[ProductFacts], Answered], path: str) -> Look:
    """Return the look at one fact of every covered product."""

    def look(s: Snapshot, covered: tuple[int, ...]) -> Stand:
        several = len(covered) > 1

        def part(place: int) -> Part:
            product = s.products[place]
            text = said(product)
            if several and isinstance(text, str) and text and path != "name":
                text = joined(": ", (product.name, text))
            return f"products.{place}.{path}", text

        return _stand(map(part, covered), blank="products")

    return look


def _of_label(said: Callable[[ProductFacts], Answered], path: str) -> Look:
    """Return the look at a fact of the label edition; without an edition that is what lacks."""

    def look(s: Snapshot, covered: tuple[int, ...]) -> Stand:
        # An adjuvant has its own line, but no ingredient and no interval that a law speaks of.
        of_pesticides = tuple(n for n in covered if s.products[n].kind != ADJUVANT)
        if covered and not of_pesticides:
            return Stand(State.NOT_APPLICABLE, where=tuple(f"products.{n}.name" for n in covered))
        covered = of_pesticides
        blank = tuple(f"products.{n}.label" for n in covered if s.products[n].label is None)
        if blank:
            return Stand(State.MISSING, blank=blank)
        return lines(s, covered)

    lines = _lines(said, f"label.{path}")
    return look


def _ingredients(product: ProductFacts) -> Answered:
    names = [one.name for one in product.label.ingredients] if product.label else []
    return listed(names) if names else None


def _reentry(product: ProductFacts) -> Answered:
    hours = product.label and product.label.reentry_hours
    return Nothing(Absence.NONE) if hours is None else Message("{hours:f} h", {"hours": hours})


def _strengths(product: ProductFacts) -> Answered:
    made_of = product.label.ingredients if product.label else ()
    named = [
        Message("{name} {content}", {"name": one.name, "content": one.content}) for one in made_of
    ]
    return listed(named) if named else None


def _warning(product: ProductFacts) -> Answered:
    asked = product.label.worker_warning if product.label else ""
    return term(WORKER_WARNINGS[asked]) if asked else None


def _entry_time(s: Snapshot, covered: tuple[int, ...]) -> Stand:
    """Return from when the field may be entered: the end of the work and the longest interval."""
    hours = _of_label(_reentry, "reentry_hours")(s, covered)
    if hours.state is not State.GIVEN:
        return hours
    opens = intervals(s).entry_from
    if opens is None:
        return Stand(State.MISSING, blank=("finished_at",))
    day = opens.astimezone(s.zone).date()
    words = Message("{day} {time}", {"day": day, "time": clock_at(opens, s.zone)})
    return _stand([("finished_at", words)])


def _preharvest(product: ProductFacts) -> Answered:
    days = product.label and product.label.preharvest_days
    return Nothing(Absence.NONE) if days is None else msg("{count} days", count=days)


def _target(s: Snapshot, covered: tuple[int, ...]) -> Stand:
    lines = _lines(lambda product: product.target, "target")(s, covered)
    if lines.state is State.MISSING and s.record.purpose:
        return _stand([("purpose", s.record.purpose)])
    return lines


def _rate(s: Snapshot, covered: tuple[int, ...]) -> Stand:
    """Return the rates used: totals over the treated area, or as planned, which is said.

    A rate that was computed from the setting is no entry, and stands in no law's place.
    """
    parts: list[Part] = []
    for place in covered:
        product = s.products[place]
        path, planned = f"products.{place}.planned_rate", product.planned_rate
        used = rate_used(planned=planned, total=product.total_used, area=s.record.treated_area)
        said = _words(planned)
        if used is not None and used.basis is Basis.TOTAL:
            path = f"products.{place}.total_used"
            rate = with_unit(three(float(used.rate.value)), used.rate.unit)
            said = msg("{rate}, as used", rate=rate)
        elif isinstance(planned, Quantity):
            said = msg("{rate}, as planned", rate=planned)
        if len(covered) > 1 and isinstance(said, str):
            said = joined(": ", (product.name, said))
        parts.append((path, said))
    return _stand(parts, blank="products")


def _dilution(s: Snapshot, covered: tuple[int, ...]) -> Stand:
    """Return product and mix side by side as entered: in each load, or else per area."""
    names = {s.products[place].product_id: s.products[place].name for place in covered}
    parts: list[Part] = [
        (
            f"loads.{place}",
            msg(
                "{amount} {product} in {volume}",
                amount=part.amount,
                product=names[part.product_id],
                volume=load.mixed_volume,
            ),
        )
        for place, load in enumerate(s.loads)
        for part in load.parts
        if part.product_id in names
    ]
    if {part.product_id for load in s.loads for part in load.parts} >= set(names) and parts:
        return _stand(parts)
    carrier = s.record.planned_carrier
    if not isinstance(carrier, Quantity):
        return Stand(State.MISSING, blank=("planned_carrier",))

    def said(product: ProductFacts) -> Answered:
        rate = _words(product.planned_rate)
        return (
            msg("{rate} in {carrier}", rate=rate, carrier=carrier)
            if isinstance(rate, str)
            else rate
        )

    return _lines(said, "planned_rate")(s, covered)


def _mix(s: Snapshot, _: tuple[int, ...]) -> Stand:
    planned = ("planned_carrier", _words(s.record.planned_carrier))
    used = ("mix_used", _words(s.record.mix_used))
    return _stand([part for part in (planned, used) if isinstance(part[1], str)] or [planned])


def _tank_mix(s: Snapshot, _: tuple[int, ...]) -> Stand:
    if len(s.products) > 1:
        return _stand([(f"products.{n}.name", one.name) for n, one in enumerate(s.products)])
    # One line alone does not say that nothing else was in the tank.
    return Stand(State.MISSING, blank=("statements.tank-mix",))


# --- crop, weather, rig --------------------------------------------------------------------------


def _crop(said: Callable[[CropFacts], Answered], path: str) -> Look:
    return lambda s, _: _stand([(path, said(s.crop))] if s.crop else [], blank="crop")


def _stage(crop: CropFacts) -> Answered:
    if crop.growth_stage_bbch is not None:
        return f"BBCH {crop.growth_stage_bbch}"
    return msg("planted {day}", day=crop.planted_on) if crop.planted_on else None


def _readings(s: Snapshot, name: str) -> Iterator[tuple[str, WeatherFacts, Answer]]:
    for place, reading in enumerate(s.weather):
        yield f"weather.{place}.{name}", reading, getattr(reading, name)


def _inside(s: Snapshot, reading: WeatherFacts) -> bool:
    """Return whether a reading was taken while the work went on; a blank time is no bound."""
    started, finished = s.record.started_at, s.record.finished_at
    return not (started and reading.read_at < started) and not (
        finished and reading.read_at > finished
    )


def _weather(name: str, *, at_least: int = 1) -> Look:
    """Return the look at one fact of the readings; as many as asked have to say it.

    Where it is asked again and again, only readings during the work count.
    """

    def look(s: Snapshot, _: tuple[int, ...]) -> Stand:
        all_of_them = [one for one in _readings(s, name) if at_least == 1 or _inside(s, one[1])]
        measured = [one for one in all_of_them if isinstance(one[2], Quantity)]
        if measured and len(measured) >= at_least:
            return Stand(
                State.GIVEN,
                _semicolons(
                    msg(
                        "{value} at {time}",
                        value=value,
                        time=", ".join(clock_at(one.read_at, s.zone) for _, one, _ in of_value),
                    )
                    for value, of_value in groupby(measured, key=itemgetter(2))
                ),
                tuple(path for path, _, _ in measured),
            )
        words = [(path, answer) for path, _, answer in all_of_them if isinstance(answer, Nothing)]
        if words and at_least == 1:
            return _stand(words[:1])
        first_blank = next((path for path, _, answer in all_of_them if answer is None), "weather")
        return Stand(State.MISSING, blank=(first_blank,))

    return look


HOUR = timedelta(hours=1)


def _hourly_wind(s: Snapshot, covered: tuple[int, ...]) -> Stand:
    """Return the wind of each hour of the work, counted from its start: one reading in each."""
    started, finished = s.record.started_at, s.record.finished_at
    for path, instant in (("started_at", started), ("finished_at", finished)):
        if instant is None:
            return Stand(State.MISSING, blank=(path,))
    measured = [
        one.read_at for one in s.weather if _inside(s, one) and isinstance(one.wind_speed, Quantity)
    ]
    hour = started
    while hour and finished and hour < finished:
        if not any(hour <= at < hour + HOUR or at == finished < hour + HOUR for at in measured):
            return Stand(State.MISSING, blank=("weather",))
        hour += HOUR
    parts = [_weather(name)(s, covered) for name in ("wind_from", "wind_speed")]
    lacking = next((one for one in parts if one.state is State.MISSING), None)
    where = tuple(path for part in parts for path in part.where)
    return lacking or Stand(State.GIVEN, _semicolons(part.value for part in parts), where)


def _other_weather(s: Snapshot, covered: tuple[int, ...]) -> Stand:
    stands = [_weather(name)(s, covered) for name in ("humidity", "cloud")]
    return next((one for one in stands if one.state is not State.MISSING), stands[0])


AT_AN_END = timedelta(minutes=15)
"""A reading so near the start or the end is one of the start or the end (common practice, no
source)."""


def _start_and_finish(s: Snapshot, covered: tuple[int, ...]) -> Stand:
    """Return wind and temperature, each from a reading at the start and from one at the finish."""
    ends = (("started_at", s.record.started_at), ("finished_at", s.record.finished_at))
    for path, instant in ends:
        if instant is None:
            return Stand(State.MISSING, blank=(path,))
        near = [one for one in s.weather if abs(one.read_at - instant) <= AT_AN_END]
        for name in _AT_BOTH_ENDS:
            if all(getattr(one, name) is None for one in near):
                return Stand(State.MISSING, blank=("weather",))
    parts = [_weather(name)(s, covered) for name in _AT_BOTH_ENDS]
    where = tuple(path for part in parts for path in part.where)
    return Stand(State.GIVEN, _semicolons(part.value for part in parts), where)


_AT_BOTH_ENDS = ("wind_from", "wind_speed", "temperature")


def _of_rig(said: Callable[[Snapshot, RigFacts], Answered], path: str) -> Look:
    return lambda s, _: _stand([(path, said(s, s.rig))] if s.rig else [], blank="rig")


def _rig_words(_: Snapshot, rig: RigFacts) -> Answered:
    return f"{rig.name} ({rig.plate})" if rig.plate else rig.name


def _nozzle(s: Snapshot, _: tuple[int, ...]) -> Stand:
    if s.nozzle is None:
        return Stand(State.MISSING, blank=("nozzle",))
    rated = msg(
        "{name}: {kind}, {flow} at {pressure}",
        name=s.nozzle.name,
        kind=term(s.nozzle.kind),
        flow=s.nozzle.rated_flow,
        pressure=s.nozzle.rated_pressure,
    )
    return _stand([("nozzle.name", rated + f", {s.nozzle.angle}°" if s.nozzle.angle else rated)])


def _record(name: str) -> Look:
    return lambda s, _: _stand([(name, _words(getattr(s.record, name)))])


def _order(s: Snapshot, _: tuple[int, ...]) -> Stand:
    parts: list[Part] = [
        (
            f"loads.{place}.order",
            msg("field no. {order} from load {load}", order=load.order, load=place + 1),
        )
        for place, load in enumerate(s.loads)
    ]
    return _stand(parts, blank="loads")


def _make(name: str, title: str, stands_in: str, look: Look | None = None) -> Element:
    """Return an element; "statements" among the places lets a person state it."""
    places = tuple(stands_in.split())
    stated = "statements" in places
    if look is None:
        look = _stated(name)
    elif stated:
        look = _or_stated(name, look)
    return Element(
        name=name,
        title=title,
        stands_in=places,
        look=look,
        stated=stated,
        of_products=any(place.startswith("products.") for place in places),
    )


_ALL = (
    _make("customer-name", "the customer's name", "customer.name", _customer("name")),
    _make("customer-address", "the customer's address", "customer.address", _customer("address")),
    _make("customer-telephone", "the customer's telephone", "statements"),
    _make(
        "applicator-name",
        "the name of the person who applied",
        "applicator.name crew.*.name",
        _applicator,
    ),
    _make(
        "supervisor-name",
        "the name of the licence holder who answers for the work",
        "supervisor.name applicator.name",
        _supervisor,
    ),
    _make(
        "licence-number",
        "the licence or certificate number",
        "applicator.licences crew.*.licences supervisor",
        _licence_number,
    ),
    _make("business", "the business name and address", "business.name business.address", _business),
    _make("telephone", "the telephone of the business", "business.phone", _telephone),
    _make("authorised-by", "the person who authorised the work", "statements"),
    _make(
        "training-proof",
        "the proof of training, valid on the day, of who applied",
        "applicator.trainings crew.*.trainings",
        _training,
    ),
    _make("instructions", "the instructions to helpers", "statements"),
    _make("insurer", "the liability insurance and the insurer", "statements"),
    _make("date", "the date", "finished_at started_at", _day),
    _make(
        "time-of-day",
        "the time of day",
        "started_at finished_at",
        _times("started_at", "finished_at"),
    ),
    _make("start-time", "the start time", "started_at", _times("started_at")),
    _make("finish-time", "the finish time", "finished_at", _times("finished_at")),
    _make("product-name", "the product name", "products.*.name", _lines(lambda p: p.name, "name")),
    _make(
        "registration-number",
        "the registration number",
        "products.*.registration_number",
        _lines(lambda p: p.registration_number, "registration_number"),
    ),
    _make(
        "active-ingredient",
        "the active ingredient",
        "products.*.label.ingredients",
        _of_label(_ingredients, "ingredients"),
    ),
    _make("product-supplier", "who supplied the product", "statements"),
    _make(
        "label-company",
        "the company on the label",
        "products.*.registrant",
        _lines(lambda p: p.registrant, "registrant"),
    ),
    _make("formulation", "the formulation", "statements"),
    _make(
        "strength",
        "the strength of the product",
        "products.*.label.ingredients",
        _of_label(_strengths, "ingredients"),
    ),
    _make("product-class", "the class of the product, restricted or not", "statements"),
    _make(
        "rate",
        "the rate per unit area",
        "products.*.total_used treated_area products.*.planned_rate",
        _rate,
    ),
    _make("active-rate", "the active ingredient per unit area", "statements"),
    _make("below-label-rate", "the note whether less than the label rate was used", "statements"),
    _make(
        "product-total",
        "the total of undiluted product",
        "products.*.total_used",
        _lines(lambda p: _words(p.total_used), "total_used"),
    ),
    _make(
        "dilution",
        "the dilution or concentration",
        "loads products.*.planned_rate planned_carrier statements",
        _dilution,
    ),
    _make("mix-volume", "the volume of spray mix", "planned_carrier mix_used", _mix),
    _make(
        "tank-mix", "the tank-mix partners and additives", "products.*.name statements", _tank_mix
    ),
    _make("target", "the target pest or purpose", "products.*.target purpose", _target),
    _make(
        "crop",
        "the crop or site",
        "crop.name",
        _crop(lambda crop: crop.name, "crop.name"),
    ),
    _make(
        "crop-code",
        "the crop's EPPO code",
        "crop.eppo_code",
        _crop(lambda crop: crop.eppo_code, "crop.eppo_code"),
    ),
    _make("crop-variety", "the variety of the crop", "statements"),
    _make(
        "growth-stage",
        "the growth stage or planting date",
        "crop.growth_stage_bbch crop.planted_on",
        _crop(_stage, "crop.growth_stage_bbch"),
    ),
    _make(
        "location-description",
        "where the place is",
        "field.locations field.boundary",
        _location(structured=False),
    ),
    _make(
        "location-structured",
        "the place by grid, map, outline or parcel",
        "field.locations field.boundary",
        _location(structured=True),
    ),
    _make("county", "the county, and the town where there is one", "statements"),
    _make(
        "government-id",
        "the government number of the field",
        "field.locations statements",
        _parcel,
    ),
    # A number of its own: what is entered for the field does not answer it, nor the other way.
    _make("operator-id", "the government number of the operator", "statements"),
    _make("treated-area", "the treated area", "treated_area", _record("treated_area")),
    _make("planted-size", "the planted size of the whole site", "field.planted_size", _planted),
    _make("wind-direction", "the wind direction", "weather.*.wind_from", _weather("wind_from")),
    _make("wind-speed", "the wind speed", "weather.*.wind_speed", _weather("wind_speed")),
    _make(
        "repeat-wind",
        "a repeated wind reading",
        "weather.*.wind_speed statements",
        _weather("wind_speed", at_least=2),
    ),
    _make(
        "air-temperature", "the air temperature", "weather.*.temperature", _weather("temperature")
    ),
    _make(
        "other-weather",
        "humidity, rain or other weather",
        "weather.*.humidity weather.*.cloud statements",
        _other_weather,
    ),
    _make(
        "hourly-wind",
        "the wind in every hour of the work",
        "weather.*.wind_from weather.*.wind_speed",
        _hourly_wind,
    ),
    _make(
        "start-finish-weather",
        "the wind and temperature at the start and at the finish",
        "weather.*.wind_from weather.*.wind_speed weather.*.temperature statements",
        _start_and_finish,
    ),
    _make(
        "application-method",
        "the application method",
        "rig pattern statements",
        _of_rig(
            lambda s, _: msg("ground rig, {pattern}", pattern=term(s.record.pattern)), "pattern"
        ),
    ),
    _make("equipment", "the equipment", "rig.name rig.plate", _of_rig(_rig_words, "rig.name")),
    _make("nozzle", "the nozzle", "nozzle.name", _nozzle),
    _make(
        "use-type",
        "the type of use",
        "rig pattern statements",
        _of_rig(
            lambda s, _: msg("on an area, {pattern}", pattern=term(s.record.pattern)), "pattern"
        ),
    ),
    _make("pressure", "the spray pressure", "pressure", _record("pressure")),
    _make("buffer", "the buffer kept", "statements"),
    _make("neighbour-check", "the check of neighbours and sensitive crops", "statements"),
    _make("clean-out", "the tank clean-out", "statements"),
    _make(
        "reentry-interval",
        "the re-entry interval",
        "products.*.label.reentry_hours",
        _of_label(_reentry, "reentry_hours"),
    ),
    _make(
        "reentry-time",
        "the time from which the field may be entered again",
        "products.*.label.reentry_hours finished_at statements",
        _entry_time,
    ),
    _make(
        "worker-warning",
        "the warning of workers that the label asks",
        "products.*.label.worker_warning",
        _of_label(_warning, "worker_warning"),
    ),
    _make("farm-contact", "who on the farm was told before the work, and when", "statements"),
    _make("precautions", "the precautions after the work", "statements"),
    _make(
        "preharvest-interval",
        "the pre-harvest interval",
        "products.*.label.preharvest_days",
        _of_label(_preharvest, "preharvest_days"),
    ),
    _make("rinsate-note", "the note on rinsate, spills and incidents", "statements"),
    _make("mixing-place", "the mixing and loading place", "statements"),
    _make("permit-number", "the spray permit number", "statements"),
    _make("field-order", "the order of fields from one load", "loads.*.order statements", _order),
    _make("purchase-receipts", "the purchase receipts and the label copy", "statements"),
    _make("label-copy", "the copy of the label", "statements"),
    _make("data-sheet", "the safety data sheet", "statements"),
    _make("worker-limits", "the other limits of the label for workers", "statements"),
    _make("guarantee", "the end of a guarantee", "statements"),
)

ELEMENTS: dict[str, Element] = {one.name: one for one in _ALL}
"""Every element by its neutral name, in the order in which a record states them."""

STATED: tuple[str, ...] = tuple(one.name for one in _ALL if one.stated)
"""The names under which a person may state an element in `RecordFacts.statements`."""
