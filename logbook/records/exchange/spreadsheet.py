"""A spreadsheet of records as the CSV that `columns` reads."""

from __future__ import annotations

import csv
import io

from django.utils.translation import gettext as _

from logbook.catalog.sheets.reading import gathered
from logbook.errors.exceptions import Refused
from logbook.tables.cells import guarded
from logbook.uploads import read_confined


def as_text(raw: bytes, *, most_records: int) -> bytes:
    """Return the file as `import_records` takes it: JSON and our own CSV as they came.

    An XLSX file, or a CSV in another encoding or with another separator, becomes that CSV; its rows
    keep their numbers as long as no cell has several lines.

    Raises: Refused if it cannot be read, or if there are far more rows than records are taken.
    """
    table = gathered(read_confined("records", raw)) if raw else None
    if table is None:
        return raw
    if len(table.rows) > 20 * most_records:
        raise Refused(
            _("The file has %(rows)s rows; at most %(most)s records are taken at once.")
            % {"rows": len(table.rows), "most": most_records}
        )
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(table.head)
    width, line = len(table.head), 1
    for number, cells in table.rows:
        while line + 1 < number:
            out.write("\r\n")
            line += 1
        trimmed = [cell for cell in cells[width:] if cell]
        row = [*cells[:width], *[""] * (width - len(cells)), *trimmed]
        writer.writerow([guarded(cell.strip()) for cell in row])
        line = number
    return out.getvalue().encode()
