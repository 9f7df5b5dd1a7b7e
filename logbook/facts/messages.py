"""Sentences that are plain English and remember how they were made, so a page can translate them.

A `Message` is a `str`: seals, paper, exports and comparisons see the English text and nothing else.
It carries its template and the values in it, and `rendered` tells it again with another template
and with the values as another locale writes them. A sentence is in one language whole or not at
all: never put a `Message` into an f-string, whose result has forgotten how it was made. A place
with the format "begin" gives what stands in it a capital, as at the beginning of a sentence.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

Translate = Callable[[str], str]
Show = Callable[[Any, str], str]


class Message(str):
    """A text in English, with the template and the values that it was made of."""

    __slots__ = ("template", "values")

    template: str
    values: Mapping[str, Any]

    def __new__(cls, template: str, values: Mapping[str, Any] | None = None) -> Message:
        made = super().__new__(cls, template.format(**values) if values else template)
        made.template = template
        made.values = values or {}
        return made

    def __reduce__(self) -> tuple[type[Message], tuple[str, Mapping[str, Any]]]:
        return Message, (self.template, self.values)

    def __format__(self, how: str) -> str:
        return _begun(str(self)) if how == "begin" else format(str(self), how)

    def __add__(self, other: str) -> Message:
        return joined("", (self, other))

    def __radd__(self, other: str) -> Message:
        return joined("", (other, self))


def _begun(text: str) -> str:
    return text[:1].upper() + text[1:]


class Figure(str):
    """A number as text, in its plain form with the point; a page writes it as its locale does."""

    __slots__ = ()


def msg(template: str, **values: Any) -> Message:
    """Return the sentence; the template is what translators see.

    Args: template, a literal (the collector reads the source), with named places such as "{rate}"
        or "{share:.0f}"; without values it is taken as it stands, braces and all.
    """
    return Message(template, values)


def gettext_noop(text: str) -> str:
    """Return `text` itself, marked for translation: a word of the data, told with `term`."""
    return text


def term(text: str) -> Message:
    """Return a word of the data (a class, a likelihood, a sign) as something said.

    The word itself is marked where it stands, or in `facts.terms` where that place may not know of
    languages. A text that a person entered is never told: a product called "mist" stays so.
    """
    return text if isinstance(text, Message) else Message(text)


def with_unit(figure: object, unit: str) -> Message:
    """Return a number with its unit behind it: "17.6 gal/ac"."""
    return Message("{figure} {unit}", {"figure": figure, "unit": unit})


def joined(separator: str, parts: Iterable[str]) -> Message:
    """Return the parts as one text; each is translated by itself."""
    values = {f"part{place}": part for place, part in enumerate(parts)}
    between = separator.replace("{", "{{").replace("}", "}}")
    return Message(between.join(f"{{{name}}}" for name in values), values)


def rendered(text: str, *, translate: Translate, show: Show) -> str:
    """Return a text as another language says it; what is not a `Message` comes back as it is.

    Args: translate, from an English template to the other; show, from a value and its format to how
        it reads there. Texts in the values are told by `show`'s own choice when they are plain.
    """
    if not isinstance(text, Message):
        return show(text, "") if isinstance(text, Figure) else str(text)
    template = translate(text.template) if text.template else ""
    if not text.values:
        return template
    within = {
        name: _Told(value, translate=translate, show=show) for name, value in text.values.items()
    }
    return template.format(**within)


class _Told:
    """A value on its way into a translated template, which may ask for a format."""

    __slots__ = ("show", "translate", "value")

    def __init__(self, value: Any, *, translate: Translate, show: Show) -> None:
        self.value, self.translate, self.show = value, translate, show

    def __format__(self, how: str) -> str:
        if isinstance(self.value, Message):
            text = rendered(self.value, translate=self.translate, show=self.show)
            return _begun(text) if how == "begin" else format(text, how)
        return self.show(self.value, how)

    def __repr__(self) -> str:
        # "{value!r}" quotes what was given; it is nobody's language.
        return repr(self.value)


def to_data(message: Message) -> dict[str, Any]:
    """Return a message as plain JSON: its template and the values in it."""
    values = {name: _value_to_data(value) for name, value in message.values.items()}
    return {"text": message.template, **({"values": values} if values else {})}


def _value_to_data(value: Any) -> Any:
    if isinstance(value, Message):
        return to_data(value)
    if isinstance(value, Figure):
        return {"figure": str(value)}
    if isinstance(value, str | int):
        return value
    raise TypeError(f"{value!r} cannot be kept as part of a message.")


def from_data(data: Mapping[str, Any]) -> Message:
    """Return the message that `to_data` was given."""
    values = data.get("values", {})
    return Message(data["text"], {name: _value_from_data(value) for name, value in values.items()})


def _value_from_data(value: Any) -> Any:
    if not isinstance(value, Mapping):
        return value
    return Figure(value["figure"]) if "figure" in value else from_data(value)


def is_number(value: Any) -> bool:
    """Return whether a value is written with a decimal mark: a number, or one as text."""
    return isinstance(value, (int, float, Decimal, Figure)) and not isinstance(value, bool)


def is_day(value: Any) -> bool:
    """Return whether a value is a day and not an instant."""
    return isinstance(value, date) and not isinstance(value, datetime)
