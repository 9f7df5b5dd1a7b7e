"""Cells of a spreadsheet: text that must not be taken for a formula, and back again."""

from __future__ import annotations

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "'")


def guarded(cell: str) -> str:
    """Return the cell as a spreadsheet takes it for text.

    Source: OWASP, "CSV Injection": an apostrophe before what begins with one of these; and before
    an apostrophe, so that `plain` gives back every text.
    """
    return f"'{cell}" if cell.startswith(FORMULA_STARTS) else cell


def without_guard(cell: str) -> str:
    """Return what `neutral` was given; a cell that a person typed comes back as it stands."""
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(FORMULA_STARTS) else cell
