"""Files that would do harm or could be read in two ways are refused, plainly and at once."""

from __future__ import annotations

import json
import re
import time
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest

from logbook.errors.exceptions import Refused
from logbook.facts.duty import Kind
from logbook.facts.quantity import Absence, Answer, Nothing, Quantity
from logbook.facts.record import LicenceFacts, Snapshot, TrainingFacts
from logbook.records.exchange import reading, strict
from logbook.records.exchange.reading import Reader, Unreadable


class TestBytes:
    def test_a_byte_order_mark_is_no_part_of_the_text(self) -> None:
        assert strict.decoded(b"\xef\xbb\xbf{}", most_bytes=10) == "{}"

    @pytest.mark.parametrize(
        ("raw", "refusal"),
        [
            (b"{\xff}", "not UTF-8: byte 2 fits"),
            (b"\xed\xa0\x80", "not UTF-8: byte 1 fits"),  # A surrogate in UTF-8, RFC 3629.
            (b"", "The file is empty"),
            (b" \n", "The file is empty"),
            (b"x" * 11, "The file has 11 bytes; at most 10 are read"),
        ],
    )
    def test_what_is_no_text_is_refused(self, raw: bytes, refusal: str) -> None:
        with pytest.raises(Refused, match=refusal):
            strict.decoded(raw, most_bytes=10)


class TestJson:
    @pytest.mark.parametrize(
        ("text", "refusal"),
        [
            ("{", "This is not JSON that can be read: Expecting property name"),
            ("{} {}", "Extra data: line 1 column 4"),
            ('{"a": NaN}', "NaN is not a number of JSON"),
            ('{"a": -Infinity}', "-Infinity is not a number of JSON"),
            ('{"a": 1e999}', "1e999 is too large a number"),
            ('{"a": -1E+309}', "-1E.309 is too large a number"),
            ('{"a": ' + "9" * 309 + ".0}", "is too large a number"),
            ('{"a": 1234567890123456}', "1234567890123456 has more than 15 digits"),
            ('{"a": ' + "9" * 100_000 + "}", "has more than 15 digits"),
            ('{"a": 1, "b": 2, "a": 3}', "'a' is given twice in one object"),
            ('{"a": "\\u0000"}', r"\$\.a: a text cannot hold a NUL"),
            ('{"a": ["b", "\\ud800"]}', r"\$\.a\[1\]: a text cannot hold a NUL or half"),
            ('{"\\ud800": 1}', r"\$\.\\ud800: a text cannot hold"),
            ("[" * 100_000, "nested too deep"),
            ("[" * 41 + "]" * 41, "nested too deep"),
            ('{"a":' * 41 + "1" + "}" * 41, "nested too deep"),
        ],
    )
    def test_what_two_readers_read_in_two_ways_is_refused(self, text: str, refusal: str) -> None:
        with pytest.raises(Refused, match=refusal):
            strict.json_value(text)

    def test_a_pair_of_surrogates_is_one_character(self) -> None:
        assert strict.json_value('"\\ud83d\\ude9c"') == "\U0001f69c"

    def test_what_is_plain_comes_back(self) -> None:
        text = '{"a": [1, -2.5, true, null, {"b": "°"}], "c": [[], {}]}'
        assert strict.json_value(text) == json.loads(text)

    def test_many_names_are_looked_through_once(self) -> None:
        names = ",".join(f'"{n}":0' for n in range(200_000))
        begun = time.process_time()
        with pytest.raises(Refused, match="is given twice"):
            strict.json_value("{" + names + ',"199999":1}')
        # Comparing each with each would take minutes.
        assert time.process_time() - begun < 10


class TestCsv:
    def test_rows_have_the_number_of_their_last_line(self) -> None:
        assert strict.csv_rows('a,b\r\n"1\n2",3\r\n\r\n4,5') == [
            (1, ["a", "b"]),
            (3, ["1\n2", "3"]),
            (5, ["4", "5"]),
        ]

    @pytest.mark.parametrize(
        ("text", "refusal"),
        [
            ('a,"b', "Line 1: this is not CSV that can be read"),
            ('a,"b"c\r\n', "Line 1: this is not CSV that can be read"),
            ("a,b\0c", "The file holds a NUL"),
            ("x" * 200_000, "Line 1: .*field larger than field limit"),
            ("," * 300, "At most 100,000 rows of 200 columns"),
            ("a\n" * 100_002, "At most 100,000 rows of 200 columns"),
        ],
    )
    def test_what_is_no_csv_is_refused(self, text: str, refusal: str) -> None:
        with pytest.raises(Refused, match=refusal):
            strict.csv_rows(text)


def refused(kind: Any, data: Any) -> str:
    """Return what a reader says of data that it does not take."""
    reader = Reader()
    with pytest.raises(Unreadable):
        reader.read(kind, data, "$")
    return "\n".join(map(str, reader.problems))


class TestReading:
    @pytest.mark.parametrize(
        ("kind", "data", "value"),
        [
            (str, "", ""),
            (int, -240, -240),
            (float, 3, 3.0),
            (float, 3.5, 3.5),
            (bool, False, False),
            (Decimal, "-0.50", Decimal("-0.50")),
            (date, "2026-06-12", date(2026, 6, 12)),
            (datetime, "2026-06-12T09:30:00-05:00", datetime(2026, 6, 12, 14, 30, tzinfo=UTC)),
            (datetime, "2026-06-12T14:30Z", datetime(2026, 6, 12, 14, 30, tzinfo=UTC)),
            (Answer, None, None),
            (Answer, {"value": "7.90", "unit": "mph"}, Quantity(Decimal("7.90"), "mph")),
            (Answer, {"nothing": "none"}, Nothing(Absence.NONE)),
            (
                Answer,
                {"nothing": "not measured", "reason": "dark"},
                Nothing(Absence.NOT_MEASURED, "dark"),
            ),
            (Quantity | None, None, None),
            (tuple[str, ...], ["a", "b"], ("a", "b")),
            (dict[str, str], {"a": "b"}, {"a": "b"}),
            (Kind, "copy", Kind.COPY),
        ],
    )
    def test_values_are_read_by_their_type(self, kind: Any, data: Any, value: Any) -> None:
        reader = Reader()
        assert reader.read(kind, data, "$") == value
        assert not reader.failed

    @pytest.mark.parametrize(
        ("kind", "data", "told"),
        [
            (str, 7, "$: 7: a text is needed here."),
            (str, "x" * 20_001, "20001 characters are too many; at most 20000"),
            (int, True, "$: true: a whole number is needed"),
            (int, 1.5, "$: 1.5: a whole number is needed"),
            (int, 2**31, "$: 2147483648: at most 2147483647 is possible"),
            (float, "1", '$: "1": a number is needed'),
            (float, True, "$: true: a number is needed"),
            (bool, 1, "$: 1: true or false is needed"),
            (Decimal, 1.5, "$: 1.5: a decimal is written as a text"),
            (Decimal, "1e5", 'a decimal is written as a text such as "12.5"'),
            (Decimal, "1" * 13, "at most 12 digits before and 12 after"),
            (Decimal, "١٢", "a decimal is written as a text"),
            (date, "2026-02-30", '$: "2026-02-30": '),
            (date, "20260612", "a day of the years 1990 to 2200"),
            (date, "1989-12-31", "a day of the years 1990 to 2200"),
            (datetime, "2026-06-12T09:30:00", "with its offset from UTC"),
            (datetime, "0001-01-01T00:00:00+14:00", "a time of the years 1990 to 2200"),
            (datetime, "2200-12-31T23:59:59-12:00", "a time of the years 1990 to 2200"),
            (datetime, "9999-12-31T23:59:59-12:00", "a time of the years 1990 to 2200"),
            (datetime, "2026-06-12T25:00:00Z", '$: "2026-06-12T25:00:00Z": '),
            (Answer, "7.9 mph", 'a quantity is written {"value": "12.5"'),
            (Answer, {"value": "7.9"}, "a quantity is written"),
            (Answer, {"value": "7.9", "unit": ["mph"]}, "$.unit: "),
            (Answer, {"value": "7.9", "unit": "knots"}, '$.unit: "knots": allowed are L/ha'),
            (Answer, {"nothing": "dunno"}, "allowed are none, not applicable, not measured"),
            (Answer, {"nothing": "not measured"}, '"not measured" needs the reason'),
            (Quantity, None, "a quantity is written"),
            (tuple[str, ...], "ab", "a list is needed here"),
            (tuple[str, ...], ["a"] * 2_001, "2001 items are too many; at most 2000"),
            (tuple[str, ...], ["a", 1, 2], "$[1]: 1: a text is needed here.\n$[2]: 2: a text"),
            (dict[str, str], [], "an object is needed here"),
            (dict[str, str], {"a": 1}, "$.a: 1: a text is needed"),
            (dict[str, Any], [], "a GeoJSON Polygon or MultiPolygon is needed"),
            (dict[str, Any], {"type": "Point"}, "shape.type"),
            (Kind, "kopy", "allowed are record, notice before"),
            (Kind, [], "allowed are record"),
            (TrainingFacts, 3, "$: 3: an object is needed here"),
            (
                TrainingFacts,
                {"trained_on": "x", "content": "c", "expires_on": None},
                "$.trainer: this member is missing.",
            ),
        ],
    )
    def test_what_is_not_so_is_refused(self, kind: Any, data: Any, told: str) -> None:
        assert told in refused(kind, data)

    def test_a_boundary_of_too_many_corners_or_parts_is_refused_unmeasured(self) -> None:
        corners = {"type": "Polygon", "coordinates": [[[0, 0]] * 5_001]}
        assert "at most 5000 corners" in refused(dict[str, Any], corners)
        parts = {"type": "MultiPolygon", "coordinates": [[[[0, 0]]]] * 51}
        assert "in 50 parts" in refused(dict[str, Any], parts)
        nested: Any = [0]
        for _ in range(30):
            nested = [nested]
        assert "shape" in refused(dict[str, Any], {"type": "Polygon", "coordinates": nested}) or (
            "ring" in refused(dict[str, Any], {"type": "Polygon", "coordinates": nested})
        )

    def test_a_member_that_came_later_takes_its_default(self) -> None:
        reader = Reader()
        with pytest.raises(Unreadable):
            reader.read(Snapshot, {}, "$")
        missing = {problem.place for problem in reader.problems}
        assert "$.record" in missing
        assert not missing & {"$.crew", "$.continues", "$.products", "$.amends"}

    def test_unknown_members_are_told_once_wherever_they_are(self) -> None:
        reader = Reader()
        licence = {
            "number": "C-1",
            "authority": "State",
            "place": "US-ND",
            "categories": [],
            "certified": True,
            "valid_from": "2026-01-01",
            "expires_on": "2028-01-01",
            "colour": "blue",
        }
        found = reader.read(tuple[LicenceFacts, ...], [licence, licence], "$.licences")
        assert len(found) == 2
        assert list(reader.unknown) == ["$.licences[].colour"]

    def test_what_stands_there_is_shown_shortened(self) -> None:
        assert reading.excerpt("x" * 200) == '"' + "x" * 76 + "…"

    def test_the_patterns_of_the_schema_are_those_of_the_reader(self) -> None:
        assert re.fullmatch(reading.INSTANT, "2026-06-12T09:30:00.123456-05:00")
        assert not re.fullmatch(reading.INSTANT, "2026-06-12 09:30:00Z")
