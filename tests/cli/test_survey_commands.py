"""`measure` and `add` as a person runs them."""

import json
import subprocess
import sys
from pathlib import Path

import click
import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from grainlog.cli import COMMANDS, _joined, grainlog
from tests.samples import SLAB, sample

PHOTO = str(sample(SLAB).photo)
THICKNESS = f"{sample(SLAB).truth['given']['thickness_mm']}mm"


def run(*words, stdin=""):
    """A true process: exit code, stdout, stderr."""
    done = subprocess.run([sys.executable, "-m", "grainlog", *words], capture_output=True, text=True, input=stdin)
    return done.returncode, done.stdout, done.stderr


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    folder = tmp_path_factory.mktemp("yard")
    assert run("start", str(folder))[0] == 0
    return folder


def test_every_command_and_option_has_help():
    context = click.Context(grainlog)
    for name in COMMANDS:
        command = grainlog.get_command(context, name)
        assert command.help, name
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, f"{name} {parameter.name}"
        shown = CliRunner().invoke(grainlog, [name, "--help"])
        assert shown.exit_code == 0 and name in shown.output


def test_measure_prints_one_json_object_and_writes_pictures(tmp_path):
    picture, flat = tmp_path / "marked.png", tmp_path / "flat.jpg"
    code, out, err = run(
        "measure", "--json", "--thickness", THICKNESS, "--cards-on", "slab", PHOTO, "--picture", str(picture), "--flat", str(flat)
    )
    assert code == 0, err
    record = json.loads(out)
    assert {"scale", "face", "outline", "checks", "warnings"} <= set(record)
    for name in ("length_mm", "width_min_mm", "width_mean_mm", "width_max_mm", "area_mm2", "board_feet"):
        assert record["face"][name]["u"] > 0
    assert record["face"]["thickness_mm"] == sample(SLAB).truth["given"]["thickness_mm"]
    assert picture.read_bytes()[:4] == b"\x89PNG" and flat.read_bytes()[:2] == b"\xff\xd8"
    assert sorted(file.name for file in tmp_path.iterdir()) == ["flat.jpg", "marked.png"]


def test_measure_prints_a_table_for_people():
    code, out, _ = run("measure", "--units", "mm", "--cards-on", "slab", PHOTO)
    assert code == 0
    assert "length" in out and " mm" in out and "±" in out
    assert "Without a thickness there are no board feet" in out


@pytest.mark.parametrize(
    "words, code, told",
    [
        (("measure", PHOTO), 2, "thickness"),
        (("measure", PHOTO, "--thickness", "63.5mm"), 2, "--lift 0mm"),
        (("measure", PHOTO, "--thickness", "63.5", "--cards-on", "slab"), 2, "unit"),
        (("measure", PHOTO, "--cards-on", "slab", "--as-drawn"), 2, "--outline"),
        (("measure", PHOTO, "--cards-on", "table"), 2, "table"),
        (("measure", "no-such-photo.jpg", "--cards-on", "slab"), 1, "no-such-photo.jpg"),
        (("measure", __file__, "--cards-on", "slab"), 1, "photo"),
        (("add", PHOTO, "--cards-on", "slab"), 2, "log"),
        (("frobnicate",), 2, "frobnicate"),
    ],
)
def test_wrong_use_and_bad_input_get_a_sentence(words, code, told, yard):
    if words[0] == "add":
        words = (*words, "--yard", str(yard))
    got, out, err = run(*words)
    assert got == code, err
    assert told in err and "Traceback" not in err and out == ""


def test_whole_number_and_fraction_after_an_option_are_one_length():
    assert _joined(["--thickness", "2", "1/2in", "a.jpg"]) == ["--thickness", "2 1/2in", "a.jpg"]
    assert _joined(["--thickness", "2 1/2in", "1.jpg"]) == ["--thickness", "2 1/2in", "1.jpg"]
    assert _joined(["--workers", "2", "a.jpg"]) == ["--workers", "2", "a.jpg"]


def test_a_batch_with_a_bad_photo_enters_the_others_and_says_so(yard, tmp_path):
    bad = tmp_path / "torn.jpg"
    bad.write_bytes(Path(PHOTO).read_bytes()[:50_000])
    words = ("add", str(bad), PHOTO, "--log", "corner maple", "--species", "maple", "--thickness", THICKNESS,
             "--cards-on", "slab", "--yard", str(yard))  # fmt: skip
    code, out, err = run(*words, "--json")
    assert code == 1, err
    torn, entered = json.loads(out)
    assert torn["problem"] and torn["slab"] is None
    assert entered["problem"] is None and entered["order"] == 2 and not entered["already"]
    again = json.loads(run(*words, "--json")[1])[1]
    assert again["already"] and again["slab"] == entered["slab"]
    shown = json.loads(run("show", str(entered["slab"]), "--yard", str(yard), "--json")[1])
    assert shown["species"] == "maple" and len(shown["surveys"]) == 1
    assert run("stocktake", "--yard", str(yard))[0] == 0
    # A file that was lost comes back when the same photo is added again, as stock-taking says.
    (original,) = (yard / "originals").rglob("*.jpg")
    original.unlink()
    assert run("stocktake", "--yard", str(yard))[0] == 1
    assert json.loads(run(*words, "--json")[1])[1]["slab"] == entered["slab"]
    assert run("stocktake", "--yard", str(yard))[0] == 0
    assert json.loads(run("list", "--yard", str(yard), "--species", "maple", "--longer-than", "3ft", "--json")[1])


def test_another_survey_of_a_slab_takes_its_thickness(yard, tmp_path):
    number = str(json.loads(run("list", "--yard", str(yard), "--json")[1])[0]["slab"])
    from PIL import Image

    later = tmp_path / "later.jpg"
    with Image.open(PHOTO) as image:
        image.transpose(Image.Transpose.ROTATE_180).save(later, quality=92)
    code, out, err = run("add", str(later), "--slab", number, "--cards-on", "slab", "--face", "heart", "--yard", str(yard), "--json")
    assert code == 0, err
    (outcome,) = json.loads(out)
    assert outcome["slab"] == int(number) and outcome["board_feet"]["value"] > 0


def test_the_edge_can_be_drawn_dabbed_and_pointed_at(tmp_path):
    truth = sample(Path(PHOTO).stem).truth["outline"]
    area = np.array(truth["wood_mm"])
    wood = np.array(truth["wood_px"])
    middle = wood.mean(0)
    (tmp_path / "edge.json").write_text(json.dumps(wood.tolist()))
    (tmp_path / "dabs.json").write_text(json.dumps({"wood_px": [middle.tolist()], "not_wood_px": [[20, 20]]}))
    ways = {
        "outline-drawn": ("--outline", str(tmp_path / "edge.json"), "--as-drawn"),
        "dabbed": ("--dabs", str(tmp_path / "dabs.json")),
    }
    for code_said, words in ways.items():
        code, out, err = run("measure", PHOTO, "--cards-on", "slab", "--json", *words)
        assert code == 0, err
        record = json.loads(out)
        assert code_said in [warning["code"] for warning in record["warnings"]]
        assert record["face"]["area_mm2"]["value"] == pytest.approx(shapely.Polygon(area).area, rel=0.01)
    code, out, err = run("measure", PHOTO, "--cards-on", "slab", "--json", "--at", f"{middle[0]:.0f},{middle[1]:.0f}")
    assert code == 0 and "dabbed" in [warning["code"] for warning in json.loads(out)["warnings"]]


@pytest.mark.parametrize(
    "words, told",
    [
        (("--at", "1,2,3"), "is not a point in photo pixels"),
        (("--at", "90000,20"), "outside the photo"),
        (("--at", "10,20", "--outline", "edge.json"), "not both"),
        (("--dabs", "no-such-file.json"), "cannot be read"),
    ],
)
def test_what_is_drawn_wrongly_gets_a_sentence(words, told):
    code, out, err = run("measure", PHOTO, "--cards-on", "slab", *words)
    assert code == 2 and told in err and "Traceback" not in err and out == ""
