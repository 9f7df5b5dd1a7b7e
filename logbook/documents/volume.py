"""Signed records bound in one file: a list of contents, then each as it prints by itself.

The same seals in the same order give the same bytes: the file is dated from the last of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from logbook.documents import words
from logbook.documents.file import About, bound
from logbook.documents.ledger import Ledger
from logbook.documents.page import Row, Run, Sheet
from logbook.documents.record import Amended, about_record, lay_out
from logbook.documents.typeface import LETTERS_NOTE
from logbook.localization.locale import plain_english
from logbook.records.sealing.sealed import SealedRecord

Record = tuple[SealedRecord, Sequence[Amended]]
"""A record, and the later ones that correct it, in order."""

TOLD = (
    "Each record is drawn from its seal alone, as when it is printed by itself; how its notices "
    "and copies stood is not here. "
    "Where a record was corrected since, the contents and the record name the one that holds."
)


@plain_english()
def render_volume(records: Sequence[Record], *, paper: str = "letter") -> bytes:
    """Return the PDF of sealed records, at least one, in the order given.

    Args: paper, "letter" or "a4".
    """
    papers = [
        (lay_out(sealed, amended_by=later, paper=paper), about_record(sealed))
        for sealed, later in records
    ]
    about = _about(records)
    lengths = [len(sheet.pages) for sheet, _ in papers]
    # How many pages the contents take shifts the numbers they state, and not how many they take.
    own = len(_contents(records, lengths, before=0, paper=paper).pages)
    contents = _contents(records, lengths, before=own, paper=paper)
    return bound([(contents, about), *papers], about, volume=True)


def _about(records: Sequence[Record]) -> About:
    """Return what the file says of itself, by the seal that was made last."""
    last = max((sealed for sealed, _ in records), key=lambda sealed: sealed.number)
    numbers = sorted(sealed.number for sealed, _ in records)
    count = f"{len(numbers)} record{'s' if len(numbers) > 1 else ''}"
    span = f"no. {numbers[0]} to {numbers[-1]}" if len(numbers) > 1 else f"no. {numbers[0]}"
    return About(
        name="Application records",
        business=last.snapshot.business.name,
        where=(count, span),
        foot=f"last of them by number: no. {last.number}, seal {last.link}",
        subject=f"Spray application records, {span}",
        keywords=("spray application record",),
        software=last.software,
        dated=max(sealed.sealed_at for sealed, _ in records),
    )


def _contents(
    records: Sequence[Record], lengths: Sequence[int], *, before: int, paper: str
) -> Sheet:
    """Return the list of contents; `before` so many pages stand before the first record."""
    sheet = Sheet(paper)
    ledger = Ledger(sheet)
    sheet.section("Contents", keep=40.0)
    shares = (
        *(("No.", 0.08), ("Day", 0.12), ("Field", 0.3), ("Customer", 0.3)),
        *(("Holds", 0.12), ("Page", 0.08)),
    )
    sheet.table(ledger.columns(shares), list(_rows(records, lengths, before)), gap=1.0, ruled=True)
    sheet.y += 4.0
    told = [TOLD, *([LETTERS_NOTE] if sheet.replaced else [])]
    ledger.text(*words.quiet(" ".join(told)), size=sheet.small)
    return sheet


def _rows(records: Sequence[Record], lengths: Sequence[int], before: int) -> Iterator[Row]:
    page = before + 1
    for (sealed, later), length in zip(records, lengths, strict=True):
        facts = sealed.snapshot
        holds = (Run(f"no. {later[-1].number} holds", "breach", True),) if later else (Run("yes"),)
        yield Row(
            (
                (Run(str(sealed.number), bold=True),),
                (Run(words.day_of(facts)),),
                (Run(words.field_name(facts)),),
                (Run(words.customer_name(facts)),),
                holds,
                (Run(str(page)),),
            )
        )
        page += length
