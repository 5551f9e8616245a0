"""Tables that people and loggers write: any delimiter, decimal commas, a byte order mark, a few lines before the heading.

Reading is forgiving, understanding is not: whatever cannot be understood becomes a problem that names row and column,
and the caller decides what is kept.
"""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from grainlog.drying.errors import DryingError

_MOST_BYTES = 50_000_000
_NUMBER = re.compile(r"\s*([+−-]?\s*\d+(?:[.,]\d+)?|[+−-]?[.,]\d+)\s*(?:%\s*(?:RH)?|°?\s*[CF])?\s*", re.IGNORECASE)
_DATE = re.compile(
    r"(\d{1,4})[-./](\d{1,2})[-./](\d{1,4})(?:[ T,]+(\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?)\s*([ap]m)?)?", re.IGNORECASE
)


@dataclass(frozen=True)
class Row:
    """One row: its number in the file as a spreadsheet counts, and its cells by the name of the column we know it by."""

    number: int
    cells: Mapping[str, str]


@dataclass(frozen=True)
class CsvTable:
    """The rows of a table, and the heading's own words for each known column."""

    rows: tuple[Row, ...]
    headings: Mapping[str, str]


def read_table(data: bytes, columns: Mapping[str, Sequence[str]], needed: Sequence[str], what: str) -> CsvTable:
    """Find the heading and the rows.

    data : the file. columns : for each column its known words, lower case, in several languages; a heading matches where
        it contains one. needed : the columns that must be there. what : the file, for messages.

    Raises DryingError where no heading with the needed columns is found, naming the headings that are there.
    """
    if len(data) > _MOST_BYTES:
        raise DryingError(f"{what} is larger than 50 MB, which is no table of readings; give one table at a time.")
    text = _decoded(data, what)
    lines = [(number, cells) for number, cells in _cells(text) if any(cell.strip() for cell in cells)]
    if not lines:
        raise DryingError(f"{what} is empty.")
    for position, (_, cells) in enumerate(lines[:30]):
        where = _matched(cells, columns)
        if all(name in where for name in needed):
            rows = tuple(
                Row(number, {name: row[i].strip() if i < len(row) else "" for name, i in where.items()})
                for number, row in lines[position + 1 :]
            )
            return CsvTable(rows, {name: cells[i].strip() for name, i in where.items()})
    seen = ", ".join(cell.strip() for cell in lines[0][1] if cell.strip())
    wanted = "; ".join(f"{name} (as in {', '.join(columns[name][:4])})" for name in needed)
    raise DryingError(f"{what} has no heading that is understood here: its first row says {seen}. Wanted: {wanted}.")


def number_in(cell: str) -> float:
    """A number with a point or a comma, and a unit or sign behind it that is not read. Raises ValueError."""
    found = _NUMBER.fullmatch(cell)
    if not found:
        raise ValueError(cell)
    return float(found.group(1).replace(",", ".").replace("−", "-").replace(" ", ""))


def moment_in(cell: str, day_first: bool | None) -> datetime:
    """A day, with or without its time. Raises ValueError; for 3/4/2026 with `day_first` None, "ambiguous"."""
    found = _DATE.match(cell.strip())
    if not found:
        raise ValueError(cell)
    a, b, c, clock, half = found.groups()
    if len(a) == 4:
        year, month, day = int(a), int(b), int(c)
    else:
        year = int(c) + (2000 if len(c) <= 2 else 0)
        first, second = int(a), int(b)
        if "." in cell.split()[0] or first > 12:
            day, month = first, second
        elif second > 12 or day_first is False:
            month, day = first, second
        elif day_first or first == second:
            day, month = first, second
        else:
            raise ValueError("ambiguous")
    hour = minute = second_of = 0
    if clock:
        hour, minute, second_of = (int(float(part.replace(",", "."))) for part in (clock.split(":") + ["0"])[:3])
        if half:
            hour = hour % 12 + (12 if half.lower() == "pm" else 0)
    return datetime(year, month, day, hour, minute, second_of)


def day_in(cell: str, today: date) -> date:
    """A day that is not in the future. Raises ValueError with a clause for people."""
    try:
        day = moment_in(cell, None).date()
    except ValueError as error:
        ambiguous = str(error) == "ambiguous"
        raise ValueError("may be two days; write 2026-03-04" if ambiguous else "is no day; write 2026-03-04") from error
    if day > today:
        raise ValueError("is in the future")
    return day


def _matched(cells: Sequence[str], columns: Mapping[str, Sequence[str]]) -> dict[str, int]:
    where: dict[str, int] = {}
    # Whole words first: "dew point temperature" must not take the place of "temperature".
    for exact in (True, False):
        for i, cell in enumerate(cells):
            words = re.sub(r"[\W_]+", " ", cell.casefold()).strip()
            for name, known in columns.items():
                hit = words in known if exact else any(f" {word}" in f" {words}" for word in known)
                if name not in where and i not in where.values() and hit and not ("dew" in words or "tau" in words):
                    where[name] = i
    return where


def _cells(text: str) -> list[tuple[int, list[str]]]:
    head = text[:4000]
    # A semicolon or tab anywhere is a delimiter; a comma may be the decimal sign.
    delimiter = ";" if head.count(";") >= max(1, head.count("\n") // 2) else "\t" if "\t" in head else ","
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    return [(reader.line_num, cells) for cells in reader]


def _decoded(data: bytes, what: str) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", "replace")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", "replace")
    if "\x00" in text:
        raise DryingError(f"{what} is not a text table; save it as CSV first.")
    return text
