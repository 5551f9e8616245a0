"""The commands for what happens after the survey, through the real command line."""

import csv
import io
import json
import shutil
from datetime import date
from pathlib import Path

import click
import pytest

from grainlog import cli
from grainlog.yard import SlabFacts, Yard
from tests.yard.filings import filing


@pytest.fixture(scope="module")
def filled(tmp_path_factory) -> Path:
    """A yard with five slabs of one log, each wider than the one before, and one elm slab of unknown thickness."""
    photos = tmp_path_factory.mktemp("photos")
    folder = tmp_path_factory.mktemp("filled") / "yard"
    with Yard.start(folder) as yard:
        for seed in range(5):
            yard.add(filing(photos, seed, side="bark", width_mm=400.0 + 50 * seed))
        yard.add(filing(photos, 9, SlabFacts(log="Elm", species="elm"), thickness_mm=None))
    return folder


@pytest.fixture
def folder(filled, tmp_path) -> Path:
    """A copy of that yard."""
    return Path(shutil.copytree(filled, tmp_path / "yard"))


@pytest.fixture
def run(folder, capsys, monkeypatch):
    """Run a command as a person would; returns (exit code, standard output, standard error)."""
    monkeypatch.setenv("GRAINLOG_YARD", str(folder))

    def run(*arguments: str) -> tuple[int, str, str]:
        code = 0
        try:
            cli.main([str(argument) for argument in arguments])
        except SystemExit as leave:
            code = leave.code or 0
        told = capsys.readouterr()
        return code, told.out, told.err

    return run


def told(run, *arguments: str):
    code, out, err = run(*arguments, "--json")
    assert code == 0, err
    return json.loads(out)


def tags(run, *arguments: str) -> list[str]:
    return [slab["tag"] for slab in told(run, "list", *arguments)]


def test_statuses_are_given_to_several_at_once_and_found_again(run):
    code, out, _ = run("status", "1", "2", "promised", "--to", "Ann", "--until", "2099-03-01")
    assert code == 0 and out.splitlines()[1] == "Slab 2: status promised to Ann until 2099-03-01."
    run("status", "3", "gone", "--on", "2025-06-01", "--note", "to the sea")
    assert tags(run) == ["1", "2", "4", "5", "6"] and tags(run, "--gone-too") == ["1", "2", "3", "4", "5", "6"]
    assert tags(run, "--status", "promised") == ["1", "2"] and tags(run, "--status", "gone") == ["3"]
    assert tags(run, "--text", "ann") == ["1", "2"]
    (change,) = told(run, "history", "3")["changes"]
    assert (change["day"], change["what"], change["note"]) == ("2025-06-01", "gone", "to the sea")
    _, out, _ = run("show", "1")
    assert "promised to Ann until 2099-03-01" in out
    assert told(run, "show", "1")["life"]["for_whom"] == "Ann"


def test_a_promise_that_ran_out_says_so(run):
    code, out, _ = run("status", "1", "promised", "--on", "2025-01-01", "--until", "2025-02-01")
    assert code == 0 and "promised, but only until 2025-02-01, which is over" in out


def test_a_stack_is_laid_reached_and_turned_upside_down(run):
    code, out, _ = run("place", "1", "2", "3", "--shed", "barn", "--stack", "A")
    assert code == 0 and out.splitlines()[-1] == "Slab 3: place barn, stack A, layer 3 from the bottom."
    _, out, _ = run("place", "1", "--units", "mm")
    assert "lift off slab 3, layer 3" in out and "lift off slab 2, layer 2" in out and "as if as heavy as water" in out
    # 2700 x 500 x 63.5 mm as if of water: 86 kg; two slabs 163 kg; u is a fifth, shown twice.
    assert "together 163 ± 66 kg" in out and "too heavy for two people" in out
    (reached,) = told(run, "place", "1")
    assert [each["slab"] for each in reached["above"]] == ["3", "2"]
    assert reached["total_kg"]["value"] == pytest.approx(2700 * (450 + 500) * 63.5e-6)
    code, out, _ = run("restack", "A", "--shed", "barn")
    assert code == 0 and [line.split("\t")[1] for line in out.splitlines()[1:]] == ["1", "2", "3"]  # the top first
    assert [row["slab"] for row in told(run, "place", "--shed", "barn", "--stack", "A")] == ["3", "2", "1"]
    assert told(run, "place") == [{"shed": "barn", "stack": "A", "slabs": 3}]
    assert tags(run, "--place", "barn") == ["1", "2", "3"]
    _, out, _ = run("place", "--shed", "barn", "--stack", "A", "--csv")
    assert [row["slab"] for row in csv.DictReader(io.StringIO(out))] == ["3", "2", "1"]
    _, out, _ = run("place", "4")
    assert "not known" in out
    _, out, _ = run("place", "1")
    assert "Nothing lies above it." in out


def test_a_weight_that_is_not_known_is_not_guessed(run):
    run("place", "1", "6", "--shed", "barn", "--stack", "A")
    _, out, _ = run("place", "1")
    assert "lift off slab 6, layer 2: weight not known" in out and "together" not in out


def test_once_the_wood_is_known_the_weight_is_that_of_the_wood(run):
    run("place", "1", "2", "--shed", "barn", "--stack", "A")
    run("sawn", "storm oak", "--felled", "2025-03-01", "--on", "2025-03-04")
    (reached,) = told(run, "place", "1")
    assert reached["above"][0]["basis"] in ("as it dries", "as if freshly sawn")


def test_work_notes_and_history(run):
    assert run("work", "1", "2", "turned", "--face-up", "heart")[0] == 0
    code, out, _ = run("note", "1", "--owner", "Bob", "--price", "9.5", "--figure", "curl", "--note", "desk")
    assert code == 0 and "owner Bob; price 9.50 a board foot; figure curl" in out
    assert tags(run, "--owner", "bob") == ["1"] and tags(run, "--text", "curl desk") == ["1"]
    _, out, _ = run("history", "1")
    lines = out.splitlines()
    assert lines[0].endswith("turned: face up heart") and lines[1].endswith(
        "noted: owner Bob; price 9.5; figure curl; desk"
    )
    _, out, _ = run("history", "1", "--csv")
    assert [row["what"] for row in csv.DictReader(io.StringIO(out))] == ["turned", "noted"]
    code, out, err = run("history", "3")
    assert code == 0 and out == "" and "Nobody has said anything of slab 3" in err


def test_a_cut_makes_pieces_that_are_slabs_like_others(run):
    code, out, _ = run("cut", "5", "--across", "1000mm", "--kerf", "4mm", "--units", "mm")
    # 600 mm wide; 2700 long: 998 and 1698 mm are left.
    assert code == 0 and out.startswith("Slab 5A: 998 ±") and "Slab 5B: 1698 ±" in out
    assert tags(run) == ["1", "2", "3", "4", "5A", "5B", "6"]
    code, out, _ = run("show", "5a")
    assert code == 0 and out.startswith("Slab 5A: white oak, number 5 of log storm oak\n") and "Worked out" in out
    assert run("cut", "5b", "--along", "100mm", "--from", "right", "--keep", "left")[0] == 0
    assert told(run, "show", "5B")["width_mean_mm"]["value"] == pytest.approx(600 - 100 - 1.5)
    assert run("flatten", "5A", "--thickness", "57mm", "--thickness", "58mm")[0] == 0
    assert told(run, "show", "5A")["thickness_mm"]["value"] == 57.5
    code, _, err = run("remove", "5", "--yes")
    assert code == 2 and "lives on in 5A and 5B" in err
    assert run("remove", "5A", "--yes")[0] == 0 and run("stocktake")[0] == 0


def test_what_a_haul_cost_and_who_gets_what(run):
    code, out, _ = run("haul", "april", "--day", "2025-04-05", "--with", "ann=6", "--with", "bob", "--cost", "fuel=45",
                       "--log", "storm oak")  # fmt: skip
    assert code == 0 and "ann  6 h" in out and "bob  hours not said" in out
    haul = told(run, "haul", "april")
    # Widths 400, 450, ..., 600 mm.
    feet = 2700 * 63.5 * (400 + 450 + 500 + 550 + 600) / (144 * 25.4**3)
    assert haul["board_feet"]["value"] == pytest.approx(feet)
    assert haul["cost_per_board_foot"]["value"] == pytest.approx(45 / feet)
    shared = told(run, "share", "april", "--wish", "1=ann", "--together", "4,5")
    assert shared["best_possible"] and shared["shares"][0]["slabs"] == ["1", "2", "3"]
    assert shared["difference"] == pytest.approx(
        2700 * 63.5 * (450 + 500 + 400 - 550 - 600) / (144 * 25.4**3), abs=0.02
    )
    assert told(run, "show", "1")["life"]["owner"] is None
    code, out, _ = run("share", "april", "--wish", "1=ann", "--keep")
    assert code == 0 and "No division is more even (proved)." in out and "rest on one face" in out
    assert set(tags(run, "--owner", "ann") + tags(run, "--owner", "bob")) == {"1", "2", "3", "4", "5"}
    _, out, _ = run("haul", "--csv")
    assert next(csv.DictReader(io.StringIO(out)))["haul"] == "april"
    code, _, err = run("share", "april", "--by", "value")
    assert code == 2 and "price of slab 1 was not said" in err
    run("note", "1", "2", "3", "4", "5", "--price", "10")
    valued = told(run, "share", "april", "--by", "value", "--grade", "5=2")
    assert sum(share["total"] for share in valued["shares"]) == pytest.approx(
        10 * (feet + 2700 * 63.5 * 600 / (144 * 25.4**3))
    )


def test_pieces_of_a_slab_are_shared_in_its_stead(run):
    run("haul", "april", "--log", "storm oak", "--with", "ann", "--with", "bob")
    run("cut", "5", "--across", "1000mm")
    shared = told(run, "share", "april")
    assert sorted(tag for share in shared["shares"] for tag in share["slabs"]) == ["1", "2", "3", "4", "5A", "5B"]


def test_logs_and_other_pieces(run):
    code, out, _ = run("log", "storm oak", "--stood-at", "Mill Lane", "--metal", "two nails")
    assert code == 0 and "stood at  Mill Lane" in out and "noted: stood at Mill Lane; metal two nails" in out
    assert [log["log"] for log in told(run, "log")] == ["storm oak", "Elm"]
    assert tags(run, "--text", "nails") == ["1", "2", "3", "4", "5"]
    code, out, _ = run("piece", "turning blank", "--log", "elm", "--length", "12in", "--width", "12in",
                       "--thickness", "3in",
                       "--count", "4", "--shed", "attic")  # fmt: skip
    assert code == 0 and "12 in x 12 in x 3 in" in out and "12.0 BF" in out and "attic" in out
    assert run("piece", "--number", "1", "--status", "gone")[0] == 0
    assert told(run, "piece") == [] and told(run, "piece", "--gone-too")[0]["status"] == "gone"


def test_a_plan_and_its_picture(run, tmp_path):
    log = (
        "--small-end",
        "28in",
        "--large-end",
        "32in",
        "--length",
        "9ft",
        "--thickness",
        "2",
        "1/2in",
        "--kerf",
        "3/8in",
    )
    picture = tmp_path / "end.svg"
    code, out, _ = run("plan", *log, "--mill", "29", "1/2in", "--picture", picture)
    assert code == 0 and "Slabs: 9;" in out and "! Trim one side" in out and "Log rules, of inch boards" in out
    assert picture.read_bytes().startswith(b"<?xml")
    made = told(run, "plan", *log, "--beside", "storm oak")
    assert len(made["slabs"]) == 9 and len(made["measured"]) == 5 and made["trim_mm"] == 0
    # 28 in and 9 ft by Doyle: ((28 - 4) / 4)^2 x 9 = 324.
    assert made["log_rules_board_feet"]["Doyle"] == pytest.approx(324.0)
    _, out, _ = run("plan", *log, "--beside", "storm oak")
    assert "measured width" in out.splitlines()[0] and "The yard has 5 slabs" in out


@pytest.mark.parametrize(
    "arguments, says",
    [
        (("status", "12", "ready"), "no slab 12"),
        (("status", "x1", "ready"), "not the tag of a slab"),
        (("status", "1", "lost"), "is not one of"),
        (("status", "ready"), "Missing argument"),
        (("place", "1", "--layer", "2"), "A layer needs its stack"),
        (("place", "--stack", "Z"), "Nothing lies in stack Z"),
        (("restack", "Z"), "Nothing lies in stack Z"),
        (("work", "1", "sung"), "is not one of"),
        (("note", "1"), "Nothing was said"),
        (("cut", "1"), "--across or --along"),
        (("cut", "1", "--across", "1m", "--along", "1m"), "one of the two"),
        (("cut", "1", "--across", "9m"), "misses the slab"),
        (("cut", "1", "--across", "1m", "--from", "right"), "measured from the start or the end"),
        (("cut", "1", "--across", "1m", "--keep", "left"), "keep one of these"),
        (("flatten", "1", "--thickness", "100mm"), "cannot make a slab thicker"),
        (("haul", "may"), "There is no haul may"),
        (("haul", "--cost", "fuel=45"), "Name the haul"),
        (("haul", "x", "--cost", "fuel"), "write it like fuel=45"),
        (("share", "may"), "There is no haul may"),
        (("log", "yew"), "There is no log yew"),
        (("history", "1", "--take-back"), "nothing to take back"),
        (("history", "1", "--note", "x"), "use grainlog note"),
        (("piece", "beam", "--text", "beam"), "--text looks for pieces"),
        (("log", "--metal", "nail"), "Name the log"),
        (("piece", "--status", "gone"), "which one, by its --number"),
        (("piece", "--number", "7", "--status", "gone"), "no other piece 7"),
        (("plan", "--small-end", "30in", "--large-end", "20in", "--length", "9ft", "--thickness", "2in", "--kerf", "0"),
         "change the two over"),
        (("plan", "--small-end", "20in", "--large-end", "20in", "--length", "9ft", "--thickness", "2in", "--kerf", "0",
          "--picture", "x.pdf"), "end its name in .png or .svg"),
    ],
)  # fmt: skip
def test_bad_input_is_one_sentence_and_exit_code_2(run, arguments, says):
    code, out, err = run(*arguments)
    assert code == 2 and says in err and "Traceback" not in err and out == ""


def test_taking_back_from_the_command_line(run):
    assert run("status", "1", "sold", "--to", "Eve")[0] == 0
    code, out, _ = run("history", "1", "--take-back", "--note", "wrong slab")
    assert code == 0 and out.splitlines()[-1].endswith("taken back: sold of " + str(date.today()) + "; wrong slab")
    assert json.loads(run("history", "1", "--json")[1])["status"] is None


def test_a_haul_shows_what_was_said_when(run):
    run("haul", "may", "--cost", "fuel=45", "--on", "2026-05-02")
    assert "2026-05-02  cost: fuel 45.00" in run("haul", "may")[1]
    assert json.loads(run("haul", "may", "--json")[1])["changes"][0]["day"] == "2026-05-02"
    run("piece", "turning blank", "--note", "spalted")
    assert "turning blank" in run("piece", "--text", "spalt")[1]
    assert "No other piece holds these words." in run("piece", "--text", "burl")[2]


@pytest.mark.parametrize(
    "name",
    [
        "status",
        "place",
        "restack",
        "work",
        "note",
        "cut",
        "flatten",
        "history",
        "haul",
        "share",
        "log",
        "piece",
        "plan",
    ],
)
def test_each_command_has_help_yard_units_and_json(name):
    found = cli.grainlog.get_command(None, name)
    options = {option for parameter in found.params for option in parameter.opts}
    assert found.help and {"--yard", "--units", "--json"} <= options
    assert all(parameter.help for parameter in found.params if isinstance(parameter, click.Option))
