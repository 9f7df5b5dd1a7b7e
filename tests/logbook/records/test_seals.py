"""Hashes against published vectors, and canonical JSON against its standard's own example."""

from __future__ import annotations

import hashlib
import json

import pytest

from logbook.records.sealing.seals import canonical, leaf_hash, link_hash


def test_the_leaf_hash_is_that_of_rfc_6962() -> None:
    # Leaf hash of "L123456", published in the certificate-transparency and transparency-log
    # reference tests (RFC 6962 hasher vectors).
    expected = "395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56"
    assert leaf_hash("L123456") == expected


def test_the_node_hash_is_that_of_rfc_6962() -> None:
    # Node hash of "N123" and "N456" in the same vectors, over the texts themselves; ours takes
    # hashes, so the domain prefix is what is compared.
    expected = "aa217fe888e47007fa15edab33c2b492a722cb106c64667fc2b044444de66bbb"
    assert hashlib.sha256(b"\x01N123N456").hexdigest() == expected
    left, right = "11" * 32, "22" * 32
    node = hashlib.sha256(b"\x01" + bytes.fromhex(left) + bytes.fromhex(right)).hexdigest()
    assert link_hash(left, right) == node


def test_the_empty_leaf_is_that_of_rfc_6962() -> None:
    # Hash of a leaf of no bytes, same vectors.
    assert leaf_hash("") == "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        # RFC 8785 section 3.2.2 and appendix B.
        (
            {"numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 1e-27]},
            '{"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27]}',
        ),
        ({"literals": [None, True, False]}, '{"literals":[null,true,false]}'),
        # Section 3.2.3: keys sort by UTF-16 code units, so U+1F600 comes before U+FB33.
        (
            {
                "\u20ac": "Euro Sign",
                "\r": "Carriage Return",
                "\ufb33": "Hebrew Letter Dalet",
                "1": "One",
                "\U0001f600": "Emoji",
                "\x80": "Control",
                "\u00f6": "o diaeresis",
            },
            None,
        ),
    ],
)
def test_canonical_json_is_that_of_rfc_8785(value: dict[str, object], text: str | None) -> None:
    if text is not None:
        assert canonical(value) == text
    else:
        order = ["\r", "1", "\x80", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]
        assert list(json.loads(canonical(value))) == order


def test_a_number_that_json_cannot_hold_is_refused() -> None:
    with pytest.raises(ValueError, match=r"nan|NaN|finite"):
        canonical({"x": float("nan")})
