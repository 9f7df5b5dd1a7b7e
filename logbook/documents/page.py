"""Pages that fill from the top: text that wraps, tables that repeat their heads, and their paint.

Everything is laid out as primitives first, so the number of pages is known before the first one is
painted and the layout can be read by a test.
"""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from PIL import Image
from reportlab.lib.utils import ImageReader

from logbook.documents.drawing import Drawing, Line, Rect, Shape, Text
from logbook.documents.marks import mark
from logbook.documents.paint import ink, paint, paint_shape
from logbook.documents.typeface import is_replaced, printable, width

PAPERS = {"letter": (612.0, 792.0), "a4": (595.28, 841.89)}
"""Width and height of the papers, in points."""

BODY, SMALL, TITLE = 7.6, 6.7, 13.0
"""The three sizes of the record's type, in points; a record is to take one page."""

ROOMY = (9.6, 8.2)
"""Body and small type of a paper that has the room."""

LEFT, RIGHT, TOP, BOTTOM = 42.0, 30.0, 46.0, 28.0
"""The margins, in points; the checker's marks stand in the left one."""

PHOTO_PIXELS = 640
"""Of the longer side of a printed picture: 250 to the inch at the size of the annex."""

AFTER_TITLE = 8.0
"""Between the title of a section and the head beside it."""

NBSP = "\u00a0"
"""Keeps a number and its unit on one line."""


class Run(NamedTuple):
    """A piece of text in one role and weight; or the place of a swatch or mark of that role."""

    text: str
    role: str = "ink"
    bold: bool = False
    drawn: str = ""  # "swatch" or "mark": `text` then only keeps its place


Runs = tuple[Run, ...]
Cell = Runs | Drawing


@dataclass(frozen=True, slots=True)
class Laid:
    """A line of text: where each of its pieces begins, from the left of the line."""

    pieces: tuple[tuple[float, Run], ...]
    width: float


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: its place and width on the page, its head.

    by_point: whether the decimal points of its numbers stand under each other; title: of the
    section, where the table is all of it.
    """

    x: float
    width: float
    head: str = ""
    by_point: bool = False
    title: str = ""


@dataclass(frozen=True, slots=True)
class Beside:
    """A mark beside a line: its kind, the number of the finding (0 for none), its right edge.

    Without a kind it says how many more findings there are.
    """

    kind: str
    number: int
    x: float


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table, and the marks that stand beside it.

    A row that spans has one text, small, across all columns; it stays with the row before it.
    """

    cells: tuple[Cell, ...]
    marks: tuple[Beside, ...] = ()
    spans: bool = False


@dataclass(frozen=True, slots=True)
class Bitmap:
    """Square modules, True for ink, on a square of `side` points; for the seal's code."""

    side: float
    rows: tuple[tuple[bool, ...], ...]

    @property
    def width(self) -> float:
        """The width, in points."""
        return self.side

    @property
    def height(self) -> float:
        """The height, in points."""
        return self.side


@dataclass(frozen=True, slots=True)
class Photo:
    """A JPEG, and how large it stands on the page, in points."""

    width: float
    height: float
    jpeg: bytes

    @classmethod
    def within(cls, jpeg: bytes, *, side: float) -> Photo:
        """Return a JPEG made small, to be printed in a square of `side` points."""
        picture = Image.open(io.BytesIO(jpeg), formats=("JPEG",))
        picture.thumbnail((PHOTO_PIXELS, PHOTO_PIXELS))
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=75, optimize=True)
        scale = side / max(picture.size)
        return cls(picture.width * scale, picture.height * scale, out.getvalue())


@dataclass(frozen=True, slots=True)
class Placed:
    """A drawing, bitmap or photo, and where its upper left corner stands on the page."""

    x: float
    y: float
    drawing: Drawing | Bitmap | Photo


OnPage = Shape | Placed


def lead(size: float) -> float:
    """Return the distance between two baselines."""
    return 1.15 * size


def wrap(runs: Iterable[Run], room: float, size: float) -> list[Laid]:
    """Return the lines that runs of text fill, `room` wide; a longer word is broken anywhere."""
    lines: list[Laid] = []
    for words in _paragraphs(runs):
        line = _Filling(size)
        for word in words:
            for piece in _fitting(word, room, size):
                if line.pieces and line.after(piece) > room:
                    lines.append(line.laid())
                    line = _Filling(size)
                line.add(piece)
        lines.append(line.laid())
    return lines


class _Filling:
    """A line that is being filled."""

    def __init__(self, size: float) -> None:
        self.size = size
        self.pieces: list[tuple[float, Run]] = []
        self.end = 0.0

    def after(self, word: list[Run]) -> float:
        space = width(" ", self.size) if self.pieces else 0.0
        return self.end + space + sum(width(run.text, self.size, run.bold) for run in word)

    def add(self, word: list[Run]) -> None:
        if self.pieces:
            x, last = self.pieces[-1]
            self.pieces[-1] = (x, last._replace(text=last.text + " "))
            self.end += width(" ", self.size, last.bold)
        for run in word:
            x, last = self.pieces[-1] if self.pieces else (0.0, Run(""))
            if last.text and last[1:] == run[1:]:
                self.pieces[-1] = (x, last._replace(text=last.text + run.text))
            else:
                self.pieces.append((self.end, run))
            self.end += width(run.text, self.size, run.bold)

    def laid(self) -> Laid:
        return Laid(tuple(self.pieces), self.end)


def _paragraphs(runs: Iterable[Run]) -> list[list[list[Run]]]:
    """Return paragraphs of words of runs: a word may change its role within."""
    paragraphs: list[list[list[Run]]] = [[]]
    glued = False
    for run in runs:
        for number, paragraph in enumerate(run.text.replace("\r\n", "\n").split("\n")):
            if number:
                paragraphs.append([])
                glued = False
            for place, word in enumerate(printable(paragraph).split(" ")):
                glued = glued and not place
                if word:
                    piece = run._replace(text=word)
                    if glued:
                        paragraphs[-1][-1].append(piece)
                    else:
                        paragraphs[-1].append([piece])
                    glued = True
    return paragraphs


def _fitting(word: list[Run], room: float, size: float) -> list[list[Run]]:
    """Return the word, cut into pieces that fit if it is wider than the room."""
    if sum(width(run.text, size, run.bold) for run in word) <= room:
        return [word]
    pieces: list[list[Run]] = []
    end = room
    for run in word:
        for letter in run.text:
            step = width(letter, size, run.bold)
            if end + step > room:
                pieces.append([])
                end = 0.0
            end += step
            last = pieces[-1]
            if last and last[-1][1:] == run[1:]:
                last[-1] = last[-1]._replace(text=last[-1].text + letter)
            else:
                last.append(run._replace(text=letter))
    return pieces


class Sheet:
    """Pages being filled; `y` is how far the present one is, from its upper edge."""

    def __init__(self, paper: str, *, type_sizes: tuple[float, float] = (BODY, SMALL)) -> None:
        self.body, self.small = type_sizes
        self.width, self.height = PAPERS[paper]
        self.left, self.right = LEFT, self.width - RIGHT
        self.bottom = self.height - BOTTOM
        self.pages: list[list[OnPage]] = [[]]
        self.y = TOP
        self.lacking: set[str] = set()  # texts with letters that the type lacks

    @property
    def replaced(self) -> bool:
        """Whether letters are shown by their number, for the type lacks them."""
        return bool(self.lacking)

    @property
    def room(self) -> float:
        """What is left of the page, in points."""
        return self.bottom - self.y

    @property
    def _head_height(self) -> float:
        """The height of the head of a table."""
        return self.small + 3.6

    def put(self, *shapes: OnPage) -> None:
        """Put shapes on the present page."""
        self.pages[-1].extend(shapes)

    def new_page(self) -> None:
        """Begin the next page."""
        self.pages.append([])
        self.y = TOP

    def need(self, height: float) -> None:
        """Begin the next page unless `height` fits on this one."""
        if height > self.room and self.y > TOP:
            self.new_page()

    def section(self, title: str, *, keep: float) -> None:
        """Begin a section: its rule and title, with room for `keep` points below.

        Args: title, "" where a table bears it.
        """
        self.need(lead(self.body) + 5.0 + keep)
        if self.y > TOP:
            self.y += 1.6
        self.put(Line(LEFT - 12.0, self.y, self.right, self.y, "rule", 0.5))
        if title:
            self.y += self.body + 1.4
            self.put(Text(self.left, self.y, title, self.body, bold=True))
        self.y += 2.0

    def table(
        self,
        columns: Sequence[Column],
        rows: Sequence[Row],
        *,
        size: float | None = None,
        gap: float = 2.0,
        ruled: bool = False,
    ) -> None:
        """Put a table, its head on every page that it reaches.

        A row stays together if a page can hold it.
        """
        size = size or self.body
        laid = [self._lay(columns, row, size) for row in rows]
        shifts = [_shift(place, column, rows, size) for place, column in enumerate(columns)]
        head = self._head_height if any(column.head for column in columns) else 0.0
        together = [_together(laid, place) for place in range(len(laid))]
        self.need(head + together[0])
        self._head(columns)
        for place, row in enumerate(laid):
            if self.room < together[place] <= self.bottom - TOP - head:
                self._next_page(columns)
            self._marks(row.marks, row.size)
            first, count = 0, self._lines(row.size)
            while first + count < row.lines:
                self._draw(columns, row.part(first, count), shifts)
                self._next_page(columns)
                first, count = first + count, self._lines(row.size)
            rest = row.part(first, count)
            self._draw(columns, rest, shifts)
            self.y += rest.height
            if _ends_group(laid, place):
                self.y += gap
                if ruled and place + 1 < len(laid):
                    rule = self.y - 0.4 * gap
                    self.put(Line(self.left, rule, self.right, rule, "rule", 0.25))

    def _lines(self, size: float) -> int:
        return int((self.room + 0.01) // lead(size))

    def _next_page(self, columns: Sequence[Column]) -> None:
        self.new_page()
        self._head(columns)

    def _lay(self, columns: Sequence[Column], row: Row, size: float) -> _LaidRow:
        if row.spans:
            size = self.small
            columns = [replace(columns[0], width=columns[-1].x + columns[-1].width - columns[0].x)]
        cells: list[tuple[Laid, ...] | Drawing] = []
        for column, cell in zip(columns, row.cells, strict=True):
            if isinstance(cell, Drawing):
                cells.append(cell)
            else:
                self.lacking |= {run.text for run in cell if is_replaced(run.text)}
                cells.append(tuple(wrap(cell, column.width, size)))
        return _LaidRow(tuple(cells), row.marks, size, row.spans)

    def _head(self, columns: Sequence[Column]) -> None:
        if not any(column.head for column in columns):
            return
        for column in columns:
            x, y = column.x, self.y + self.small
            if column.title:
                self.put(Text(x, y, column.title, self.body, bold=True))
                x += width(column.title, self.body, True) + AFTER_TITLE
            self.put(Text(x, y, column.head, self.small, "quiet"))
        rule = self.y + self._head_height - 2.0
        self.put(Line(columns[0].x, rule, columns[-1].x + columns[-1].width, rule, "rule", 0.25))
        self.y += self._head_height

    def _marks(self, marks: Iterable[Beside], size: float) -> None:
        lower: Counter[float] = Counter()
        for beside in marks:
            middle = self.y + 0.62 * size + lower[beside.x] * lead(size)
            lower[beside.x] += 1
            number = str(beside.number or "")
            if beside.kind:
                self.put(*mark(beside.kind, x=beside.x - 3.0, y=middle, size=0.7 * size))
            else:
                number = f"+{number}"
            self.put(Text(beside.x - 8.5, middle + 0.3 * size, number, self.small, "quiet", "end"))

    def _draw(
        self, columns: Sequence[Column], row: _LaidRow, shifts: Sequence[float | None]
    ) -> None:
        size = row.size
        # A row that spans has fewer cells than there are columns.
        for column, cell, shift in zip(columns, row.cells, shifts, strict=False):
            if isinstance(cell, Drawing):
                self.put(Placed(column.x, self.y, cell))
                continue
            for number, line in enumerate(cell):
                x = column.x
                before = _before_point(line, size)
                if shift is not None and number == 0 and before:
                    x += shift - before
                y = self.y + 0.92 * size + number * lead(size)
                for start, run in line.pieces:
                    self.put(*_drawn(run, x + start, y, size))

    def paint(self, canvas: Any, furniture: Callable[[int, int], Iterable[Shape]]) -> None:
        """Paint all pages; `furniture` gives what each of so many pages carries besides."""
        for number, page in enumerate(self.pages, start=1):
            for shape in (*furniture(number, len(self.pages)), *page):
                if not isinstance(shape, Placed):
                    paint_shape(canvas, shape, left=0.0, top=self.height)
                elif isinstance(shape.drawing, Bitmap):
                    _paint_bitmap(canvas, shape.drawing, left=shape.x, top=self.height - shape.y)
                elif isinstance(shape.drawing, Photo):
                    photo = shape.drawing
                    low = self.height - shape.y - photo.height
                    image = ImageReader(io.BytesIO(photo.jpeg))
                    canvas.drawImage(image, shape.x, low, photo.width, photo.height)
                else:
                    paint(canvas, shape.drawing, x=shape.x, y=self.height - shape.y)
            canvas.showPage()


@dataclass(frozen=True, slots=True)
class _LaidRow:
    cells: tuple[tuple[Laid, ...] | Drawing, ...]
    marks: tuple[Beside, ...]
    size: float
    spans: bool

    @property
    def lines(self) -> int:
        """The lines of the longest text."""
        return max(len(cell) for cell in self.cells if not isinstance(cell, Drawing))

    @property
    def height(self) -> float:
        drawn = max((cell.height for cell in self.cells if isinstance(cell, Drawing)), default=0.0)
        stacked = max(Counter(beside.x for beside in self.marks).values(), default=0)
        return max(max(self.lines, stacked) * lead(self.size), drawn)

    def part(self, first: int, count: int) -> _LaidRow:
        """Return the row cut to some of its lines; drawings and marks stand in its first part."""
        cells: list[tuple[Laid, ...] | Drawing] = []
        for cell in self.cells:
            if isinstance(cell, Drawing):
                cells.append(() if first else cell)
            else:
                cells.append(cell[first : first + count])
        return replace(self, cells=tuple(cells), marks=() if first else self.marks)


def _ends_group(rows: Sequence[_LaidRow], place: int) -> bool:
    """Return whether no row that spans follows."""
    return place + 1 == len(rows) or not rows[place + 1].spans


def _together(rows: Sequence[_LaidRow], place: int) -> float:
    """Return the height of a row with the one that spans below it."""
    below = 0.0 if _ends_group(rows, place) else rows[place + 1].height
    return rows[place].height + below


def _drawn(run: Run, x: float, y: float, size: float) -> Iterable[Shape]:
    """Return a piece of text, or the swatch or mark that it stands for, on its baseline."""
    if run.drawn == "swatch":
        side = 0.66 * size
        return (Rect(x + 0.08 * size, y - side, side, side, run.role, "ink", 0.4),)
    if run.drawn == "mark":
        return mark(run.role, x=x + 0.3 * size, y=y - 0.3 * size, size=0.7 * size)
    return (Text(x, y, run.text, size, run.role, bold=run.bold),)


def _shift(place: int, column: Column, rows: Sequence[Row], size: float) -> float | None:
    """Return how far the decimal point of a column stands from its left edge."""
    if not column.by_point:
        return None
    firsts = (row.cells[place] for row in rows)
    lines = (wrap(cell, column.width, size)[0] for cell in firsts if not isinstance(cell, Drawing))
    return max(_before_point(line, size) for line in lines)


def _before_point(line: Laid, size: float) -> float:
    """Return the width of the digits before the point; 0 for a word."""
    text = line.pieces[0][1].text if line.pieces else ""
    digits = text.split(NBSP)[0].split(" ")[0].split(".")[0]
    return width(digits, size) if digits.lstrip("+-−").isdigit() else 0.0


def _paint_bitmap(canvas: Any, bitmap: Bitmap, *, left: float, top: float) -> None:
    """Paint the modules as an inline image mask: 320 bytes, and no seams between the modules."""
    count = len(bitmap.rows)
    lines = []
    for row in bitmap.rows:
        bits = "".join("1" if module else "0" for module in row).ljust(-(-count // 8) * 8, "0")
        lines.append(f"{int(bits, 2):0{len(bits) // 4}x}")
    canvas.saveState()
    canvas.setFillColor(ink("ink"))
    canvas.translate(left, top - bitmap.side)
    canvas.scale(bitmap.side, bitmap.side)
    # reportlab has no image masks. A mask paints where its sample is 0; /D turns that round.
    canvas._code.append(
        f"BI /W {count} /H {count} /IM true /D [1 0] /F /AHx ID\n{''.join(lines)}>\nEI"
    )
    canvas.restoreState()
