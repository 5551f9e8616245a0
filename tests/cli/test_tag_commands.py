"""`tags`, `add` by tag, and `misfiled` as a person runs them."""

import json

import pypdfium2
import pytest
from click.testing import CliRunner
from PIL import Image

from grainlog.cli import grainlog
from grainlog.errors import GrainlogError
from grainlog.scale.tag import TagText
from grainlog.yard import SlabFacts, Yard
from tests.samples import SLAB, sample, surveyed
from tests.tagged import laid, turned
from tests.yard.filings import filing


def run(*words):
    """Exit code, and what was printed or refused."""
    done = CliRunner().invoke(grainlog, [str(word) for word in words])
    if isinstance(done.exception, GrainlogError):
        return done.exception.exit_code, str(done.exception)
    assert done.exception is None or isinstance(done.exception, SystemExit), (
        done.exception
    )
    return done.exit_code, done.output


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    folder = tmp_path_factory.mktemp("yard")
    assert run("start", folder)[0] == 0
    return folder


@pytest.fixture(scope="module")
def photo_with(tmp_path_factory):
    """Makes a photo of the sample slab with a tag on it, at a share of its length and some mm beside its middle line."""
    folder = tmp_path_factory.mktemp("tagged")
    survey = surveyed(SLAB)

    def make(name, text, along, across=0.0, degrees=10.0):
        middle = (survey.frame.length * along, across)
        corners = survey.plane.to_px(survey.frame.to_plane(turned(middle, degrees)))
        with Image.open(sample(SLAB).photo) as original:
            exif = original.getexif()
        path = folder / name
        Image.fromarray(laid(survey.photo.pixels, text, corners)).save(
            path, quality=92, exif=exif
        )
        return path

    return make


def test_a_tag_starts_a_slab_and_files_its_next_photo(yard, tmp_path, photo_with):
    sheet = tmp_path / "new.pdf"
    code, out = run(
        "tags", sheet, "--blank", "3", "--log", "corner maple", "--yard", yard, "--json"
    )
    assert code == 0
    told = json.loads(out)
    assert (
        told["tags"] == ["1", "2", "3"]
        and told["pages"] == 1
        and len(pypdfium2.PdfDocument(sheet)) == 1
    )
    one, two = (TagText(told["yard"], tag) for tag in "12")
    lay = ("--cards-on", "slab", "--yard", yard, "--json", "--workers", "1")

    first = photo_with("first.jpg", two, 0.35)
    code, out = run("add", first, "--thickness", "57mm", "--face", "bark", *lay)
    assert code == 0, out
    (entered,) = json.loads(out)
    assert (entered["slab"], entered["log"], entered["order"], entered["by_tag"]) == (
        2,
        "corner maple",
        2,
        True,
    )

    # Later neither log nor slab nor thickness is said.
    later = photo_with("later.jpg", two, 0.6, 30.0, 100.0)
    code, out = run("add", later, "--face", "heart", *lay)
    assert code == 0, out
    (again,) = json.loads(out)
    assert again["slab"] == 2 and again["by_tag"] and again["board_feet"]["value"] > 0
    assert len(json.loads(run("show", 2, "--yard", yard, "--json")[1])["surveys"]) == 2

    # The person says another slab than the tag does.
    code, out = run("add", photo_with("other.jpg", one, 0.45), "--slab", 2, *lay)
    assert (
        code == 1
        and "You say slab 2, and the tag on it says 1" in json.loads(out)[0]["problem"]
    )
    assert run("stocktake", "--yard", yard)[0] == 0


def test_a_misfiled_survey_goes_to_its_slab(tmp_path):
    folder, photos = tmp_path / "yard", tmp_path
    with Yard.start(folder) as yard:
        for seed, facts in ((1, None), (2, None), (3, SlabFacts(number=1))):
            wrong = yard.add(filing(photos, seed, facts, side="bark"))
    assert f"Survey {wrong.survey}," in run("show", 1, "--yard", folder)[1]
    code, out = run(
        "misfiled",
        wrong.survey,
        "--to",
        2,
        "--note",
        "read the wrong one",
        "--yard",
        folder,
    )
    assert code == 0 and "from slab 1 to slab 2" in out
    assert (
        "read the wrong one" in run("history", 2, "--yard", folder)[1]
        and "went to slab 2" in run("history", 1, "--yard", folder)[1]
    )
    assert (
        json.loads(
            run("misfiled", wrong.survey, "--to", 1, "--yard", folder, "--json")[1]
        )["now"]
        == "1"
    )
    assert run("misfiled", wrong.survey, "--to", 9, "--yard", folder)[0] == 2
    with Yard.open(folder) as yard:
        only = yard.slab(2).surveys[0].id
    code, out = run("misfiled", only, "--to", 1, "--yard", folder)
    assert code == 2 and "--take-out" in out
    code, out = run("misfiled", only, "--to", 1, "--take-out", "--yard", folder)
    assert code == 0 and "Slab 2 had no other and is out of the yard" in out and "never given again" in out
    assert "was removed" in run("show", 2, "--yard", folder)[1]


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        ((), 2, "--blank COUNT"),
        (("--blank", "2", "1"), 2, "two files"),
        (("77",), 2, "no slab 77"),
        (("--log", "no such log"), 2, "no slab of log"),
        (("--blank", "2", "--labels-across", "2"), 2, "--labels-down"),
        (("--trial",), 2, "label stock"),
    ],
)
def test_what_cannot_be_printed_gets_a_sentence(yard, tmp_path, words, code, told):
    assert run("tags", tmp_path / "none.pdf", *words, "--yard", yard)[0] == code
    assert told in run("tags", tmp_path / "none.pdf", *words, "--yard", yard)[1]
    assert not (tmp_path / "none.pdf").exists()


def test_no_number_is_given_away_for_a_file_that_is_somebody_elses(yard, tmp_path):
    theirs = tmp_path / "letter.pdf"
    theirs.write_bytes(b"%PDF-1.4 a letter")
    code, said = run("tags", theirs, "--blank", "2", "--yard", yard)
    assert (
        code == 1
        and "was not written by grainlog" in said
        and theirs.read_bytes() == b"%PDF-1.4 a letter"
    )
    mine = tmp_path / "mine.pdf"
    first = json.loads(run("tags", mine, "--blank", "1", "--yard", yard, "--json")[1])[
        "tags"
    ]
    assert (
        int(
            json.loads(run("tags", mine, "--blank", "1", "--yard", yard, "--json")[1])[
                "tags"
            ][0]
        )
        == int(first[0]) + 1
    )


def test_a_trial_page_for_label_stock(tmp_path):
    stock = (
        "--labels-across",
        2,
        "--labels-down",
        4,
        "--label-width",
        "95mm",
        "--label-height",
        "60mm",
        "--left",
        "10mm",
        "--top",
        "10mm",
    )
    assert run("tags", tmp_path / "trial.pdf", "--trial", *stock)[0] == 0
    assert len(pypdfium2.PdfDocument(tmp_path / "trial.pdf")) == 1
