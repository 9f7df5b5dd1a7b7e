"""The form of a draft as the page draws it: rows in the order of the work, each with its margin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from django.forms import BoundField, Form
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.checks.core import Finding
from logbook.facts.quantity import Absence, Quantity
from logbook.facts.sets import BY_COLUMN, OF_A_LINE, OF_A_RECORD
from logbook.facts.spec import Fact, Section, entered
from logbook.localization.locale import format_number, translate_word
from logbook.quantities.inputs import AnswerFormField, StatementField
from logbook.records.writing.draftforms import DraftForms
from logbook.records.writing.forms import STATEMENT
from logbook.records.writing.help import HELP, Help
from logbook.records.writing.inputs import PART
from logbook.sections.document import Margin
from logbook.web.present import Mark, Noted, carried_over, carried_words, mark_at

ASKED = gettext_lazy(
    "What the law of this place or a label asks beyond the lines above. “None” and "
    "“not applicable” are answers; a blank is not."
)
NOT_ASKED = gettext_lazy(
    "Nothing beyond the lines above, as far as field, day and products are entered."
)

LINES = {one.column: one for holder in OF_A_LINE.values() for one in entered(holder).values()}
PART_PUT_IN = gettext_lazy(
    "Of this product in this whole load, undiluted, as measured out. Wear what its label names for "
    "mixing and loading."
)


@dataclass(frozen=True, kw_only=True)
class Row:
    """One input: what stands beside it in the margin, and the same in the other unit system."""

    bound: BoundField
    path: str
    mark: Mark | None
    other: str
    name: str = ""
    fact: Fact | None = None
    sent: bool = True
    carried: str = ""  # where the value was taken over from, while nobody touched or confirmed it

    @property
    def help(self) -> str | Promise:
        """What the quantity means, how it is read and what to mind; "" where that is plain."""
        if self.name.startswith(PART):
            return PART_PUT_IN
        return _(self.fact.help) if self.fact and self.fact.help else ""

    @property
    def anchor(self) -> str:
        """The id of the row on the page."""
        return f"row-{self.bound.html_name}"

    @property
    def target(self) -> str:
        """The id that a link to this row goes to: its input, so that it has the focus."""
        # An answer is several inputs, of which the number is the first.
        several = getattr(self.bound.field.widget, "widgets", ())
        first = f"{self.bound.auto_id}_0" if several else self.anchor
        return self.bound.id_for_label or first


@dataclass(frozen=True, kw_only=True)
class Block:
    """One product, load or reading: its rows and the prefix of their names."""

    title: str
    prefix: str
    rows: list[Row]
    errors: list[str] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class FormSection:
    """One section of the form."""

    id: str
    title: str
    rows: list[Row] = field(default_factory=list)
    more: list[Row] = field(default_factory=list)
    more_title: str = ""
    blocks: list[Block] = field(default_factory=list)
    adds: str = ""
    add_title: str = ""
    drop: str = ""  # the word of the box that takes a block out
    count: int = 0
    hint: str = ""
    carried: str = ""

    @property
    def help(self) -> tuple[Help, ...]:
        """The words of the section that no input bears and a newcomer may ask about."""
        return HELP.get(self.id, ())

    @property
    def more_open(self) -> bool:
        """Whether what is seldom needed holds something to look at."""
        return any(row.carried or row.bound.errors for row in self.more)


Typed = tuple[str, list[tuple[str, str]]]
"""A title, and beneath it the labels of inputs with what stood in them."""


def written(form: Form, title: str = "") -> list[Typed]:
    """Return what stands in the inputs of a form, for a person to read and copy."""
    return _filled(title, [(str(one.label), one) for one in form.visible_fields()])


def _filled(title: str, inputs: list[tuple[str, BoundField]]) -> list[Typed]:
    found = [(label, text) for label, one in inputs if (text := _words_of(one))]
    return [(title, found)] if found else []


def _words_of(bound: BoundField) -> str:
    """Return what stands in an input as words: of a choice its name, of an answer its parts."""
    sent = bound.value()
    parts = [str(part or "").strip() for part in (sent if isinstance(sent, list) else [sent])]
    if isinstance(bound.field, AnswerFormField) and not parts[0] and parts[1] not in set(Absence):
        parts[1] = ""  # A unit alone stood ready; nobody wrote it.
    names = {str(code): str(name) for code, name in getattr(bound.field, "choices", ()) if code}
    between = ", "
    if isinstance(bound.field, AnswerFormField | StatementField):
        names = {one.value: translate_word(one.value) for one in Absence}
        between = ": " if set(parts) & set(Absence) else " "
    return between.join(names.get(part, part) for part in parts if part)


def _sent(rows: list[Row]) -> list[tuple[str, BoundField]]:
    return [(str(one.bound.label), one.bound) for one in rows if one.sent]


SHELF_OF = {"field": "fields", "rig": "rigs"}
"""The lists of the shelf on which facts of a record are written."""


class FormView:
    """All rows of the form, with the marks of the margin."""

    def __init__(self, forms: DraftForms, margin: Margin) -> None:
        self._forms, self._margin = forms, margin
        self._prefixes = forms.path_prefixes()
        record_form = forms.record_form
        self.errors = list(record_form.non_field_errors())
        self.carried = carried_over(forms.record.carried)
        self.sections = [
            self._section("where"),
            self._section(
                "what",
                lines="products",
                add_title=_("another product"),
                names=_("product %(number)s"),
                drop=_("Remove this product when saved"),
            ),
            self._section("with", more_title=_("Pulse width, density, bands and rows")),
            self._section(
                "when",
                more_title=_("Several applicators, or a job resumed"),
                hint=_("Times are the clock at the field (%(zone)s).")
                % {"zone": forms.record.time_zone},
            ),
            self._section(
                "weather",
                lines="weather",
                add_title=_("another reading"),
                names=_("reading %(number)s"),
                drop=_("Remove this reading when saved"),
            ),
            self._section("amounts"),
            self._section(
                "loads",
                lines="loads",
                add_title=_("another load"),
                names=_("load %(number)s"),
                drop=_("Remove this load when saved"),
            ),
            self._section(
                "asked",
                rows=self._rows(
                    record_form, *(f"{STATEMENT}{name}" for name in record_form.statements)
                ),
                hint=str(ASKED if record_form.statements else NOT_ASKED),
            ),
            self._section("notes", rows=self._rows(record_form, "amend_reason")),
        ]

    def _section(self, id_: str, *, rows: Sequence[Row] = (), **shown: Any) -> FormSection:
        """Return a section with the inputs of its facts, those seldom needed folded."""
        form, section = self._forms.record_form, Section[id_.upper()]
        facts = [one for one in OF_A_RECORD if one.section is section]
        inputs = {
            folded: self._rows(form, *(one.column for one in facts if one.folded is folded))
            for folded in (False, True)
        }
        found = FormSection(
            id=id_,
            title=_(section.value),
            rows=[*rows, *inputs[False]],
            more=inputs[True],
            more_title=shown.get("more_title", ""),
            hint=shown.get("hint", ""),
        )
        return replace(found, **self._blocks(**shown)) if "lines" in shown else found

    def all_rows(self) -> list[Row]:
        """Return every row of the form."""
        return [
            row
            for section in self.sections
            for row in [
                *section.rows,
                *section.more,
                *(row for block in section.blocks for row in block.rows),
            ]
        ]

    def written(self) -> list[Typed]:
        """Return what stands in the inputs that were sent, section by section."""
        found: list[Typed] = []
        for section in self.sections:
            found += _filled(section.title, _sent([*section.rows, *section.more]))
            for block in section.blocks:
                found += _filled(f"{section.title}, {block.title}", _sent(block.rows))
        return found

    def addressed(self, findings: tuple[Finding, ...]) -> list[Noted]:
        """Return each finding with its mark and the address of the input it is about."""
        anchors = {row.path: row.target for row in self.all_rows()}
        return [
            Noted(
                mark=Mark(kind=f.mark),
                finding=f,
                address=(
                    f"#{anchors[f.about]}"
                    if f.about in anchors
                    else self._on_shelf(f.about) or f"#{self._nearest(f.about, anchors)}"
                ),
            )
            for f in findings
        ]

    def _on_shelf(self, about: str) -> str:
        """Return the address of the form of the shelf's row whose fact it is; "" if it is none."""
        of, _, fact = about.partition(".")
        row_id = getattr(self._forms.record, f"{of}_id") if fact and of in SHELF_OF else None
        return reverse("shelf-edit", args=[SHELF_OF[of], row_id]) if row_id else ""

    def _nearest(self, about: str, anchors: dict[str, str]) -> str:
        """Return the anchor of the section for a finding about no single input."""
        top = about.split(".")[0]
        return next(
            (anchor for path, anchor in anchors.items() if path.split(".")[0] == top),
            {
                "products": "section-what",
                "loads": "section-loads",
                "catch_test": "section-with",
                "statements": "section-asked",
            }.get(top, f"section-{top}" if top == "weather" else "section-where"),
        )

    def _rows(self, form: Form, *names: str) -> list[Row]:
        return [self._row(form, name) for name in names if name in form.fields]

    def _row(self, form: Form, name: str) -> Row:
        one = LINES.get(name) if form.prefix else BY_COLUMN.get(name)
        fact = one.path if one else name
        if name.startswith(STATEMENT):
            fact = f"statements.{name.removeprefix(STATEMENT)}"
        above = self._prefixes.get(form.prefix or "")
        path = f"{above}.{fact}" if above else fact if not form.prefix else f"{form.prefix}.{fact}"
        bound = form[name]
        # Both stand beside the input; a refusal may come there after the page was drawn.
        beside = f"error-{bound.html_name}"
        if bound.help_text:
            beside = f"help-{bound.html_name} {beside}"
        bound.field.widget.attrs["aria-describedby"] = beside
        answer = (
            form.cleaned_data.get(name)
            if form.is_bound and form.is_valid()
            else form.initial.get(name)
        )
        other = format_number(answer.other) if isinstance(answer, Quantity) else ""
        source = None if form.prefix else self._forms.record.carried.get(name)
        return Row(
            bound=bound,
            path=path,
            mark=mark_at(self._margin, path),
            other=other,
            name=name,
            fact=one,
            sent=name not in getattr(form, "absent", ()),
            carried=carried_words(source) if source else "",
        )

    def _blocks(self, *, lines: str, add_title: str, names: str, drop: str) -> dict[str, Any]:
        """Return what a section shows of a list of the record: a block for each of its lines."""
        forms = getattr(self._forms, lines)
        blocks = [
            Block(
                title=names % {"number": place},
                prefix=str(form.prefix),
                rows=self._rows(form, *form.fields),
                errors=list(form.non_field_errors()) if form.is_bound else [],
            )
            for place, form in enumerate(forms, start=1)
        ]
        source = self._forms.record.carried.get(lines)
        # Names count on from the highest number in use, so that a dropped row leaves no clash.
        used = [int(str(form.prefix).rsplit("-", 1)[1]) for form in forms]
        return {
            "blocks": blocks,
            "adds": lines,
            "add_title": add_title,
            "drop": drop,
            "count": max(used, default=-1) + 1,
            "carried": carried_words(source) if source else "",
        }
