"""The table of what the law asks for: each set, where it stands, and how sure that is."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from logbook.checks.assessment import assess
from logbook.documents.duties import CAUTIONS
from logbook.documents.record import lay_out, render_record
from logbook.facts.duty import Asked, HowRead
from logbook.law.applicability import applicable
from logbook.law.cautions import AUTHORITY_PREVAILS, NOT_LEGAL_ADVICE, source_words
from logbook.law.coverage import no_set_words
from logbook.law.elements import ELEMENTS
from logbook.records.reading import owed
from logbook.sections.lines import document
from tests.logbook.checks.build import given, herbicide, person, q, surfactant
from tests.logbook.documents.reading import Page, has, read, whole
from tests.logbook.documents.sealed import seal
from tests.logbook.law.complete import complete


def text_of(**changes) -> Page:
    return whole(render_record(seal(**changes)))


def test_every_set_that_applies_is_named_with_its_source_and_when_it_was_read():
    text = text_of()
    applied = applicable(given())
    assert {one.duty_set.id for one in applied} >= {"us-nd", "us-40-cfr-170", "us-40-cfr-171-303"}
    for one in applied:
        duty_set = one.duty_set
        has(text, f"{duty_set.title} {source_words(duty_set)}, for Fenland 4 EC.")
    # How and when a text was looked for is for the page: a paper says "last read, how".
    assert "was looked for" not in text


def test_the_state_comes_first_then_the_nation_and_the_label_last():
    asks = (Asked(name="clean-out", how_read=HowRead.LEGAL_TEXT),)
    text = text_of(products__0__label__asks=asks)
    table = text[text.index("Asked for by law and label") :]
    order = ["N.D. Admin. Code", "40 CFR 170.309", "40 CFR 171.303", "Label of Fenland 4 EC, "]
    places = [table.index(one) for one in order]
    assert places == sorted(places)


def test_a_set_of_which_only_a_part_was_read_in_the_text_says_so():
    # N.D. Admin. Code 60-03-01-07(2): the rinsate was read in the text, the list is from memory.
    has(text_of(), "60-03-01-07(2) (legal text, in parts from memory, last read 2026-11-25)")
    # ECL 33-1205 was read whole.
    has(text_of(field__place="US-NY"), "325.25 (legal text, last read 2026-11-27)")


def test_each_element_stands_with_its_value_once():
    # N.D. Admin. Code 60-03-01-07(2), from memory; 40 CFR 170.313: interval and ingredient.
    text = text_of()
    has(
        text,
        "start time (m) 09:00",
        "finish time (m) 12:15",
        "wind speed (m) 8 mph at 09:00, 10:00, 11:00, 12:00",
        "registration number (m) 00000-1",
        "active ingredient (a) inventol",
        "re-entry interval (a) 24 h",
    )
    # The federal set asks for the start too: its name alone, the value stands above.
    has(text, "start time (a) · ", "A name alone: its value stands with it above.")


def test_what_is_known_from_memory_or_a_summary_is_marked_by_a_letter_with_one_legend():
    text = text_of()
    # N.D. Admin. Code 60-03-01-07(2): only the rinsate was read in the text, the list is memory;
    # 40 CFR 171.303(b)(7) in a summary, 170.313 on the agency's page.
    has(text, "wind speed (m)", "customer's address (s)", "start time (a)")
    has(text, "m, known from memory, confirm with your authority")
    has(text, "s, read in a summary, confirm with your authority; m,")
    assert text.count("known from memory") == 1
    has(text, "note on rinsate, spills and incidents none")
    # Only letters that are used are explained.
    assert "advised" not in text


def test_what_is_not_settled_says_so():
    has(text_of(), "equipment (?) Big Green (ABC 123)", "?, whether it is asked is not settled")


def test_a_long_value_is_cut_for_the_record_has_the_whole():
    name = "A very long name of a farm and its partners " * 5
    text = text_of(customer__name=name.strip())
    table = text[text.index("Asked for by law and label") :]
    assert name.strip() in text
    assert name.strip() not in table
    assert "…" in table


def test_until_when_the_record_is_kept_stands_with_the_set_that_decides():
    # N.D. Admin. Code 60-03-01-07: three years, from memory; the federal sets two.
    has(
        text_of(),
        "Kept until 2029-06-10 by North Dakota, 3 years from the application (from memory).",
    )


@pytest.mark.parametrize("size", ["letter", "a4"])
@pytest.mark.parametrize("place", ["US-SD", "US-IA", "FR"])
def test_a_record_of_one_product_with_its_law_takes_one_page(place, size):
    # Common practice, no source: two readings, one load, the signature and the law on one page.
    s = given(
        products=(herbicide(),),
        weather=given().weather[:2],
        loads=given().loads[:1],
        field__place=place,
    )
    (page,) = read(render_record(seal(s, findings=()), paper=size))
    has(page, "Signed by A. Lund", "Asked for by law and label", "Kept until")


def test_a_blank_that_the_law_asks_for_is_missing():
    assert "note on rinsate, spills and incidents missing" in text_of(record__statements={})


def test_a_blank_that_is_known_from_memory_alone_is_blank_and_to_be_confirmed():
    # What is blank is missing; to confirm is about how the wording was read.
    assert "wind speed (m) missing" in text_of(weather=())


def test_an_answer_that_is_a_word_stands_as_the_word():
    stated = {"rinsate-note": "not measured: the tank went back full"}
    text = text_of(record__statements=stated)
    assert "incidents not measured, the tank went back full" in text


def test_what_the_record_cannot_tell_is_to_be_confirmed_if_it_applies():
    # ATCP 29.21(2)(h): each mixing or loading place other than the licensed business site.
    text = text_of(field__place="US-WI")
    has(text, "mixing and loading place (i) missing", "i, asked if it applies")


def test_what_is_only_advised_says_so():
    # The British code of practice (2006) suggests start, finish and wind; the law asks neither.
    text = text_of(field__place="GB-ENG", weather=())
    has(text, "start time (a,adv) 09:00", "wind speed (a,adv) missing", "adv, advised")


def test_what_a_set_does_not_ask_here_is_listed():
    assert "Not asked here: proof of training" in text_of()


def test_a_label_that_asks_is_a_set_of_its_own():
    asks = (Asked(name="clean-out", how_read=HowRead.LEGAL_TEXT),)
    text = text_of(products__0__label__asks=asks)
    has(text, "Label of Fenland 4 EC, edition 2025-01, for Fenland 4 EC. tank clean-out missing")


@pytest.mark.parametrize(("day", "there"), [(10, True), (11, False)])
def test_the_rescinded_federal_part_answers_for_its_own_days_alone(day, there):
    # 7 CFR 110 ended on 11 July 2025 (FR Doc. 2025-08220).
    ended = datetime(2025, 7, day, 17, tzinfo=UTC)
    text = text_of(record__started_at=ended, record__finished_at=ended, weather=())
    assert ("7 CFR 110" in text) is there


def test_the_usual_cautions_stand_below_the_table():
    has(text_of(), NOT_LEGAL_ADVICE, AUTHORITY_PREVAILS)
    assert f"{NOT_LEGAL_ADVICE} {AUTHORITY_PREVAILS}" == CAUTIONS


def test_the_table_stands_below_the_signature():
    text = text_of()
    assert text.index("Signed by A. Lund") < text.index("Asked for by law and label")


def test_a_place_without_a_set_says_so_in_a_line():
    text = text_of(field__place="CA-AB")
    has(text, "Record law: The rules of Alberta are not carried here. Ask your authority.")
    assert "Asked for by law and label" not in text


def test_without_field_or_day_no_law_can_be_named():
    s = given()
    told = "Which law asks for what is said once field and day of the work are entered."
    assert no_set_words(replace(s, field=None)) == told
    blank = replace(s.record, started_at=None, finished_at=None)
    assert no_set_words(replace(s, record=blank)) == told


def test_products_that_no_set_speaks_of_are_said_to_be_so():
    s = given(products=(surfactant(),))
    assert not applicable(s)
    assert no_set_words(s) == "No set that is carried for this place speaks of this record."
    assert "speaks of this record" in text_of(products=(surfactant(),))


def test_a_place_that_is_not_carried_is_said_above_the_federal_table():
    # Idaho (IDAPA 02.03.03.100) asks more than the federal part; Utah has rules too (R68-7-17).
    text = text_of(field__place="US-UT")
    told = "The rules of Utah are not carried here; only US worker protection"
    assert text.index("Asked for by law and label. The rules") < text.index(told)
    assert text.index(told) < text.index("40 CFR 170.309")
    has(text, "stand below. Ask your authority.")
    # 7 U.S.C. 136i-1 asks its four elements where a state has no rule, which is not known here.
    has(text, "product name (n)", "n, asked only where the state has no rule")


def test_every_place_of_every_element_has_a_line_on_the_paper():
    s = complete("US-ND", crew=(person("C. Ruud"),))
    shown = document(s, assess(s))
    paths = {path.replace("*", "0") for one in ELEMENTS.values() for path in one.stands_in}
    assert {path for path in paths if not shown.where(path)} == set()


def test_a_fact_that_is_not_shown_leads_nowhere():
    s = given()
    assert document(s, assess(s)).where("earlier.0") == ""


def test_a_table_longer_than_its_page_goes_on_below():
    long = tuple(replace(herbicide(), product_id=f"p{n}", name=f"Product {n}") for n in range(9))
    sealed = seal(field__place="US-WI", products=long, rig__tank=q("900 gal"))
    sheet = lay_out(sealed, amended_by=(), paper="a4")
    assert len(sheet.pages) >= 3
    assert date(2026, 6, 10) == sealed.snapshot.local_day()


def test_how_notices_and_copies_stood_at_the_printing_is_apart_from_what_is_sealed():
    # Minn. Stat. 18B.37 subd. 2: the record within 5 days; 40 CFR 170.313: told before the start.
    sealed = seal(field__place="US-MN")
    items = owed.items(sealed.snapshot, (), recorded_at=sealed.sealed_at)
    printed = datetime(2026, 8, 1, 12, tzinfo=UTC)
    text = whole(render_record(sealed, items=items, printed_at=printed))
    has(
        text,
        "When this was printed, apart from what is sealed (2026-08-01 07:00 CDT (UTC−05:00)):",
        "notice before: overdue, in time until 2026-06-10 09:00 CDT (UTC−05:00) (US worker prot",
        "record: given 2026-06-10 17:05 CDT (UTC−05:00), done in time",
    )
    assert "When this was printed" not in text_of(field__place="US-MN")
