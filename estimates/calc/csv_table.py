"""Tables as CSV text: typed columns, every mistake named by file, line and column, nothing guessed.

The cells' rules are data (`Column`), so reading and writing cannot drift apart. Text that a spreadsheet would run as a
formula is written with an apostrophe before it, and read back without. Source of that habit: common practice of
spreadsheets and of those who write files for them, no source.
"""

import csv
import io
import math
import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

# Larger than any shop's catalogue by far; what is larger is a slip or an attack.
MOST_BYTES = 500_000
MOST_LINES = 5_000
# What a spreadsheet takes for the start of a formula, in both widths.
FORMULA_STARTS = tuple("=+-@＝＋－＠")
GUARD = "'"
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_WHOLE = re.compile(r"[+-]?\d{1,9}", re.ASCII)
YES_NO = {"yes": True, "no": False}


@dataclass(frozen=True)
class Problem:
    """One mistake in a file. line: counted from 1, the header's; 0 for the whole file. column: "" for all of it."""

    file: str
    line: int
    column: str
    reason: str

    def __str__(self) -> str:
        where = [self.file]
        if self.line:
            where.append(f"line {self.line}")
        if self.column:
            where.append(f"column {self.column}")
        return f"{', '.join(where)}: {self.reason}"


@dataclass(frozen=True)
class Line:
    """One line of a table, by column. A cell that could not be read is left out, and is a problem already."""

    number: int
    values: dict[str, Any]


@dataclass(frozen=True)
class Column:
    """A column: its name, how a stripped cell is read (ValueError says why not), and how a value is written.

    words: what a cell may hold, where that is one of some words. may_be_missing: a file may come without the column,
    and then its lines say nothing of it.
    """

    name: str
    read: Callable[[str], Any]
    write: Callable[[Any], str] = field(default=lambda value: plain(value))
    words: tuple[str, ...] = ()
    may_be_missing: bool = False

    @property
    def choices(self) -> tuple[str, ...]:
        return self.words or (tuple(YES_NO) if self.read is yes_no else ())


def decode(data: bytes) -> str:
    """Bytes of a CSV file as text. Raises ValueError in words unless they are UTF-8 and at most MOST_BYTES."""
    if len(data) > MOST_BYTES:
        raise ValueError(f"the file is too big: {len(data)} bytes, at most {MOST_BYTES} are taken")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise ValueError(f"not UTF-8 text (first at line {line}); save it as “CSV UTF-8”") from error
    if "\0" in text:
        raise ValueError("not a text file; save it as “CSV UTF-8”")
    return text


def parse_table(file: str, text: str, columns: Sequence[Column]) -> tuple[list[Line], list[Problem]]:
    """All lines of a table and all problems in it; blank lines are passed over.

    The header names every column once, in any order; some may be missing. Whoever gets problems stores nothing.
    """
    try:
        rows = list(_rows(text))
    except csv.Error as error:
        return [], [Problem(file, 0, "", f"does not read as CSV ({error})")]
    if not rows:
        return [], [Problem(file, 0, "", "the file is empty; the first line names the columns")]
    if len(rows) - 1 > MOST_LINES:
        return [], [Problem(file, 0, "", f"the file has {len(rows) - 1} lines; at most {MOST_LINES} are taken")]
    header_line, header = rows[0]
    if problems := list(_header_problems(file, header_line, header, columns)):
        return [], problems
    by_name = {column.name: column for column in columns}
    lines = []
    for number, cells in rows[1:]:
        if len(cells) != len(header):
            reason = f"has {len(cells)} cells where the header has {len(header)}"
            problems.append(Problem(file, number, "", reason))
            continue
        values, wrong = read_cells(file, number, [by_name[name] for name in header], cells)
        lines.append(Line(number, values))
        problems.extend(wrong)
    return lines, problems


def write_table(columns: Sequence[Column], rows: Iterable[Mapping[str, Any]]) -> str:
    """Rows as CSV text, header first; what parse_table reads back to the same values."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([column.name for column in columns])
    for row in rows:
        writer.writerow([column.write(row[column.name]) for column in columns])
    return out.getvalue()


def plain(value: Any) -> str:
    """A value as a cell: text guarded against formulas, numbers exact, None empty, truth as yes or no."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    if isinstance(value, int):
        return str(value)
    return guarded(str(value))


def guarded(text: str) -> str:
    """Text that no spreadsheet runs: an apostrophe before what starts like a formula, or like a guarded one."""
    return GUARD + text if text.startswith((*FORMULA_STARTS, GUARD)) else text


def unguarded(cell: str) -> str:
    """The inverse of guarded; any other text stays as it is."""
    return cell[1:] if cell.startswith(GUARD) and cell[1:].startswith((*FORMULA_STARTS, GUARD)) else cell


def text(most: int, *, is_optional: bool = False) -> Callable[[str], str]:
    """A reader of one line of text of at most `most` characters."""

    def read(cell: str) -> str:
        value = unguarded(cell)
        if not value and not is_optional:
            raise ValueError("must not be empty")
        if len(value) > most:
            raise ValueError(f"has {len(value)} characters; at most {most} fit")
        if any(unicodedata.category(each) in {"Cc", "Cs", "Zl", "Zp"} for each in value):
            raise ValueError("holds a line break or another sign that cannot be printed")
        return value

    return read


def number(lowest: float, highest: float, *, is_above: bool = False, is_optional: bool = False) -> Callable[[str], Any]:
    """A reader of a float from lowest (or above it) to highest; None for an empty cell where that is allowed."""

    def read(cell: str) -> float | None:
        if is_optional and not cell:
            return None
        if not _NUMBER.fullmatch(cell):
            raise ValueError(f"must be a number written like 1.5, got {_shown(cell)}")
        value = float(cell)
        if not (math.isfinite(value) and lowest <= value <= highest) or (is_above and value == lowest):
            start = f"above {_plain(lowest)} and" if is_above else f"at least {_plain(lowest)} and"
            raise ValueError(f"must be {start} at most {_plain(highest)}, got {_shown(cell)}")
        return value

    return read


def decimal(highest: str, places: int, *, is_below: bool = False, is_optional: bool = False) -> Callable[[str], Any]:
    """A reader of an exact number from 0 to highest (or below it) with at most so many decimal places."""

    def read(cell: str) -> Decimal | None:
        if is_optional and not cell:
            return None
        if not _NUMBER.fullmatch(cell) or "e" in cell.lower():
            raise ValueError(f"must be a number written like 12.50, got {_shown(cell)}")
        value = Decimal(cell)
        if not 0 <= value <= Decimal(highest) or (is_below and value == Decimal(highest)):
            raise ValueError(
                f"must be at least 0 and {'below' if is_below else 'at most'} {highest}, got {_shown(cell)}"
            )
        if value != round(value, places):
            raise ValueError(f"takes at most {places} decimal places, got {_shown(cell)}")
        # Minus nought is nought.
        return abs(value)

    return read


def whole(lowest: int, highest: int) -> Callable[[str], int]:
    """A reader of a whole number from lowest to highest."""

    def read(cell: str) -> int:
        if not _WHOLE.fullmatch(cell) or not lowest <= int(cell) <= highest:
            raise ValueError(f"must be a whole number from {lowest} to {highest}, got {_shown(cell)}")
        return int(cell)

    return read


def choice(words: Mapping[str, Any], *, is_optional: bool = False) -> Callable[[str], Any]:
    """A reader of one of some words, in capitals or not, as the value each stands for; "" for an empty cell."""

    def read(cell: str) -> Any:
        if is_optional and not cell:
            return ""
        if cell.lower() not in words:
            raise ValueError(f"must be one of {', '.join(words)}; got {_shown(cell)}")
        return words[cell.lower()]

    return read


def yes_no(cell: str) -> bool:
    """A reader of yes or no."""
    return bool(choice(YES_NO)(cell))


def _rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """The rows that hold anything, each with the number of the line it starts on."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    begins = 1
    for cells in reader:
        stripped = [cell.strip() for cell in cells]
        if any(stripped):
            yield begins, stripped
        begins = reader.line_num + 1


def _header_problems(file: str, line: int, header: Sequence[str], columns: Sequence[Column]) -> Iterator[Problem]:
    known = [column.name for column in columns]
    if len(header) == 1 and (";" in header[0] or "\t" in header[0]):
        yield Problem(file, line, "", "the cells must be parted by commas, not by semicolons or tabs")
        return
    for column in columns:
        if column.name not in header and not column.may_be_missing:
            yield Problem(file, line, column.name, "this column is missing")
    for name in dict.fromkeys(header):
        if name not in known:
            yield Problem(file, line, name, f"there is no such column; the columns are {', '.join(known)}")
        elif header.count(name) > 1:
            yield Problem(file, line, name, "this column is there more than once")


def read_cells(
    file: str, line: int, columns: Sequence[Column], cells: Sequence[str]
) -> tuple[dict[str, Any], list[Problem]]:
    """The values of one line's cells by column, and what is wrong with the others."""
    values, problems = {}, []
    for column, cell in zip(columns, cells, strict=True):
        try:
            values[column.name] = column.read(cell)
        except ValueError as error:
            problems.append(Problem(file, line, column.name, str(error)))
    return values, problems


def _plain(limit: float) -> str:
    """A limit as a person writes it, never with an exponent: 1000000, 0.5."""
    return f"{limit:.6f}".rstrip("0").rstrip(".")


def _shown(cell: str) -> str:
    return f"“{cell[:40]}…”" if len(cell) > 40 else f"“{cell}”"
