"""`find`, `pair` and `mark`, through the real command line."""

import csv
import io
import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from grainlog import cli
from grainlog.yard import SlabFacts, Yard
from tests.yard.filings import filing


@pytest.fixture
def folder(tmp_path) -> Path:
    """Two neighbours from an oak log and a shorter elm slab."""
    photos = tmp_path / "photos"
    photos.mkdir()
    with Yard.start(tmp_path / "yard") as yard:
        yard.add(filing(photos, 0))
        yard.add(filing(photos, 1, width_mm=500.0))
        yard.add(filing(photos, 2, SlabFacts(log="Elm [red]", species="elm"), length_mm=2000.0, thickness_mm=None))
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


def answers(run, *arguments) -> list[dict]:
    code, out, err = run("find", "--json", *arguments)
    assert code == 0, err
    return json.loads(out)["answers"]


def test_find_tells_where_and_by_how_much(run):
    code, out, _ = run("find", "1500x450mm", "--units", "mm", "--fill", "void")
    assert code == 0
    heading, *rows = out.splitlines()
    assert heading.split("\t") == [
        "slab",
        "species",
        "where it lies",
        "fits by",
        "wood left over",
        "how the piece lies",
    ]
    assert [row.split("\t")[0] for row in rows[:3]] == ["3", "2", "1"]
    assert "150.0 ± 2.0 mm" in rows[0] or "150 ± 2 mm" in rows[0]
    assert "nobody looked for checks yet" in rows[0]


def test_find_in_json_gives_places_on_the_slab(run):
    found = answers(run, "60x17in", "--fill", "void")
    piece = found[0]["pieces"][0]
    corners = np.array(piece["outline_mm"])
    assert found[0]["fits"] and piece["sure"] and np.ptp(corners, axis=0) == pytest.approx([1524, 431.8], abs=0.1)
    assert piece["in_it"] in ([], [{"kind": "void", "to_be": "fill"}])
    assert found[0]["waste_mm2"] == pytest.approx(2000 * 600 - 1524 * 431.8 - 300, rel=0.01)


def test_shapes(run, tmp_path):
    assert len(answers(run, "18in", "--shape", "round")) == 3
    assert len(answers(run, "40x18in", "--shape", "oval")) == 3
    assert len(answers(run, "70x18in", "--live-edges", "both", "--fill", "void")) == 3
    assert len(answers(run, "70x18in", "--live-edges", "one", "--fill", "void")) == 3
    top = tmp_path / "kidney.svg"
    top.write_text('<svg xmlns="http://www.w3.org/2000/svg" width="1000mm" height="400mm" viewBox="0 0 1000 400">'
                   '<path d="M0 200 C0 0 300 0 500 100 S1000 0 1000 200 S700 400 500 400 S0 400 0 200 Z"/></svg>')  # fmt: skip
    assert len(answers(run, "--outline", top)) == 3
    assert len(answers(run, "900x400mm", "600x400mm")) == 3


def test_filters_and_allowances(run):
    assert [one["slab"] for one in answers(run, "40x15in", "--species", "elm")] == ["3"]
    assert [one["slab"] for one in answers(run, "40x15in", "--slab", "2", "--slab", "1")] == ["2", "1"]
    assert {one["slab"] for one in answers(run, "40x15in", "--thick", "2in", "--flattening", "1/4in")} == {"1", "2"}
    thick = answers(run, "40x15in", "--thick", "2", "1/4in", "--limit", "1")[0]
    assert thick["thickness_spare_mm"]["value"] == pytest.approx(63.5 - 57.15)
    assert answers(run, "40x19in", "--trim", "1in", "--slab", "2") == []


def test_near_misses_come_last(run):
    code, out, _ = run("find", "1500x620mm", "--units", "mm", "--fill", "void")
    assert code == 0 and out.startswith("No slab in the yard holds that.")
    assert "Near misses:" in out and "20 ± 2 mm too narrow" in out


def test_where_nothing_is_near_the_widest_is_told(run):
    out = run("find", "1500x900mm", "--units", "mm")[1]
    assert out.startswith("No slab in the yard holds that. Of those asked for, slab ") and "mm over 1500 mm, at the very most" in out
    widest = json.loads(run("find", "1500x900mm", "--json")[1])["widest"]
    slab, most = widest["slab"], widest["at_most_mm"]
    assert answers(run, f"1500x{most + 1:.1f}mm", "--slab", slab) == []
    assert 600 < most < 900 and answers(run, f"1500x{0.97 * most:.1f}mm", "--slab", slab, "--fill", "void") != []
    assert json.loads(run("find", "9000x900mm", "--json")[1])["widest"] is None


def test_csv(run):
    code, out, _ = run("find", "1500x450mm", "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert code == 0 and [row["slab"] for row in rows] == ["3", "2", "1"]
    assert float(rows[0]["spare_mm"]) > 0 and rows[0]["fits"] == "yes"
    code, out, _ = run("pair", "1500x900mm", "--csv")
    assert code == 0 and next(csv.DictReader(io.StringIO(out)))["first"] == "1"


def test_pictures(run, tmp_path):
    code, _, err = run("find", "60x16in", "--picture", tmp_path / "found.png")
    assert code == 0, err
    with Image.open(tmp_path / "found.png") as picture:
        pixels = np.asarray(picture.convert("RGB")).reshape(-1, 3)
    wood = (np.abs(pixels.astype(int) - [0xC8, 0x95, 0x60]) < 6).all(axis=1).mean()
    assert picture.width == 1600 and 0.02 < wood < 0.9
    assert run("pair", "60x30in", "--picture", tmp_path / "pair.svg")[0] == 0
    assert (tmp_path / "pair.svg").read_text().lstrip().startswith("<?xml")


def test_pairs(run):
    code, out, _ = run("pair", "1500x900mm", "--json")
    told = json.loads(out)
    assert code == 0 and [slab["slab"] for slab in told["answers"][0]["slabs"]] == ["1", "2"]
    assert told["answers"][0]["spare_mm"]["value"] > 0
    code, out, _ = run("pair", "1500x1000mm", "--as", "gap", "--gap", "50mm")
    assert code == 0 and "No two slabs" not in out
    code, out, _ = run("pair", "1500x2000mm")
    assert code == 0 and out.startswith("No two slabs in the yard make that top.")


def test_pairs_at_a_moisture_say_what_is_not_known(run):
    code, out, _ = run("pair", "1500x900mm", "--at", "8%", "--thick", "50mm")
    assert code == 0 and "Left out, 2 slabs: the size at that moisture is not known." in out and "For one, slab" in out
    assert run("sawn", "storm oak", "--on", "2025-03-03")[0] == 0
    told = json.loads(run("pair", "1500x900mm", "--at", "8%", "--thick", "50mm", "--json")[1])
    assert told["answers"][0]["thickness_spare_mm"]["value"] < 13.5 and max(told["answers"][0]["across_factors"]) < 0.95


def test_several_pieces_that_do_not_all_fit(run):
    code, out, _ = run("find", "1300x400mm", "1300x400mm", "1000x400mm", "--slab", "1")
    assert code == 0 and "On slab 1 2 of 3 pieces found a place; a better layout is not ruled out." in out
    told = json.loads(run("find", "1300x400mm", "1300x400mm", "1000x400mm", "--slab", "1", "--json")[1])
    assert told["partly"][0]["pieces_left_out"] == [2] and told["partly"][0]["at_most"] == 3


def test_marks_are_kept_listed_and_taken_back(run):
    code, out, _ = run("mark", "1", "knot", "--at", "1300,300", "--across", "3in", "--note", "loose")
    assert code == 0 and out == "Mark 1 on slab 1, knot: kept.\n"
    assert run("mark", "1", "check", "--at", "0,200 300,210")[0] == 0
    code, out, _ = run("mark", "1", "--json")
    assert [one["kind"] for one in json.loads(out)] == ["knot", "check"]
    clear = ("2400x550mm", "--slab", "1", "--fill", "void")
    assert len(answers(run, *clear)) == 1 and answers(run, *clear, "--avoid", "knot") == []
    assert len(answers(run, *clear, "--avoid", "knots", "--leave", "1")) == 1
    code, out, _ = run("mark", "1", "--take-back", "1")
    assert code == 0 and "taken back" in out
    assert len(answers(run, *clear, "--avoid", "knot")) == 1
    assert run("mark", "2")[1] == "Nothing is marked on slab 2.\n"


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("find",), 2, "Say the size of the piece"),
        (("find", "72x34"), 2, "has no unit"),
        (("find", "0x34in"), 2, "nothing at all"),
        (("find", "-3x34in"), 2, ""),
        (("find", "72in"), 2, "not a size of two lengths"),
        (("find", "500x400in", "--units", "mm"), 0, ""),
        (("find", "72x34in", "--avoid", "gnomes"), 2, "no kind of defect"),
        (("find", "72x34in", "--avoid", "knot", "--fill", "knot"), 2, "cannot be both"),
        (("find", "72x34in", "--slab", "99"), 2, "There is no slab 99"),
        (("find", "72x34in", "--picture", "found.gif"), 2, "not a kind of picture"),
        (("find", "72x34in", "--outline", "top.svg"), 2, "leave SIZE"),
        (("find", "--outline", "missing.svg"), 2, "cannot be read"),
        (("find", "72x34in", "--shape", "oval", "--live-edges", "both"), 2, "leave --shape out"),
        (("find", "72x34in", "--place", "nowhere"), 2, "No slab lies in a place called"),
        (("find", "72x34in", "--status", "lost"), 2, "is no status of a slab"),
        (("pair", "72x34in", "--as", "stack"), 2, "'stack' is not one of"),
        (("mark", "1", "knot"), 2, "Say where it is"),
        (("mark", "1", "elf", "--at", "1,1"), 2, "no kind of defect"),
        (("mark", "1", "knot", "--at", "here"), 2, "not a row of points"),
        (("mark", "1", "knot", "--at", "99999,0"), 2, "beside the slab"),
        (("mark", "99", "knot", "--at", "10,10"), 2, "There is no slab 99"),
        (("mark", "1", "--take-back", "5"), 2, "There is no mark 5"),
    ],
)
def test_what_cannot_be_meant_gets_one_sentence(run, arguments, code, says):
    left, out, err = run(*arguments)
    assert left == code and "Traceback" not in err
    if code:
        assert says in err.replace("\n", " ") and out == ""
    else:
        assert "No slab in the yard holds that." in out
