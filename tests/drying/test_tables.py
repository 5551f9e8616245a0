"""Loggers' and people's CSV files: other languages, decimal commas, gaps, doubles, and what is refused."""

from datetime import date, datetime

import pytest

from grainlog.drying import DryingError, emc
from grainlog.drying.climate import UNKNOWN_AIR, AirDay, AirLine, by_day, shed_air
from grainlog.drying.csv_table import day_in, moment_in, number_in, read_table
from grainlog.drying.logger_file import read_logger

NOW = datetime(2026, 11, 25, 12)


def logger(text: str, encoding: str = "utf-8", **asked):
    return read_logger(text.encode(encoding), "shed.csv", NOW, **asked)


def test_an_english_logger_in_fahrenheit():
    found = logger("Logger 7\nSite,shed\nTimestamp,Temperature (°F),Humidity (%RH)\n"
                   "2026-06-01 00:00:00,68.0,50\n2026-06-01 12:00:00,68.0,50\n")  # fmt: skip
    assert found.problems == () and found.rows == 2
    (day,) = found.days
    assert (day.day, day.count) == (date(2026, 6, 1), 2)
    assert day.temperature_c == pytest.approx(20) and day.emc == pytest.approx(emc(20, 0.5))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_a_german_logger_with_decimal_commas(encoding):
    found = logger("Zeitpunkt;Temperatur [°C];Taupunkt [°C];rel. Feuchte [%]\n"
                   "01.06.2026 14:30;20,5;10,1;61,2\n02.06.2026 14:30;21,5;10,3;59,8\n", encoding)  # fmt: skip
    assert found.problems == ()
    assert [(day.day.day, day.temperature_c, day.humidity) for day in found.days] == [
        (1, pytest.approx(20.5), pytest.approx(0.612)), (2, pytest.approx(21.5), pytest.approx(0.598))
    ]  # fmt: skip


def test_a_french_one_and_one_with_tabs():
    assert logger("Date;Température;Humidité\n2026-06-01;18,0;70\n").rows == 1
    assert logger("time\ttemp\trh\n2026/06/01 10:00\t18.0\t70\n").rows == 1


def test_doubles_gaps_and_what_is_not_understood_by_row_and_column():
    found = logger(
        "time,temp C,humidity\n"
        "2026-06-01 10:00,18,70\n"
        "2026-06-01 10:00,18,70\n"
        "2026-06-01 10:00,19,70\n"
        "2026-06-02 10:00,warm,70\n"
        "2026-06-02 11:00,18,170\n"
        "2027-06-02 11:00,18,70\n"
        "yesterday,18,70\n"
        "2026-06-20 10:00,99,70\n"
        "2026-06-20 10:00,18,70\n"
    )
    assert found.rows == 2
    assert [day.day.day for day in found.days] == [1, 20]
    rows = {int(problem.split(",")[0].removeprefix("row ")): problem for problem in found.problems}
    assert set(rows) == {4, 5, 6, 7, 8, 9}
    assert "time of row 2 again" in rows[4]
    assert "column 'temp C': 'warm' is not a number" in rows[5] and "column 'humidity': '170'" in rows[6]
    assert "future" in rows[7] and "column 'time': 'yesterday' is no time" in rows[8] and "Fahrenheit" in rows[9]
    assert any("1 rows are there twice" in remark for remark in found.remarks)
    assert any("between 2026-06-01 and 2026-06-20" in remark for remark in found.remarks)


def test_days_that_may_be_months_are_asked_about():
    text = "time,temp,rh\n3/4/2026 10:00,18,70\n"
    assert "say whether the day or the month" in logger(text).problems[0]
    assert logger(text, day_first=True).days[0].day == date(2026, 4, 3)
    assert logger(text, day_first=False).days[0].day == date(2026, 3, 4)
    assert logger("time,temp,rh\n3/14/2026 2:05 pm,18,70\n").days[0].day == date(2026, 3, 14)
    assert moment_in("3/14/2026 2:05 PM", None) == datetime(2026, 3, 14, 14, 5)


@pytest.mark.parametrize("text", ["", "\n\n", "a,b\n1,2\n", "tid,grader,fugt\n2026-06-01,1,2\n", "x" * 100])
def test_a_heading_that_is_not_understood_names_what_is_there(text):
    with pytest.raises(DryingError, match="is empty|no heading that is understood"):
        logger(text)
    if "," in text:
        with pytest.raises(DryingError, match="Wanted: time"):
            logger(text)


def test_not_a_table():
    with pytest.raises(DryingError, match="not a text table"):
        read_logger(b"PK\x03\x04\x00\x00time,temp,rh", "shed.xlsx", NOW)
    with pytest.raises(DryingError, match="larger than 50 MB"):
        read_table(b"a" * 50_000_001, {}, (), "shed.csv")


def test_cells():
    assert [number_in(text) for text in ("1,5", "−3", " 70 %", "21 °C", ".5")] == [1.5, -3, 70, 21, 0.5]
    for wrong in ("", "1 2", "warm", "1,234,5", "--1"):
        with pytest.raises(ValueError):
            number_in(wrong)
    today = date(2026, 5, 5)
    assert day_in("2026-05-05", today) == today
    for wrong in ("2026-05-06", "5/4/2026", "soon", "2026-13-01"):
        with pytest.raises(ValueError):
            day_in(wrong, today)


def test_air_of_the_shed():
    assert shed_air([]).equilibrium == UNKNOWN_AIR and not shed_air([]).measured
    frost = AirDay(date(2026, 1, 1), -10.0, 0.9, None, 1)
    assert not shed_air([frost]).measured, "below the handbook's table nothing is known"
    week = by_day([AirLine(datetime(2026, 6, day, hour), 20, 0.5) for day in range(1, 8) for hour in (6, 18)])
    year = by_day([AirLine(datetime.fromordinal(date(2025, 11, 1).toordinal() + i), 20, 0.5) for i in range(360)])
    short, long = shed_air(week), shed_air(year)
    assert short.equilibrium.value == pytest.approx(emc(20, 0.5)) == pytest.approx(long.equilibrium.value)
    assert short.equilibrium.u > long.equilibrium.u, "a week does not know the seasons"
    assert by_day([AirLine(NOW, -10, 0.9)])[0].emc is None
    for wrong in ((500, 0.5), (20, 1.5), (float("nan"), 0.5)):
        with pytest.raises(DryingError):
            AirLine(NOW, *wrong)
