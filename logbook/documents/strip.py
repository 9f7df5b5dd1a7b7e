"""The rate strip: the label's band, the planned rate and the delivered rate on one scale.

Its words are those of the language at hand; paper is made in plain English.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from calc.verdict import Verdict
from logbook.checks.assessment import RateLine
from logbook.documents.drawing import (
    Box,
    Circle,
    Drawing,
    Labels,
    Line,
    Shape,
    Text,
    box_of,
    hatch,
    inside,
    text_width,
)
from logbook.facts.messages import Message, gettext_noop, joined, msg, term, with_unit
from logbook.facts.record import BusinessFacts
from logbook.facts.wording import as_given, three
from logbook.localization.locale import format_number, localized
from logbook.sections.lines import asked
from logbook.sections.phrases import percent

ROOM = 0.15
"""Empty scale beyond the outermost number at each end, as a share of what is shown."""

LEAST_SPAN = 0.15
"""The least scale to each side of the middle, as a share of the greatest number."""

LEGEND = (
    "Hatched: what the label allows. Tick: planned. Dot and whisker: delivered, with its doubt."
)


@dataclass(frozen=True, slots=True)
class Scale:
    """Where a rate stands on the strip."""

    low: float
    high: float
    left: float
    right: float

    def at(self, value: float) -> float:
        """Return the x of a rate."""
        return self.left + (value - self.low) / (self.high - self.low) * (self.right - self.left)


def scale_of(line: RateLine, *, left: float, right: float) -> Scale | None:
    """Return the scale that shows every figure of a line; None if the line has none."""
    shown = [each for each in (line.planned, line.label_min, line.label_max) if each is not None]
    if line.delivered is not None:
        shown += whisker(line)
    if not shown:
        return None
    low, high = min(shown), max(shown)
    # A lone number stands in a scale wide enough to show what a whisker of some percent is.
    room = max(ROOM * (high - low), LEAST_SPAN * high - (high - low) / 2.0) or 1.0
    # A band without its other end runs to the edge, and needs an edge to run to.
    below = 2.0 * room if line.label_min is None and line.label_max is not None else room
    above = 2.0 * room if line.label_max is None and line.label_min is not None else room
    return Scale(max(low - below, 0.0), high + above, left, right)


def whisker(line: RateLine) -> tuple[float, float]:
    """Return the ends of the whisker; as far above as below where there is no upper end."""
    delivered = line.delivered or 0.0
    low, high = line.ends or (delivered, delivered)
    return low, 2.0 * delivered - low if high is None else high


def describe(line: RateLine, *, business: BusinessFacts | None = None) -> str:
    """Return the strip in one sentence, for a reader who cannot see it.

    Args: business, whose tolerances the plan was judged by; without it they are not named.
    """
    parts: list[str] = [_delivered(line)]
    unit = line.unit if line.delivered is None else ""
    if line.label_min is None and line.label_max is None:
        parts.append(msg("label sets no rate"))
    else:
        parts.append(msg("label asks {limits}", limits=_in(asked(line), unit)))
    if line.planned is None:
        parts.append(msg("planned rate not given"))
    else:
        parts.append(msg("planned {rate}", rate=_in(as_given(line.planned), unit)))
    said, outcome = joined("; ", parts), outcome_of(line, business=business)
    if not outcome:
        return localized(msg("{said}.", said=said))
    return localized(msg("{said}: {outcome}.", said=said, outcome=outcome))


def _delivered(line: RateLine) -> Message:
    if line.delivered is None:
        return msg("Delivered rate not computed")
    rate = with_unit(three(line.delivered), line.unit)
    if not line.expanded:
        return msg("Delivered {rate}", rate=rate)
    low, high = line.ends or (line.delivered, line.delivered)
    if high is None:
        return msg(
            "Delivered {rate}, {low} or more, without an upper end", rate=rate, low=three(low)
        )
    return msg(
        "Delivered {rate}, between {low} and {high}", rate=rate, low=three(low), high=three(high)
    )


def _in(figures: str, unit: str) -> str:
    return with_unit(figures, unit) if unit else figures


def outcome_of(line: RateLine, *, business: BusinessFacts | None = None) -> str:
    """Return the words for how the delivered rate stands to label and plan; "" if to neither.

    Args: business, whose tolerances the plan was judged by; without it they are not named.
    """
    label, plan = (term(one) if one else "" for one in (line.against_label, line.against_planned))
    near = percent(business.disagree_percent) if business else ""
    if line.at_limit and label != Verdict.UNDECIDED:
        label = msg("{outcome}, {limit}", outcome=label, limit=line.at_limit)
    elif label == Verdict.UNDECIDED:
        label = msg("{outcome}, whether it is within the label", outcome=label)
    if plan == Verdict.UNDECIDED:
        words = gettext_noop("{outcome}, whether it is near enough to the plan")
        if near:
            words = gettext_noop("{outcome}, whether it is within {near} of the plan")
        plan = msg(words, outcome=plan, near=near)
    elif plan in (Verdict.AGREES, Verdict.LOOK_AGAIN) and line.look_again:
        plan = term(Verdict.AGREES.value)
        words = gettext_noop("{outcome}, but not close: look again")
        far = percent(business.look_again_percent) if business else ""
        if near:
            words = gettext_noop("{outcome} within {near}, but more than {far} off: look again")
        plan = msg(words, outcome=plan, near=near, far=far)
    if not label or not plan or label == plan:
        return label or plan
    return msg("label: {label}; plan: {plan}", label=label, plan=plan)


def role_of(line: RateLine) -> str:
    """Return the role in which the delivered rate is drawn."""
    marks = set(line.marks)
    for grave in ("breach", "mismatch"):
        if grave in marks:
            return grave
    outcomes = {line.against_label, line.against_planned} - {""}
    return "agrees" if outcomes == {Verdict.AGREES} and not line.look_again else "ink"


def rate_strip(
    line: RateLine,
    *,
    width: float = 340.0,
    size: float = 12.0,
    gap: float = 1.0,
    business: BusinessFacts | None = None,
) -> Drawing:
    """Return the strip of one line, `width` wide, with numbers of `size`.

    Args: gap, the least space between two numbers of one row, in sizes of the text: a screen's type
    may be wider than the one reckoned with; business, whose tolerances the plan was judged by; the
    description names them.
    """
    told_in_words = describe(line, business=business)
    unit_width = text_width(line.unit, size) + 0.4 * size
    scale = scale_of(line, left=0.0, right=width - unit_width)
    words = gettext_noop("Rate of {subject}, {unit}")
    if line.subject == "carrier":
        words = gettext_noop("Rate of carrier, {unit}")
    title = localized(msg(words, subject=line.subject, unit=line.unit))
    if scale is None:
        text = Text(0.0, size, _("no rate planned, labelled or computed"), size, "quiet")
        return Drawing(width, 1.4 * size, title, told_in_words, (text,))

    top, dot_y, band_top, axis = 0.85 * size, 1.5 * size, 2.05 * size, 2.8 * size
    row = axis + 1.07 * size
    shapes: list[Shape] = [
        *_band(line, scale, top=band_top, bottom=axis, size=size),
        Line(scale.left, axis, scale.right, axis, "rule", 0.07 * size),
        Text(width, axis, line.unit, size, "quiet", "end"),
    ]
    labels = Labels(within=Box(0.0, 0.0, width, 10.0 * size), gap=gap * size)
    if line.planned is not None:
        x = scale.at(line.planned)
        shapes.append(Line(x, dot_y, x, axis + 0.25 * size, "ink", 0.14 * size))
    if line.delivered is not None:
        shapes += _dot(line, line.delivered, scale, y=dot_y, size=size)
        words = localized(msg("delivered {rate}", rate=three(line.delivered)))
        text = Text(scale.at(line.delivered), top, words, size, anchor="middle", bold=True)
    else:
        text = Text(0.0, top, _("delivered: not computed"), size, "quiet")
    labels.put(inside(text, left=0.0, right=width))
    _label_numbers(line, scale, labels, gap=gap * size, y=row, size=size, width=width)
    if line.planned is not None:
        words = localized(msg("planned {rate}", rate=as_given(line.planned)))
        text = inside(
            Text(scale.at(line.planned), row, words, size, anchor="middle"), left=0.0, right=width
        )
        labels.put(text, replace(text, y=row + 1.15 * size))
    bottom = max(box_of(text).bottom for text in labels.texts)
    return Drawing(
        width, max(bottom, axis + 0.3 * size), title, told_in_words, (*shapes, *labels.texts)
    )


def _band(line: RateLine, scale: Scale, *, top: float, bottom: float, size: float) -> list[Shape]:
    if line.label_min is None and line.label_max is None:
        return []
    left = scale.left if line.label_min is None else scale.at(line.label_min)
    right = scale.right if line.label_max is None else scale.at(line.label_max)
    corners = ((left, top), (right, top), (right, bottom), (left, bottom))
    shapes: list[Shape] = [
        *hatch([corners], gap=0.3 * size, width=0.05 * size),
        Line(left, top, right, top, "quiet", 0.07 * size),
    ]
    # The end that the label leaves open has no edge.
    ends = ((line.label_min, left), (line.label_max, right))
    shapes += [Line(x, top, x, bottom, "ink", 0.1 * size) for end, x in ends if end is not None]
    return shapes


def _dot(line: RateLine, delivered: float, scale: Scale, *, y: float, size: float) -> list[Shape]:
    x, role = scale.at(delivered), role_of(line)
    least, most = whisker(line)
    low, high = scale.at(max(least, scale.low)), scale.at(most)
    cap = 0.3 * size
    return [
        Line(low, y, high, y, role, 0.12 * size),
        Line(low, y - cap, low, y + cap, role, 0.12 * size),
        Line(high, y - cap, high, y + cap, role, 0.12 * size),
        Circle(x, y, 0.38 * size, role, "ground", 0.08 * size),
    ]


def _label_numbers(
    line: RateLine,
    scale: Scale,
    labels: Labels,
    *,
    gap: float,
    y: float,
    size: float,
    width: float,
) -> None:
    """Put the numbers of the label under the ends of its band, in one text where it is narrow."""
    low, high = line.label_min, line.label_max
    if low is not None and high is not None:
        words = localized(msg("label {limits}", limits=as_given(low)))
        least = Text(scale.at(low), y, words, size, anchor="middle")
        most = Text(scale.at(high), y, format_number(as_given(high)), size, anchor="middle")
        least, most = (inside(text, left=0.0, right=width) for text in (least, most))
        if box_of(most).left - box_of(least).right >= gap:
            labels.put(least)
            labels.put(most)
            return
    ends = [end for end in (low, high) if end is not None]
    if ends:
        words = localized(msg("label {limits}", limits=asked(line)))
        middle = sum(map(scale.at, ends)) / len(ends)
        shown = Text(middle, y, words, size, anchor="middle")
        labels.put(inside(shown, left=0.0, right=width))
