"""The translations: whole, in step with what is compiled, and with the same places as the English.

Whether the source holds a text that the catalogue does not know is asked by xgettext, in `.ci/run`;
these tests need no gettext tools. polib reads both files independently of Django.
"""

from __future__ import annotations

import re
import string
from pathlib import Path

import polib
import pytest

LOCALE = Path(__file__).parents[2] / "logbook" / "locale"
TEXTS = sorted(LOCALE.glob("*/LC_MESSAGES/django.po"))
OLD_PLACE = re.compile(r"%\(\w+\)[sd]")


@pytest.fixture(params=TEXTS, ids=lambda path: path.parts[-3])
def path(request: pytest.FixtureRequest) -> Path:
    return request.param


def read(path: Path) -> list[polib.POEntry]:
    return [entry for entry in polib.pofile(str(path)) if not entry.obsolete]


def said_in(entry: polib.POEntry) -> list[tuple[str, str]]:
    """Return the pairs of English and translation, every plural form with its English."""
    if not entry.msgid_plural:
        return [(entry.msgid, entry.msgstr)]
    return [
        (entry.msgid if form == 0 else entry.msgid_plural, text)
        for form, text in entry.msgstr_plural.items()
    ]


def places(text: str) -> set[tuple[str, str]]:
    """Return the places of a template of `str.format`, each with its conversion and format."""
    return {
        (f"{name}!{conversion}", how or "")
        for _, name, how, conversion in string.Formatter().parse(text)
        if name is not None
    }


def test_spanish_is_there() -> None:
    assert [one.parts[-3] for one in TEXTS] == ["es"]


def test_nothing_is_untranslated_or_guessed(path: Path) -> None:
    lacking = [entry.msgid for entry in read(path) if entry.fuzzy or not entry.translated()]
    assert lacking == []


def test_what_is_compiled_says_what_the_text_says(path: Path) -> None:
    compiled = {
        (entry.msgid, entry.msgid_plural): (entry.msgstr, entry.msgstr_plural)
        for entry in polib.mofile(str(path.with_suffix(".mo")))
    }
    written = {
        (entry.msgid, entry.msgid_plural): (entry.msgstr, entry.msgstr_plural)
        for entry in read(path)
    }
    assert compiled == written


def test_both_languages_have_the_same_places(path: Path) -> None:
    differ = []
    for entry in read(path):
        for english, text in said_in(entry):
            old = set(OLD_PLACE.findall(english)) != set(OLD_PLACE.findall(text))
            # A text with a JSON example, or about braces, has no places: it is taken as it stands.
            as_it_stands = '{"' in english or "{ " in english
            new = "{" in english and not as_it_stands and places(english) != places(text)
            if old or new:
                differ.append((english, text))
    assert differ == []


def test_a_text_begins_and_ends_as_its_english_does(path: Path) -> None:
    """Texts are put together: a blank, a point or a colon that lacks would be seen."""
    differ = [
        (english, text)
        for entry in read(path)
        for english, text in said_in(entry)
        if edges(english) != edges(text)
    ]
    assert differ == []


def edges(text: str) -> tuple[bool, bool, str]:
    last = text.rstrip()[-1:]
    return text[:1] == " ", text[-1:] == " ", last if last in ".:;" else ""


def test_no_text_addresses_the_reader_as_a_friend(path: Path) -> None:
    """The glossary asks for "usted"; these forms of "tú" are the ones that slip in."""
    friend = re.compile(r"\b(tú|tu|tus|puedes|debes|tienes|quieres|ingresa)\b", re.I)
    assert [e.msgstr for e in read(path) if friend.search(e.msgstr)] == []
