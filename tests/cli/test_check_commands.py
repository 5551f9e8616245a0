"""The commands about checks, through the real command line, on a rendered slab of four days."""

import csv
import io
import json
import shutil
from datetime import date, timedelta
from pathlib import Path

import pytest
from PIL import Image

from grainlog import cli
from grainlog.yard import SlabFacts, Yard
from tests.checks.dated_series import dated_series, fill_with_series
from tests.yard.filings import filing


@pytest.fixture(scope="module")
def followed(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("followed") / "yard"
    with Yard.start(folder) as yard:
        fill_with_series(yard, tmp_path_factory.mktemp("photos"))
        yard.add(filing(tmp_path_factory.mktemp("others"), 3, SlabFacts(log="beam")))
        yard.checks.slab(1)
    return folder


@pytest.fixture
def run(followed, tmp_path, capsys, monkeypatch):
    """Run a command as a person would; returns (exit code, standard output, standard error)."""
    monkeypatch.setenv("GRAINLOG_YARD", str(shutil.copytree(followed, tmp_path / "yard")))

    def run(*arguments) -> tuple[int, str, str]:
        code = 0
        try:
            cli.main([str(argument) for argument in arguments])
        except SystemExit as leave:
            code = leave.code or 0
        told = capsys.readouterr()
        return code, told.out, told.err

    return run


def test_checks_of_a_slab_today_and_over_time(run):
    code, out, err = run("checks", "1", "--units", "mm")
    assert code == 0, err
    lines = out.splitlines()
    assert lines[0].startswith("Slab 1, photo of 2026-07-25; checks are seen from about 0.")
    assert lines[1].split("\t")[:4] == ["check", "where", "length", "widest"]
    assert any(line.startswith("E1\ttop end\t") for line in lines)
    assert any("grew" in line and "a week" in line and line.startswith("! ") for line in lines)
    assert "Common practice, no source" in out and "narrower" in out
    assert "2026-05-01" in run("checks", "1", "--all-dates")[1]


def test_json_and_csv_say_the_same(run):
    told = json.loads(run("checks", "1", "--json")[1])
    rows = list(csv.DictReader(io.StringIO(run("checks", "1", "--csv")[1])))
    seen = [(look["day"], one["name"], one["state"]) for look in told["looks"] for one in look["checks"]]
    assert seen == [(row["day"], row["check"], row["state"]) for row in rows] and len(rows) > 20
    newest = told["looks"][-1]
    assert newest["standing"] == "laid" and newest["shrinkage"]["value"] == pytest.approx(0.0568, abs=0.003)
    for row in rows:
        assert (row["length_mm"] == "") == (row["kind"] == "") and float(row["widest_ever_mm"]) > 0
        if row["length_mm"] == "":
            assert row["why"] and row["state"] in ("not visible", "joined")
    assert {one["check"] for one in told["running"]} <= {name for _, name, _ in seen} and told["running"]


def test_pictures(run, tmp_path):
    sheet, plot = tmp_path / "faces.png", tmp_path / "growth.svg"
    code, out, err = run("checks", "1", "--picture", sheet, "--plot", plot)
    assert code == 0 and f"Drew {sheet}." in out and f"Drew {plot}." in out, err
    with Image.open(sheet) as image:
        assert image.width == 1800 and image.height > 1000
    assert plot.read_bytes().startswith(b"<?xml")
    for arguments in (("--plot", tmp_path / "x.gif"), ("--picture", tmp_path / "x.jpg"), ("--picture", tmp_path / "no" / "x.png"),
                      ("--picture", tmp_path / "x.png", "--face", "heart")):  # fmt: skip
        code, out, err = run("checks", "1", *arguments)
        assert code == 2 and out == "" and err.count("\n") == 1, err
    assert not (tmp_path / "x.png").exists()


def test_running_slabs(run):
    code, out, err = run("running", "--units", "mm")
    lines = out.splitlines()
    assert code == 0 and lines[0].startswith("slab\tcheck\twhere") and lines[1].startswith("1\t")
    assert "Common practice" in err
    told = json.loads(run("running", "--json")[1])
    assert [one["slab"] for one in told] == [1] and told[0]["running"][0]["growth_mm"] > 0
    assert run("running", "--csv")[1].startswith("slab,check,")


def test_looks_by_hand_join_the_history(run):
    assert run("look", "1", "--on", "2026-06-01", "--butt-check", "7in", "--wax", "both", "--left-bark", "partly")[0] == 0
    code, out, _ = run("look", "1", "--on", "2026-07-01", "--butt-check", "9in", "--cup", "3/16in", "--note", "from the stack")
    assert code == 0 and "Kept k5, c1 for slab 1." in out
    assert run("look", "1", "--on", "2026-07-02", "--tape", "e1", "3in", "--json")[1].strip() == '{"slab": "1", "kept": ["k6"]}'
    out = run("checks", "1")[1]
    assert "wax of the butt end on" in out and "left bark partly" in out and "from the stack" in out
    assert "The longest check of the butt end grew 2.0 ± 0.3 in by tape in 30 days" in out
    told = json.loads(run("checks", "1", "--json")[1])
    assert told["by_hand"][-1]["check"] == "E1" and told["by_hand"][-1]["length_mm"] == pytest.approx(76.2)
    assert run("look", "--take-back", "k5")[1].startswith("Took back k5")
    assert "by tape in 30 days" not in run("checks", "1")[1]


@pytest.mark.parametrize(
    "words",
    [
        ("look",), ("look", "1"), ("look", "9", "--wax", "butt"), ("look", "1", "--tape", "E77", "3in"), ("look", "--take-back", "k99"),
        ("look", "1", "--butt-check", "-3in"), ("look", "1", "--wax", "left"), ("checks", "9"), ("checks", "x"),
        ("look", "1", "--on", (date.today() + timedelta(3)).isoformat(), "--wax", "butt"),
    ],
)  # fmt: skip
def test_wrong_use_is_one_sentence(run, words):
    code, out, err = run(*words)
    assert code == 2 and out == "" and "Traceback" not in err and err.strip()


def test_a_slab_without_looks_says_so(run):
    code, out, _ = run("checks", "2")
    assert code == 0 and "no photo of its own in which checks were looked for" in out
    assert json.loads(run("checks", "2", "--json")[1])["looks"][0]["standing"] == "not looked for"


def test_adding_a_photo_tells_what_its_checks_did(run, tmp_path, capsys):
    """The whole way: photos through `add`, with the person's cup, to news of checks and a refusal that is said."""
    series = [photo for photo, _ in dated_series(tmp_path)]
    assert run("start", tmp_path / "new")[0] == 0
    at = ("--yard", tmp_path / "new", "--thickness", "51mm", "--units", "mm")
    assert run("add", series[0], "--log", "storm cherry", "--lift", "25mm", *at)[0] == 0
    code, out, err = run("add", series[1], "--slab", "1", "--lift", "38mm", "--cup", "6mm", *at)
    assert code == 0, err
    assert "Slab 1: " in out and " grew " in out and "42 days (2026-05-01 to 2026-06-12)" in out
    record = json.loads(run("show", "1", "--json", "--yard", tmp_path / "new")[1])["surveys"][0]["record"]
    assert record["face"]["cup_mm"] == 6.0 and record["check_summary"]["number"]["end"] >= 2
    out = run("show", "1", "--units", "mm", "--yard", tmp_path / "new")[1]
    assert "sound length" in out and "longest check" in out
    out = run("measure", series[0], "--lift", "25mm", "--no-checks", *at)[1]
    assert "not looked for" in out
