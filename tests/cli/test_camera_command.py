"""`camera` as a person runs it: learn, list, replace, refuse."""

import json

import pytest
from click.testing import CliRunner
from PIL import Image

from grainlog.cli import grainlog
from grainlog.cli.camera_command import known_cameras
from grainlog.errors import GrainlogError
from grainlog.photo import read_photo
from grainlog.scale.profile import CameraProfile, matching
from grainlog.yard import Yard
from tests.scale.test_profile import FOCAL, drawn_photos

MAKE, MODEL, FOCAL_35MM = 0x010F, 0x0110, 0xA405


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """JPEG photos of one card that name their camera."""
    folder = tmp_path_factory.mktemp("card")
    for number, photo in enumerate(drawn_photos()):
        exif = Image.Exif()
        exif[MAKE], exif[MODEL] = "Maker", "One"
        exif.get_ifd(0x8769)[FOCAL_35MM] = 27
        Image.fromarray(photo.pixels).save(folder / f"card-{number}.jpg", quality=95, exif=exif)
    return sorted(folder.iterdir())


@pytest.fixture
def yard(tmp_path):
    Yard.start(tmp_path / "yard").close()
    return tmp_path / "yard"


def run(*words):
    return CliRunner().invoke(grainlog, ["camera", *map(str, words)])


def test_a_camera_is_learned_kept_listed_and_replaced(files, yard):
    assert "No camera" in run("--yard", yard).output
    learned = run(*files, "--yard", yard, "--json")
    assert learned.exit_code == 0, learned.output
    profile = CameraProfile.from_dict(json.loads(learned.stdout))
    assert abs(profile.focal_px - FOCAL) < 3 * profile.focal_u_px
    assert json.loads(run("--yard", yard, "--json").stdout) == [profile.as_dict()]
    again = run(*files[:8], "--yard", yard)
    assert again.exit_code == 0 and "Looking at card-0.jpg (1 of 8)" in again.stderr
    assert "Maker One, 1200 x 900: focal length" in again.stdout and "from 8 photos" in again.stdout
    listed = run("--yard", yard).stdout
    assert listed.startswith(again.stdout) and "With grainlog comes: rendered example lens" in listed
    with Yard.open(yard) as opened:
        kept = known_cameras(opened)
    assert len(kept) == 1 and matching(kept, read_photo(files[0])) == kept[0]


def test_a_profile_is_written_to_a_file_without_a_yard(files, tmp_path):
    file = tmp_path / "one.json"
    assert run(*files, "--file", file, "--yard", tmp_path).exit_code == 0
    assert CameraProfile.from_dict(json.loads(file.read_text())).model == "One"


def test_wrong_use_is_a_sentence(files, yard, tmp_path):
    for words in (files[:7], (files[0],) * 9, ("--file", tmp_path / "x.json")):
        failed = run(*words, "--yard", yard).exception
        assert isinstance(failed, GrainlogError) and failed.exit_code == 2, words
    missing = run(*files[:8], tmp_path / "missing.jpg", "--yard", yard).exception
    assert isinstance(missing, GrainlogError) and "missing.jpg" in str(missing)
    unwritable = run(*files, "--file", tmp_path / "nowhere" / "one.json").exception
    assert isinstance(unwritable, GrainlogError) and "could not be written" in str(unwritable)
    assert "No camera" in run("--yard", yard).output
