"""The hashes of a chain: each entry's own text, and its link to the entry before it."""

from __future__ import annotations

import hashlib
from typing import Any

import rfc8785

NOTHING_YET = "0" * 64
"""What the first entry of a chain follows."""


def canonical(value: Any) -> str:
    """Return the canonical JSON text of `value` (RFC 8785)."""
    return rfc8785.dumps(value).decode()


def leaf_hash(text: str) -> str:
    """Return SHA-256(0x00 ‖ text) in hex; source: RFC 6962 section 2.1, leaf hash."""
    return hashlib.sha256(b"\x00" + text.encode()).hexdigest()


def link_hash(previous: str, leaf: str) -> str:
    """Return SHA-256(0x01 ‖ previous ‖ leaf) in hex; source: RFC 6962 section 2.1, node hash."""
    return hashlib.sha256(b"\x01" + bytes.fromhex(previous) + bytes.fromhex(leaf)).hexdigest()
