"""A temperature and humidity logger's CSV file, in whatever language its heading is."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from grainlog.drying.climate import AirDay, AirLine, by_day
from grainlog.drying.csv_table import Row, moment_in, number_in, read_table
from grainlog.drying.errors import DryingError

COLUMNS = {
    "time": ("time", "timestamp", "date time", "datetime", "date", "datum", "zeit", "zeitpunkt", "uhrzeit", "fecha", "hora",
             "heure", "horodatage", "data", "ora", "tid", "tijd", "aika", "dato"),
    "temperature": ("temperature", "temp", "temperatur", "température", "temperatura", "temperatuur", "lämpötila"),
    "humidity": ("humidity", "relative humidity", "rh", "humid", "feuchte", "luftfeuchte", "luftfeuchtigkeit",
                 "rel feuchte", "humidité", "humedad", "umidità", "umidade", "vochtigheid", "luchtvochtigheid", "fuktighet",
                 "luftfuktighet", "kosteus", "hr"),
}  # fmt: skip
_GAP = timedelta(days=3)


@dataclass(frozen=True)
class LoggerFile:
    """What a logger's file says.

    days : the good rows, a day each. problems : a sentence for each row that was not understood, by row and column.
    remarks : gaps and doubles, for people. rows : how many good rows there are.
    """

    days: tuple[AirDay, ...]
    problems: tuple[str, ...]
    remarks: tuple[str, ...]
    rows: int


def read_logger(data: bytes, name: str, now: datetime, fahrenheit: bool = False, day_first: bool | None = None) -> LoggerFile:
    """Read a logger's file.

    data, name : the file and its name for messages. now : rows later than this are problems. fahrenheit : the unit where
    the heading does not say. day_first : how 3/4/2026 is meant.

    Raises DryingError for a file without an understood heading, or whose days cannot be told from months.
    """
    table = read_table(data, COLUMNS, tuple(COLUMNS), name)
    said = table.headings["temperature"]
    fahrenheit = fahrenheit or any(sign in said.replace(" ", "") for sign in ("°F", "(F)", "_F", "[F]", "Fahrenheit"))
    lines: dict[datetime, tuple[int, AirLine]] = {}
    problems, doubles = [], 0
    for row in table.rows:
        try:
            line = _line(row, table.headings, now, fahrenheit, day_first)
        except DryingError as error:
            problems.append(f"row {row.number}, {error}")
            continue
        if line.at not in lines:
            lines[line.at] = (row.number, line)
        elif lines[line.at][1] == line:
            doubles += 1
        else:
            problems.append(
                f"row {row.number}, column '{table.headings['time']}': the time of row {lines[line.at][0]} again, "
                "with other values."
            )
    ordered = sorted(lines)
    remarks = [f"{doubles} rows are there twice; each counts once."] if doubles else []
    remarks += [
        f"Nothing was logged between {before.date().isoformat()} and {after.date().isoformat()}."
        for before, after in pairwise(ordered)
        if after - before > _GAP
    ]
    return LoggerFile(tuple(by_day(line for _, line in lines.values())), tuple(problems), tuple(remarks), len(lines))


def _line(row: Row, headings: Mapping[str, str], now: datetime, fahrenheit: bool, day_first: bool | None) -> AirLine:
    def column(name: str) -> str:
        return f"column '{headings[name]}': '{row.cells[name]}'"

    try:
        at = moment_in(row.cells["time"], day_first)
    except ValueError as error:
        if str(error) == "ambiguous":
            raise DryingError(
                f"{column('time')} may be two days; say whether the day or the month comes first."
            ) from error
        raise DryingError(f"{column('time')} is no time; it should be like 2026-03-04 15:30.") from error
    if at > now:
        raise DryingError(f"{column('time')} is in the future; look at the logger's clock.")
    values = {}
    for name in ("temperature", "humidity"):
        try:
            values[name] = number_in(row.cells[name])
        except ValueError as error:
            raise DryingError(f"{column(name)} is not a number.") from error
    written = row.cells["temperature"].rstrip().upper()
    in_f = written.endswith("F") or (fahrenheit and not written.endswith("C"))
    celsius = (values["temperature"] - 32) / 1.8 if in_f else values["temperature"]
    if not -60 <= celsius <= 80:
        raise DryingError(f"{column('temperature')} is no temperature of a shed; say if the file is in Fahrenheit.")
    if not 0 < values["humidity"] <= 100:
        raise DryingError(f"{column('humidity')} is no relative humidity in percent.")
    return AirLine(at, celsius, values["humidity"] / 100)
