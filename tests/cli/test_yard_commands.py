"""The yard's commands, through the real command line."""

import json
import os
import subprocess
import sys
from datetime import date
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from grainlog import cli
from grainlog.cli import yard_answers, yard_commands
from grainlog.yard import SlabFacts, Yard
from tests.yard.filings import filing


@pytest.fixture
def folder(tmp_path) -> Path:
    """A yard with an oak slab surveyed on both faces and an elm slab of unknown thickness."""
    photos = tmp_path / "photos"
    photos.mkdir()
    elm = SlabFacts(log="Elm [red]", species="elm", note="spalted")
    with Yard.start(tmp_path / "yard") as yard:
        yard.add(filing(photos, 0, side="bark"))
        yard.add(filing(photos, 1, elm, length_mm=2000.0, thickness_mm=None, taken="2025-05-01T10:00:00"))
        yard.add(filing(photos, 2, SlabFacts(number=1), side="heart", width_mm=500.0, taken="2025-03-06T10:00:00"))
    return tmp_path / "yard"


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


def listed(run, *arguments: str) -> list[int]:
    code, out, _ = run("list", "--json", *arguments)
    assert code == 0
    return [slab["slab"] for slab in json.loads(out)]


def test_start_makes_a_yard_that_opens(run, tmp_path):
    code, out, _ = run("start", tmp_path / "new")
    assert code == 0 and f"Started a yard in {tmp_path / 'new'}." in out
    assert run("list", "--yard", tmp_path / "new") == (0, "", "The yard holds no slab yet.\n")
    code, out, _ = run("start", tmp_path / "other", "--json")
    assert code == 0 and json.loads(out) == {"yard": str(tmp_path / "other")}
    code, _, err = run("start", tmp_path / "new")
    assert code == 2 and "There is already a yard in" in err and err.count("\n") == 1
    code, _, err = run("start", tmp_path / "photos")
    assert code == 2 and "already holds photo-0.jpg" in err


def test_list_is_plain_lines_when_piped(run):
    code, out, err = run("list", "--units", "mm")
    heading, *lines = [line.split("\t") for line in out.splitlines()]
    assert code == 0 and err == ""
    assert heading == list(yard_answers.LIST_HEADINGS)
    assert lines[0] == [
        "1", "storm oak", "1", "white oak", "2700 ± 4 mm", "500 ± 2 mm", "64 ± 2 mm", "40.0 ± 1.4 BF", "both",
        "2025-03-06",
    ]  # fmt: skip
    assert lines[1] == [
        "2", "Elm [red]", "1", "elm", "2000 ± 4 mm", "600 ± 2 mm", "not known", "not known", "not said", "2025-05-01"
    ]  # fmt: skip
    _, out, _ = run("list")
    assert "8 ft 10 5/16 in" in out and "2 1/2 in" in out


def test_list_is_a_table_on_a_terminal(folder, monkeypatch, capsys):
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "80")
    with Yard.open(folder) as yard:
        yard_answers.print_slabs(yard.slabs(), "in")
    out = click.unstyle(capsys.readouterr().out)
    assert "Elm [red], 1" in out and "8 ft 10 5/16 in" in out and "± 3/16 in" in out
    assert max(map(len, out.splitlines())) <= 80
    assert "…" not in out  # nothing is cut off


def test_every_filter_of_list(run):
    assert listed(run) == [1, 2]
    for arguments, numbers in {
        ("--log", "oak"): [1],
        ("--species", "ELM"): [2],
        ("--text", "spalted"): [2],
        ("--text", "photo-2.jpg oak"): [1],
        ("--longer-than", "8ft"): [1],
        ("--shorter-than", "8 ft"): [2],
        ("--wider-than", "23in"): [2],
        ("--narrower-than", "550mm"): [1],
        ("--wide-throughout", "500mm"): [2],
        ("--thicker-than", "2 1/2in"): [1],
        ("--thicker-than", "2", "1/2in"): [1],
        ("--thicker-than", "8/4"): [1],
        ("--thinner-than", "2in"): [],
        ("--area-over", "14 sq ft"): [1],
        ("--area-under", "1.3m2"): [2],
        ("--board-feet-over", "39"): [1],
        ("--board-feet-under", "39"): [],
        ("--since", "2025-04-01"): [2],
        ("--until", "2025-03-06"): [1],
        ("--sort", "date", "--descending"): [2, 1],
        ("--sort", "length"): [2, 1],
        ("--limit", "1"): [1],
        ("--longer-than", "1m", "--species", "oak", "--since", "2025-01-01"): [1],
    }.items():
        assert listed(run, *arguments) == numbers, arguments
    assert run("list", "--species", "yew") == (0, "", "No slab in the yard meets that.\n")


def test_list_as_json_holds_the_figures(run):
    _, out, _ = run("list", "--json")
    oak, elm = json.loads(out)
    assert oak["length_mm"] == {"value": 2700.0, "u": 2.0} and oak["one_face_only"] is False
    assert elm["board_feet"] is None and elm["one_face_only"] is True and elm["surveyed_at"] == "2025-05-01T10:00:00"


def test_show_says_the_figures_and_where_the_pictures_are(run, folder):
    code, out, _ = run("show", "1", "--units", "mm")
    assert code == 0 and out.startswith("Slab 1: white oak, number 1 of log storm oak\n")
    assert "2700 ± 4 mm" in out and "mean of both faces" in out
    # 2700 x (600 + 500) / 2 x 63.5 mm at 144 cubic inches a board foot (Wood Handbook, glossary): 39.96.
    assert "40.0 ± 1.4 BF" in out and "36.3 ± 1.4 BF by this face" in out
    paths = [line.split(maxsplit=1)[1] for line in out.splitlines() if line.split()[:1] == ["picture"]]
    assert len(paths) == 2 and all(Path(path).is_file() and folder in Path(path).parents for path in paths)
    _, out, _ = run("show", "2")
    assert "rest on one face" in out and "spalted" in out and "not known" in out


def test_show_as_json(run):
    code, out, _ = run("show", "1", "--json")
    entry = json.loads(out)
    assert code == 0 and [survey["side"] for survey in entry["surveys"]] == ["heart", "bark"]
    assert entry["surveys"][0]["record"]["face"]["width_mean_mm"]["value"] == 500.0
    assert entry["board_feet"]["value"] == pytest.approx(2700 * 550 * 63.5 / (144 * 25.4**3))
    assert Path(entry["surveys"][0]["overlay"]).is_file()


def test_remove_asks_first(folder):
    asked = CliRunner().invoke(yard_commands.remove, ["2", "--yard", str(folder)], input="n\n")
    assert asked.exit_code == 1 and "Remove slab 2 (elm, log Elm [red], 1 survey)?" in asked.stderr
    assert "stays in the yard" in asked.stderr
    asked = CliRunner().invoke(yard_commands.remove, ["2", "--yard", str(folder)], input="y\n")
    assert asked.exit_code == 0 and (folder / "removed" / "slab-2" / "slab.json").is_file()
    with Yard.open(folder) as yard:
        assert [row.number for row in yard.slabs()] == [1]


def test_remove_without_asking(run, folder):
    code, out, _ = run("remove", "1", "--yes", "--json")
    assert code == 0 and json.loads(out) == {"removed": 1, "kept_in": str(folder / "removed" / "slab-1")}
    code, _, err = run("show", "1")
    assert code == 2 and err == f"Slab 1 was removed; what was kept of it lies in {folder / 'removed' / 'slab-1'}.\n"


def test_stocktake_says_what_is_wrong_and_exits_1(run, folder):
    code, out, _ = run("stocktake")
    assert code == 0 and out == "Everything was read again; slabs: 2; nothing is lost or changed.\n"
    (folder / "incoming" / "half.part").write_bytes(b"half")
    code, out, _ = run("stocktake")
    assert code == 0 and out.startswith("untidy: half.part was left by work that was cut short.")
    code, out, _ = run("stocktake", "--tidy")
    assert code == 0 and out.startswith("Deleted the unfinished file half.part.\n")
    with Yard.open(folder) as yard:
        yard.slab(2).surveys[0].original.unlink()
    code, out, _ = run("stocktake")
    assert code == 1 and "wrong: The original photo of slab 2 (photo photo-1.jpg) is missing. Add the same" in out
    code, out, _ = run("stocktake", "--json")
    told = json.loads(out)
    assert code == 1 and [finding["severity"] for finding in told["findings"]] == ["wrong"]
    assert told["findings"][0]["slab"] == 2


def test_bars_are_told_once_and_shown(run):
    code, out, _ = run("bars")
    assert code == 0 and out.startswith("Nobody has measured the bars yet")
    assert run("bars", "--json")[1] == "null\n"
    code, out, _ = run("bars", "--across", "99.8mm", "--down", "100.1mm", "--units", "mm")
    assert code == 0 and out.startswith("Bar across the paper 99.8 mm, down the paper 100.1 mm; told on ")
    told = json.loads(run("bars", "--json")[1])
    assert (told["across_mm"], told["down_mm"]) == (99.8, 100.1)
    assert date.fromisoformat(told["measured_at"][:10]).year >= 2025
    assert "3.929 in" in run("bars")[1]  # 99.8 mm / 25.4


@pytest.mark.parametrize(
    "arguments, says",
    [
        (("list", "--longer-than", "long"), "'long' is not a length"),
        (("list", "--longer-than", "8"), "'8' has no unit"),
        (("list", "--since", "yesterday"), "'yesterday' is not a day; write it like 2025-03-04."),
        (("list", "--area-over", "wide"), "'wide' cannot be read"),
        (("list", "--limit", "0"), "0 is not in the range"),
        (("list", "--sort", "weight"), "'weight' is not one of"),
        (("show", "many"), "'many' is not the tag of a slab; give the number on it"),
        (("show", "99"), "There is no slab 99 in this yard; list the slabs to see which there are."),
        (("remove", "99", "--yes"), "There is no slab 99"),
        (("bars", "--across", "99.8mm"), "give both --across and --down"),
        (("bars", "--across", "99.8mm", "--down", "4.1in"), None),
        (("bars", "--across", "99.8mm", "--down", "5in"), "drawn 100 mm long, so 127 mm cannot be right"),
        (("list", "--units", "cubits"), "'cubits' is not one of 'in', 'mm'"),
    ],
)
def test_wrong_use_is_a_sentence_and_exit_code_2(run, arguments, says):
    code, _, err = run(*arguments)
    if says is None:
        assert code == 0
    else:
        assert code == 2 and says in err and "Traceback" not in err


@pytest.mark.parametrize("command", ["list", "show 1", "remove 1 --yes", "stocktake", "bars"])
def test_no_yard_is_a_sentence_and_exit_code_1(run, tmp_path, command):
    code, out, err = run(*command.split(), "--yard", tmp_path / "photos")
    assert code == 1 and out == "" and err.startswith("There is no yard in") and err.count("\n") == 1


def test_a_true_process(folder):
    def grainlog(*arguments: str, where: Path = folder) -> subprocess.CompletedProcess:
        environment = {name: value for name, value in os.environ.items() if name != "GRAINLOG_YARD"}
        command = [sys.executable, "-c", "from grainlog.cli import main; main()", *arguments]
        return subprocess.run(command, cwd=where, env=environment, capture_output=True, text=True)

    done = grainlog("list", "--json")  # the yard is the folder one is in
    assert done.returncode == 0 and len(json.loads(done.stdout)) == 2
    with Yard.open(folder) as yard:
        yard.slab(1).surveys[0].flat.write_bytes(b"")
    assert grainlog("stocktake").returncode == 1


def test_each_command_has_units_json_and_help():
    for command in ("start", "bars", "list_slabs", "show", "remove", "stocktake"):
        found = getattr(yard_commands, command)
        assert isinstance(found, click.Command) and found.help
        options = {name for parameter in found.params for name in parameter.opts}
        assert {"--units", "--json"} <= options
        assert all(parameter.help for parameter in found.params if isinstance(parameter, click.Option))
