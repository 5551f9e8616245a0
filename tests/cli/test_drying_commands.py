"""The drying commands, through the real command line."""

import csv
import io
import json
import re
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path

import pytest

from grainlog import cli
from grainlog.cli import drying_readings
from grainlog.yard import SlabFacts, Yard
from tests.yard.filings import filing

TODAY = date.today()
SAWN = TODAY - timedelta(300)


@pytest.fixture
def folder(tmp_path) -> Path:
    """A yard with three elm slabs sawn 300 days ago and surveyed the day after, and one of nobody knows what."""
    photos = tmp_path / "photos"
    photos.mkdir()
    surveyed = f"{SAWN + timedelta(1)}T10:00:00"
    with Yard.start(tmp_path / "yard") as yard:
        for seed in range(3):
            yard.add(filing(photos, seed, SlabFacts(log="storm [elm]", species="American elm"), taken=surveyed))
        yard.add(filing(photos, 9, SlabFacts(log="beam"), taken=surveyed))
    return tmp_path / "yard"


@pytest.fixture
def run(folder, capsys, monkeypatch):
    """Run a command as a person would; returns (exit code, standard output, standard error)."""
    monkeypatch.setenv("GRAINLOG_YARD", str(folder))

    def run(*arguments) -> tuple[int, str, str]:
        code = 0
        try:
            cli.main([str(argument) for argument in arguments])
        except SystemExit as leave:
            code = leave.code or 0
        told = capsys.readouterr()
        return code, told.out, told.err

    return run


def data_of(run, *arguments):
    code, out, err = run(*arguments, "--json")
    assert code == 0, err
    return json.loads(out)


def dried(run, slab=1, days=(60, 120, 180, 240, 299), depth="28mm"):
    for day in days:
        percent = 12 + 18 * 2.718 ** (-day / 120)
        assert run("reading", slab, f"{percent:.1f}", "--on", SAWN + timedelta(day), "--depth", depth, "--corrected")[0] == 0


def test_one_reading_and_its_undoing(run):
    assert run("reading", 1, "14%", "--depth", "1in", "--place", "middle") == (0, "Kept m1 for slab 1.\n", "")
    assert run("reading", "#1", "14", "--depth", "1in", "--place", "middle")[1] == "The yard has that already.\n"
    code, out, _ = run("drying", 1)
    assert code == 0 and f"m1\t{TODAY}\tpin\t14 ± 4 %\t1 in deep, middle" in out
    assert run("reading", "--take-back", "m1") == (0, "Took back m1.\n", "")
    assert "m1" not in run("drying", 1)[1]
    code, _, err = run("reading", "--take-back", "m1")
    assert code == 2 and "taken back already" in err


def test_everything_about_one_slab_in_one_go(run):
    kept = data_of(run, "reading", 2, "13", "--weight", "140lb", "--cup", "3mm", "--bow", "1/8in", "--sample", "312g", "276g")
    assert kept["names"] == ["m1", "m2", "w1", "c1"]
    told = data_of(run, "drying", 2)
    assert [one["name"] for one in told["readings"]] == ["m1", "m2", "w1", "c1"]
    assert told["readings"][1]["reading"]["moisture"] == pytest.approx(312 / 276 - 1)
    assert told["at_target"]["now_kg"]["value"] == pytest.approx(140 * 0.45359237)


WRONG_READINGS = (
    [(["1", "0.12"], "write 12% if"), (["1", "-3"], "No such option|negative"), (["1", "260"], "wetter than any wood"),
     (["1", "wet"], "not a moisture"), (["99", "12"], "no slab 99"), (["12Q", "12"], "no slab 12Q"), (["elm", "12"], "not the tag"),
     (["1", "12", "--on", str(TODAY + timedelta(2))], "in the future"), (["1"], "Nothing was read"),
     (["1", "--depth", "5mm", "--weight", "20kg"], "belong to a moisture"), (["1", "--sample", "1kg", "2kg"], "more dry than wet"),
     (["1", "--weight", "82"], "with its unit"), ([], "Say which slab"), (["--take-back", "?"], "names no reading")]
)  # fmt: skip


def test_what_cannot_be_meant(run, folder):
    for arguments, said in WRONG_READINGS:
        code, out, err = run("reading", *arguments)
        assert code == 2 and out == "" and re.search(said, err), err
    with Yard.open(folder) as yard:
        assert yard.drying.readings.of_all() == {}


def test_before_the_log_was_felled(run):
    run("sawn", "storm [elm]", "--felled", SAWN - timedelta(10))
    code, _, err = run("reading", 1, "80", "--on", SAWN - timedelta(11))
    assert code == 2 and "before log storm [elm] was felled" in err and err.count("\n") == 1


def test_a_file_all_or_nothing(run, tmp_path, folder):
    file = tmp_path / "june.csv"
    file.write_text(f"slab;day;moisture;depth (mm)\n1;{TODAY};24,5;25\n2;{TODAY};0.14;25\n3;{TODAY};22;25\n")
    code, out, err = run("reading", "--file", file)
    assert code == 1 and out == ""
    assert "june.csv, row 3, column 'moisture': '0.14'" in err and "Nothing of june.csv was kept, because 1 row was" in err
    with Yard.open(folder) as yard:
        assert yard.drying.readings.of_all() == {}
    code, out, err = run("reading", "--file", file, "--keep-good")
    assert code == 0 and out == "Kept 2 readings from june.csv.\n" and "row 3" in err
    assert "2 were there already" in run("reading", "--file", file, "--keep-good")[1]
    file.write_text(f"slab,day,moisture\n1,{TODAY},20\n99,{TODAY},20\n")
    code, _, err = run("reading", "--file", file)
    assert code == 2 and "no slab 99" in err
    with Yard.open(folder) as yard:
        assert len(yard.drying.readings.of(1)) == 1, "not half a file"
    file.write_text("Nummer,Wert\n1,2\n")
    code, _, err = run("reading", "--file", file)
    assert code == 2 and "its first row says Nummer, Wert" in err


def test_a_walk_along_the_stack(run, folder, monkeypatch):
    answers = iter(["24", "0.2", "20 61kg", "", "q"])
    asked = []

    def prompt(question, **_):
        asked.append(question)
        return next(answers)

    monkeypatch.setattr(drying_readings, "_on_a_terminal", lambda: True)
    monkeypatch.setattr(drying_readings.click, "prompt", prompt)
    code, out, err = run("reading", "--depth", "25mm")
    assert code == 0 and out == "Kept 3 readings.\n" and "write 20% if" in err
    assert [question.split(" ")[1] for question in asked] == ["1", "2", "2", "3", "4"], "a slip is asked again"
    with Yard.open(folder) as yard:
        found = yard.drying.readings.of_all()
    assert list(found) == [1, 2] and found[1][0].reading.depth_mm == 25.0 and found[2][1].weighing.mass_kg == 61


def test_a_slab_without_a_word_says_what_is_missing(run):
    code, out, err = run("drying", 4)
    assert code == 0 and err == ""
    assert out.count("not known") >= 4 and "the species of its log was not said" in out
    assert "take it to be too heavy for two people" in out and "about a year an inch: a saying" in out


def test_a_slab_with_readings(run, tmp_path):
    run("sawn", "storm [elm]", "--on", SAWN, "--pith-in", 2)
    run("shed", "--temperature", "64F", "--humidity", "65%", "--on", TODAY - timedelta(30))
    dried(run)
    picture = tmp_path / "one.png"
    code, out, err = run("drying", 1, "--to", "14", "--picture", picture)
    assert code == 0 and err == "" and picture.stat().st_size > 20_000 and f"Drew {picture}." in out
    assert "Down to 14 % about" in out and "finishes at" in out and "NIOSH" in out and "Local rules" in out
    assert "green: sawn the day before" in out and "mm from the pith" in out
    metric = run("drying", 1, "--units", "mm")[1]
    (weight,) = [line for line in metric.splitlines() if "weight now" in line]
    assert " kg" in weight and " lb" not in weight and "28 mm deep" in metric
    told = data_of(run, "drying", 1, "--to", "14")
    assert told["factors"]["across"]["value"] < 1 and told["forecast"]["early"] <= told["forecast"]["day"]
    assert told["at_target"]["width_mm"]["value"] < 600
    assert max(y for _, y in told["outline_at_target_mm"]) == pytest.approx(600 * told["factors"]["across"]["value"], abs=0.01)
    rows = list(csv.reader(io.StringIO(run("drying", 1, "--csv")[1])))
    assert rows[0][0] == "reading" and [row[0] for row in rows[1:]] == ["m1", "m2", "m3", "m4", "m5"]
    for name in ("x.gif", "nowhere/x.png"):
        code, _, err = run("drying", 1, "--picture", tmp_path / name)
        assert code == 2 and err.count("\n") == 1


def test_ready_due_and_behind(run):
    run("sawn", "storm [elm]", "--on", SAWN)
    dried(run, 1, (60, 120, 299))
    run("reading", 2, "11", "--core")
    listed = {one["slab"]: one for one in data_of(run, "ready", "--to", "12")}
    assert listed[2]["ready"] and not listed[1]["ready"] and listed[3]["due"] and listed[4]["due"]
    assert [one["slab"] for one in data_of(run, "ready", "--to", "12", "--only", "ready")] == [2]
    assert [one["slab"] for one in data_of(run, "ready", "--to", "12", "--only", "due")] == [3, 4]
    assert data_of(run, "ready", "--only", "due", "--due-after", "400") == []
    code, out, _ = run("ready", "--csv")
    rows = list(csv.reader(io.StringIO(out)))
    assert code == 0 and rows[0][:3] == ["slab", "species", "log"] and len(rows) == 5
    code, out, err = run("ready", "--only", "behind")
    assert code == 0 and out == "" and "No slab in the yard is so." in err
    assert "Dry means 8 % here" in run("ready")[2]


def test_sawn_says_what_it_needs(run):
    for arguments in (["storm [elm]"], ["--on", SAWN], ["storm [elm]", "--rings", "flat"], ["oak", "--on", SAWN],
                      ["storm [elm]", "--on", TODAY + timedelta(1)], ["--slab", 99, "--on", SAWN]):  # fmt: skip
        code, out, err = run("sawn", *arguments)
        assert code == 2 and out == "" and err.count("\n") == 1
    code, out, _ = run("sawn", "--slab", 1, "--on", SAWN, "--rings", "flat", "--pith", "80mm")
    assert code == 0 and "rings flat" in out and f"sawn on {SAWN}" in out


def test_the_shed_by_hand_and_by_logger(run, tmp_path):
    assert "nobody measured the shed's air" in run("shed")[1]
    assert "wood comes to 9.3 %" in run("shed", "--temperature", "20C", "--humidity", "50")[1]
    assert "not known here" in run("shed", "--temperature", "-12C", "--humidity", "80")[1]
    file = tmp_path / "logger.csv"
    lines = [f"{TODAY - timedelta(i)} 10:00;18,5;64,0" for i in range(1, 40)]
    file.write_text("Zeit;Temperatur °C;Luftfeuchte %\n" + "\n".join(lines) + "\n", encoding="cp1252")
    told = data_of(run, "shed", "--file", file)
    assert told["air"]["measured"] and len(told["days"]) >= 39
    assert "0 days are new, 39 were there already" in run("shed", "--file", file)[1]
    file.write_text(f"time,temp,rh\n{TODAY},18,70\n{TODAY - timedelta(1)},18,700\n")
    code, _, err = run("shed", "--file", file)
    assert code == 1 and "row 3, column 'rh': '700'" in err
    for arguments in (["--temperature", "20C"], ["--temperature", "20", "--humidity", "50"],
                      ["--temperature", "20C", "--humidity", "500"]):  # fmt: skip
        assert run("shed", *arguments)[0] == 2


def test_species_listed_shown_and_given(run):
    assert len(run("species")[1].splitlines()) >= 121
    code, out, _ = run("species", "white oak")
    assert code == 0 and "verified: GTR-190 Table 4-3" in out and "10.5 %" in out
    code, out, _ = run("species", "American elm", "--set", "radial=5.1", "--source", "two boards of my own")
    assert code == 0 and "two boards of my own" in out
    assert data_of(run, "species", "American elm")["radial"] == pytest.approx(0.051)
    assert run("species", "fence elm", "--like", "slippery elm", "--source", "the bark")[1].startswith("fence elm")
    assert data_of(run, "species", "fence elm")["tangential"] == pytest.approx(0.089)
    for arguments in (["poplar"], ["x", "--set", "radial=5"], ["x", "--set", "colour=5", "--source", "y"],
                      ["x", "--set", "radial=big", "--source", "y"], ["--set", "radial=5"], ["x", "--set", "radial=500", "--source", "y"]):  # fmt: skip
        code, out, err = run("species", *arguments)
        assert code == 2 and out == "" and err.count("\n") == 1, err


def test_species_without_a_yard(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("GRAINLOG_YARD", raising=False)
    with pytest.raises(SystemExit) as leave:
        cli.main(["species", "walnut"])
    assert leave.value.code == 0 and "Juglans nigra" in capsys.readouterr().out


def test_allowances_are_kept(run):
    assert "3 in" in run("allowances")[1] and "without a source" in run("allowances")[1]
    run("allowances", "--trim-end", "2in", "--dry", "10")
    told = data_of(run, "allowances")
    assert told["trim_each_end_mm"] == pytest.approx(50.8) and told["dry"] == 0.1
    assert run("allowances", "--skim", "2m")[0] == 2 and run("allowances", "--dry", "0.1")[0] == 2


def test_insects_are_facts_with_sources(run):
    facts = data_of(run, "insects")
    assert all(fact["source"] and fact["text"].endswith(".") for fact in facts)
    assert "licensed practice" in run("insects")[1]


def test_help_is_short_and_plain(run):
    for command in ("reading", "drying", "ready", "sawn", "shed", "species", "allowances", "insects"):
        code, out, _ = run(command, "--help")
        assert code == 0 and "--json" in out and len(out.splitlines()) < 60


def test_looking_up_a_slab_does_not_wait_for_drawing():
    code = "import sys, grainlog.cli.yard_commands; print([m for m in ('matplotlib', 'scipy', 'numpy') if m in sys.modules])"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "matplotlib" not in told.stdout and "scipy" not in told.stdout
    code = "import sys, grainlog.cli.drying_commands; print([m for m in ('matplotlib', 'scipy', 'cv2') if m in sys.modules])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"
