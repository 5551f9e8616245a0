"""Readings, wood facts, own species and the shed's air as the yard keeps them, and what follows for a slab."""

import json
import random
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from grainlog.drying import DryingError, SpeciesUnknown, scaled_outline
from grainlog.drying.climate import AirDay, AirLine
from grainlog.drying.finish import Allowances, Warp
from grainlog.drying.reading import Reading
from grainlog.drying.weighing import Weighing
from grainlog.errors import WrongUse
from grainlog.yard import NoSuchSlab, SlabFacts, SlabQuery, Yard, YardError, database
from grainlog.yard.drying_readings_file import read_readings
from grainlog.yard.drying_tables import DRYING_TABLES
from grainlog.yard.drying_wood import WoodRefused
from grainlog.yard.readings import (
    MoistureEntry,
    ReadingRefused,
    WarpEntry,
    WeighingEntry,
    day_of,
    name_of,
)
from tests.yard.filings import filing

TODAY = date(2025, 11, 25)
SURVEY = date(2025, 3, 4)


@pytest.fixture
def elms(yard, scratch) -> Yard:
    """Three slabs of one log, surveyed on 2025-03-04, and one of another without species and thickness."""
    for seed in range(3):
        yard.add(filing(scratch, seed, SlabFacts(log="storm elm", species="American elm"), side="bark"))
    yard.add(filing(scratch, 9, SlabFacts(log="beam"), thickness_mm=None))
    return yard


def pin(slab, day, percent, **facts):
    return MoistureEntry(slab, Reading(day, percent / 100, **{"method": "pin", "depth_mm": 28.0, "corrected": True} | facts))


def test_what_is_kept_comes_back_as_it_was(elms):
    entries = [
        MoistureEntry(1, Reading(TODAY, 0.14, "pinless", 20.0, False, True, 12.5, "near the butt"), note="after rain"),
        MoistureEntry.oven_dried(1, TODAY, 0.3, 0.25, "end piece"),
        WeighingEntry(1, Weighing(TODAY, 61.5), "hanging scale"),
        WarpEntry(1, TODAY, Warp(3.0, None, 1.5)),
    ]
    kept = elms.drying.readings.add(entries, TODAY)
    assert (kept.new, kept.already, kept.names) == (4, 0, ("m1", "m2", "w1", "c1"))
    found = elms.drying.readings.of(1)
    assert {name_of(one) for one in found} == set(kept.names)
    assert sorted((replace(one, id=None) for one in found), key=repr) == sorted(entries, key=repr)
    assert all(day_of(one) == TODAY for one in found)
    with Yard.open(elms.folder) as again:
        assert again.drying.readings.of(1) == found
    assert elms.stocktake() == []


def test_the_same_twice_is_kept_once(elms):
    entries = [pin(1, TODAY, 14), WeighingEntry(1, Weighing(TODAY, 60.0))]
    elms.drying.readings.add(entries, TODAY)
    kept = elms.drying.readings.add([*entries, pin(1, TODAY, 15)], TODAY)
    assert (kept.new, kept.already) == (1, 2)


@pytest.mark.parametrize(
    ("wrong", "error"),
    [(pin(99, TODAY, 14), NoSuchSlab), (pin(1, TODAY + timedelta(1), 14), ReadingRefused),
     (pin(1, date(2024, 12, 31), 14), ReadingRefused), (WarpEntry(1, TODAY, Warp()), ReadingRefused),
     (WarpEntry(1, TODAY, Warp(cup_mm=-1.0)), ReadingRefused)],
)  # fmt: skip
def test_one_wrong_entry_and_nothing_is_kept(elms, wrong, error):
    elms.drying.wood.set_log("storm elm", TODAY, felled_on=date(2025, 1, 1))
    with pytest.raises(error) as told:
        elms.drying.readings.add([pin(1, TODAY, 14), wrong, pin(2, TODAY, 14)], TODAY)
    assert str(told.value).endswith(".")
    assert elms.drying.readings.of_all() == {}


def test_a_failing_disk_keeps_nothing(elms, monkeypatch):
    def full(_):
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(database, "commit", full)
    with pytest.raises(YardError, match="disk is full"):
        elms.drying.readings.add([pin(1, TODAY, 14)], TODAY)
    monkeypatch.undo()
    assert elms.drying.readings.of_all() == {} and elms.stocktake() == []


def test_taken_back_but_not_lost(elms):
    elms.drying.readings.add([pin(1, TODAY, 82)], TODAY)
    assert elms.drying.readings.take_back("m1").slab == 1
    assert elms.drying.readings.of(1) == []
    with closing(sqlite3.connect(elms.folder / "yard.db")) as connection:
        assert connection.execute("SELECT moisture FROM moisture_readings").fetchall() == [(0.82,)]
    assert elms.drying.readings.add([pin(1, TODAY, 82)], TODAY).new == 1, "it can be said again"
    for wrong in ("m1", "m7", "x1", "m", "", "12"):
        with pytest.raises(ReadingRefused):
            elms.drying.readings.take_back(wrong)
    assert elms.stocktake() == []


def test_a_change_behind_the_yards_back_is_seen(elms):
    wood = elms.drying.wood
    elms.drying.readings.add([pin(1, TODAY, 14), WeighingEntry(1, Weighing(TODAY, 60.0)), WarpEntry(1, TODAY, Warp(1.0))], TODAY)
    wood.set_log("storm elm", TODAY, sawn_on=SURVEY)
    wood.set_slab(1, "flat")
    wood.set_species("American elm", {"radial": 0.05}, "my own test")
    elms.drying.shed.look(AirLine(datetime(2025, 6, 1), 20, 0.5), TODAY)
    assert elms.stocktake() == []
    columns = {"moisture_readings": "moisture", "weighings": "mass_kg", "warp_readings": "cup_mm", "slab_wood": "pith_mm",
               "log_wood": "pith_order", "shed_days": "humidity", "own_species": "own_values"}  # fmt: skip
    assert set(columns) == {table.name for table in DRYING_TABLES}
    for count, (table, column) in enumerate(columns.items(), 1):
        with closing(sqlite3.connect(elms.folder / "yard.db")) as connection:
            connection.execute(f"UPDATE {table} SET {column} = 0.75")
            connection.commit()
        assert sum("changed outside grainlog" in finding.what for finding in elms.stocktake()) == count


def test_removal_keeps_the_readings_with_the_slab(elms):
    elms.drying.readings.add([pin(1, TODAY, 14), pin(2, TODAY, 15), WeighingEntry(1, Weighing(TODAY, 60.0))], TODAY)
    elms.drying.wood.set_slab(1, "flat")
    kept = json.loads((elms.remove(1).kept_in / "slab.json").read_text())
    assert kept["moisture_readings"][0]["moisture"] == 0.14 and kept["weighings"] and kept["slab_wood"]
    assert list(elms.drying.readings.of_all()) == [2] and elms.stocktake() == []


def test_days_of_a_log(elms):
    wood = elms.drying.wood
    wood.set_log("STORM  elm", TODAY, felled_on=date(2025, 2, 1))
    known = wood.set_log("storm elm", TODAY, sawn_on=SURVEY, pith_order=2)
    assert (known.felled_on, known.sawn_on, known.pith_order) == (date(2025, 2, 1), SURVEY, 2)
    elms.drying.readings.add([pin(1, date(2025, 2, 10), 60)], TODAY)
    for wrong in ({"sawn_on": date(2025, 1, 1)}, {"felled_on": TODAY + timedelta(1)}, {"felled_on": date(2025, 2, 20)}):
        with pytest.raises(WoodRefused):
            wood.set_log("storm elm", TODAY, **wrong)
    with pytest.raises(WoodRefused, match="no log"):
        wood.set_log("oak", TODAY, sawn_on=SURVEY)
    for call in (lambda: wood.set_slab(1, "upright"), lambda: wood.set_slab(1, pith_mm=-1), lambda: wood.set_slab(99, "flat")):
        with pytest.raises(WrongUse):
            call()


def test_dry_factors_or_why_not(elms):
    drying = elms.drying
    unknown = drying.factors(1, 0.08)
    assert unknown.factors is None and "nobody said" in unknown.why
    assert "species of its log was not said" in drying.factors(4, 0.08).why
    drying.wood.set_log("storm elm", TODAY, sawn_on=SURVEY)
    found = drying.factors(1, 0.08)
    assert found.why == "" and found.factors.across.value == pytest.approx(1 - 0.095 * 22 / 30)
    outline = scaled_outline([[0, -300], [2700, 300]], found.factors)
    assert outline.points_mm[1, 1] == pytest.approx(300 * found.factors.across.value)
    with pytest.raises(NoSuchSlab):
        drying.factors(99)
    for wrong in (0, -0.1, 1.5):
        with pytest.raises(DryingError):
            drying.factors(1, wrong)


def test_the_pith_in_the_second_slab_makes_it_quarter_sawn_and_its_neighbours_not(elms):
    elms.drying.wood.set_log("storm elm", TODAY, sawn_on=SURVEY, pith_order=2)
    shares = [elms.drying.slab(number, 0.08, TODAY).assessed.rings.across for number in (1, 2, 3)]
    assert shares[1] == 0 and shares[0] == shares[2] > 0.2
    elms.drying.wood.set_slab(2, "between")
    assert elms.drying.slab(2, 0.08, TODAY).assessed.rings.across == 0.5, "what was seen at the end counts more"


def test_a_slab_with_everything(elms):
    drying = elms.drying
    drying.wood.set_log("storm elm", TODAY, felled_on=date(2025, 2, 1), sawn_on=date(2025, 3, 1))
    days = [SURVEY + timedelta(40 * i) for i in range(1, 7)]
    drying.readings.add([pin(1, day, 12 + 18 * 0.75**i) for i, day in enumerate(days)], TODAY)
    drying.readings.add([WarpEntry(1, days[0], Warp(2.0, 1.0, 0.0)), WarpEntry(1, days[1], Warp(cup_mm=4.0))], TODAY)
    drying.wood.set_allowances(Allowances(50, 0, 1.5, 6))
    told = drying.slab(1, 0.12, TODAY)
    assert told.assessed.curve is not None and told.assessed.slab.warp == Warp(4.0, 1.0, 0.0)
    out = told.outcome
    assert out.finished.thickness_mm.value == pytest.approx(out.thickness_mm.value - 5 - 3, abs=1e-9)
    assert out.board_feet.value < told.entry.figures["board_feet"].value
    assert out.dry_kg.value < out.now_kg.value < out.green_kg.value
    assert drying.wood.allowances == Allowances(50, 0, 1.5, 6)


def test_two_surveys_of_one_face_check_the_meter(elms, scratch):
    drying = elms.drying
    drying.wood.set_log("storm elm", TODAY, sawn_on=date(2025, 3, 1))
    drying.readings.add([pin(1, date(2025, 9, 4), 12)], TODAY)
    shrunk = 600 * (1 - 0.095 * 18 / 30)
    elms.add(filing(scratch, 20, SlabFacts(number=1), side="bark", width_mm=shrunk, taken="2025-09-04T10:00:00"))
    (check,) = drying.slab(1, 0.08, TODAY).photo_checks
    assert check.agree and check.measured.value == pytest.approx(shrunk / 600)
    assert check.predicted.value == pytest.approx(1 - 0.095 * 18 / 30) and check.predicted.u > 0.01
    elms.add(filing(scratch, 21, SlabFacts(number=2), side="heart", width_mm=shrunk, taken="2025-09-04T10:00:00"))
    assert drying.slab(2, 0.08, TODAY).photo_checks == (), "another face"


def test_own_species_stand_before_the_table(elms):
    wood = elms.drying.wood
    wood.set_species("American elm", {"radial": 0.05}, "my own test")
    mine = wood.species("elm, american")
    assert mine.radial == 0.05 and mine.sources["radial"] == "my own test" and mine.tangential == 0.095
    wood.set_species("American elm", {"tangential": 0.10}, "a second test")
    assert (wood.species("American elm").radial, wood.species("American elm").tangential) == (0.05, 0.10)
    like = wood.set_species("fence elm", {}, "the bark", like="slippery elm")
    assert like.name == "fence elm" and like.tangential == 0.089
    odd = wood.set_species("zelkova", {"radial": 0.04, "tangential": 0.08}, "a book")
    assert odd.gravity_green is None
    for call in (
        lambda: wood.set_species("x", {"radial": 4.0}, "y"), lambda: wood.set_species("x", {"radial": 0.04}, ""),
        lambda: wood.set_species(" ", {"radial": 0.04}, "y"), lambda: wood.set_species("x", {}, "y"),
        lambda: wood.set_species("x", {}, "y", like="nothing of the kind"),
    ):  # fmt: skip
        with pytest.raises(WrongUse):
            call()
    with pytest.raises(SpeciesUnknown):
        wood.species("x")
    assert [one.name for one in wood.own_species()] == ["American elm", "fence elm", "zelkova"]


def test_what_dry_means_here(elms):
    assert elms.drying.wood.target == 0.08
    elms.drying.wood.set_target(0.12)
    assert elms.drying.slab(1, today=TODAY).assessed.target == 0.12


def test_the_sheds_air(elms):
    shed = elms.drying.shed
    assert not shed.air().measured
    day = date(2025, 6, 1)
    shed.look(AirLine(datetime(2025, 6, 1, 8), 10, 0.7), TODAY)
    shed.look(AirLine(datetime(2025, 6, 1, 18), 20, 0.5), TODAY)
    (one,) = shed.days()
    assert (one.temperature_c, one.count) == (15, 2)
    assert shed.add_logger([AirDay(day, 16, 0.6, 0.11, 24)]).new == 1
    assert shed.days()[0].count == 24, "a logger stands before a look"
    assert shed.add_logger([AirDay(day, 16, 0.6, 0.11, 24)]).already == 1
    assert shed.add_logger([AirDay(day, 17, 0.6, 0.11, 48)]).new == 1 and len(shed.days()) == 1
    with pytest.raises(WrongUse, match="future"):
        shed.look(AirLine(datetime(2025, 12, 1), 10, 0.7), TODAY)
    assert shed.air().measured and elms.stocktake() == []


def test_every_slab_at_once(elms):
    elms.drying.readings.add([pin(2, TODAY, 11)], TODAY)
    found = {row.number: seen for row, seen in elms.drying.all(None, 0.12, TODAY)}
    assert list(found) == [1, 2, 3, 4] and found[2].core.moisture == 0.11
    assert [row.number for row, _ in elms.drying.all(SlabQuery(log="beam"), 0.12, TODAY)] == [4]


def test_a_table_of_readings():
    text = (
        "Slab;Date;Moisture %;Depth (mm);Weight (lb);Place;Cup (mm);Core\n"
        "1;2025-06-01;24,5;25;;butt;;yes\n"
        "#2;01.06.2025;;;82,5;;3;\n"
        "12A;2025-06-01;20;1in;;;;\n"
        "\n"
    )
    found = read_readings(text.encode(), "june.csv", TODAY)
    assert found.problems == ()
    first, second, third, fourth = found.entries
    assert (first.slab, first.reading.moisture, first.reading.depth_mm, first.reading.core) == (1, 0.245, 25.0, True)
    assert (second.slab, second.weighing.mass_kg) == (2, pytest.approx(82.5 * 0.45359237))
    assert third.warp.cup_mm == 3 and fourth.slab == -1000012 and fourth.reading.depth_mm == 25.4


def test_what_is_wrong_in_a_table_is_told_by_row_and_column():
    rows = [
        ("1", "2025-06-01", "0.12", "", "write 12% if"), ("x", "2025-06-01", "12", "", "'x' is no slab's tag"),
        ("1", "2026-06-01", "12", "", "in the future"), ("1", "3/4/2025", "12", "", "may be two days"),
        ("1", "soon", "12", "", "is no day"), ("1", "2025-06-01", "-3", "", "negative"),
        ("1", "2025-06-01", "300", "", "wetter than any wood"), ("1", "2025-06-01", "12", "deep", "not a length"),
        ("1", "2025-06-01", "", "", "no moisture"), ("", "2025-06-01", "12", "", "is empty"), ("1", "", "12", "", "is empty"),
        ("1", "2025-06-01", "12", "1000 mm", "depth of a reading"),
    ]  # fmt: skip
    text = "slab,date,moisture,depth\n" + "".join(",".join(row[:4]) + "\n" for row in rows) + "3,2025-06-01,14,\n"
    found = read_readings(text.encode(), "june.csv", TODAY)
    assert [one.slab for one in found.entries] == [3]
    assert len(found.problems) == len(rows)
    for i, (problem, row) in enumerate(zip(found.problems, rows, strict=True), 2):
        assert problem.startswith(f"row {i}") and row[4] in problem and problem.endswith("."), problem
    assert "column 'moisture'" in found.problems[0] and "column 'date'" in found.problems[2]


def test_random_bytes_are_never_a_traceback():
    maker = random.Random(3)
    for _ in range(300):
        data = bytes(maker.choice(b'slab,day;\n\t"0123456789.-%\xff\x00ab') for _ in range(maker.randrange(200)))
        try:
            read_readings(b"slab,day,moisture\n" + data, "noise.csv", TODAY)
        except WrongUse as wrong:
            assert str(wrong).endswith(".")
