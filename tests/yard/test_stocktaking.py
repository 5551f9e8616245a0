"""Stock-taking sees each kind of damage, and only damage."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from grainlog.yard import Yard
from grainlog.yard.folder_lock import handling_files
from tests.yard.filings import filing


@pytest.fixture
def stocked(yard, scratch) -> Yard:
    for seed in range(3):
        yard.add(filing(scratch, seed, side="bark"))
    assert yard.stocktake() == []
    return yard


def edit(yard: Yard, statement: str) -> None:
    """Change yard.db as another program would."""
    with closing(sqlite3.connect(yard.folder / "yard.db")) as connection, connection:
        assert connection.execute(statement).rowcount >= 1


def flip_a_byte(path: Path, at: int) -> None:
    data = bytearray(path.read_bytes())
    data[at] ^= 0x10
    path.write_bytes(data)


@pytest.mark.parametrize(
    "which, told", [("original", "original photo"), ("flat", "flat view"), ("overlay", "overlay")]
)
@pytest.mark.parametrize(
    "damage, trouble", [("flip", "has changed"), ("delete", "is missing"), ("cut", "has changed")]
)
def test_a_damaged_file(stocked, which, told, damage, trouble):
    path = getattr(stocked.slab(2).surveys[0], which)
    if damage == "flip":
        flip_a_byte(path, 1234)
    elif damage == "cut":
        path.write_bytes(path.read_bytes()[:-1])
    else:
        path.unlink()
    (finding,) = stocked.stocktake()
    assert finding.severity == "wrong" and finding.slab == 2 and finding.path == path
    assert finding.what == f"The {told} of slab 2 (photo photo-1.jpg) {trouble}."
    assert "Add the same photo again" in finding.to_do


@pytest.mark.parametrize(
    "statement, what",
    [
        ("UPDATE surveys SET record = replace(record, '2700.0', '2800.0') WHERE slab_number = 2", "survey of slab 2"),
        ("UPDATE surveys SET record = '{' WHERE slab_number = 2", "survey of slab 2"),
        ("UPDATE surveys SET note = 'sold' WHERE slab_number = 2", "survey of slab 2"),
        ("UPDATE surveys SET photo_name = 'x.jpg' WHERE slab_number = 2", "survey of slab 2"),
        ("UPDATE surveys SET side = 'heart' WHERE slab_number = 2", "survey of slab 2"),
        ("UPDATE surveys SET record = CAST(x'7b80ff7d' AS TEXT) WHERE slab_number = 2", "database failed"),
        ("UPDATE slabs SET board_feet = 99 WHERE number = 2", "entry of slab 2"),
        ("UPDATE slabs SET order_in_log = 9 WHERE number = 2", "entry of slab 2"),
        ("UPDATE logs SET species = 'gold'", "entry of log storm oak"),
        ("UPDATE outlines SET points_mm = '[[0,0],[1,0],[1,1]]' WHERE survey_id = 2", "outline of slab 2"),
        ("DELETE FROM outlines WHERE survey_id = 2 AND kind = 'hole'", "outline of slab 2"),
        ("DELETE FROM surveys WHERE slab_number = 2", "points at one of surveys that is not there"),
        ("DELETE FROM slabs WHERE number = 2", "points at one of slabs that is not there"),
    ],
)
def test_an_edited_row(stocked, statement, what):
    edit(stocked, statement)
    wrong = [finding for finding in stocked.stocktake() if finding.severity == "wrong"]
    assert wrong and any(what in finding.what for finding in wrong), wrong
    assert all(finding.to_do for finding in wrong)


def test_a_slab_without_a_survey(stocked):
    edit(stocked, "DELETE FROM outline_curves WHERE survey_id = 2")
    edit(stocked, "DELETE FROM outlines WHERE survey_id = 2")
    edit(stocked, "DELETE FROM surveys WHERE slab_number = 2")
    findings = stocked.stocktake()
    assert [finding.what for finding in findings if finding.severity == "wrong"] == ["Slab 2 has no survey."]
    assert len([finding for finding in findings if finding.severity == "untidy"]) == 3  # its files


def test_damage_to_the_database_itself(stocked):
    path = stocked.folder / "yard.db"
    data = bytearray(path.read_bytes())
    for page in range(1, len(data) // 4096):
        data[page * 4096 : page * 4096 + 16] = b"\xff" * 16
    path.write_bytes(data)
    findings = stocked.stocktake()
    assert findings and all(finding.severity == "wrong" and finding.path == path for finding in findings)
    assert any("damaged" in finding.what for finding in findings)


def test_what_lies_about_is_untidy_and_can_be_tidied(stocked, scratch):
    folder = stocked.folder
    (folder / "incoming" / "0123-original.part").write_bytes(b"half a photo")
    (folder / "originals" / "ab").mkdir(exist_ok=True)
    (folder / "originals" / "ab" / "stray.jpg").write_bytes(b"who am I")
    (folder / "pictures" / "holiday.png").write_bytes(b"the sea")
    (folder / "letter.txt").write_text("not of the yard")
    (folder / "removed" / "slab-1").mkdir(parents=True)
    (folder / "removed" / "slab-1" / "slab.json").write_text("{}")
    (folder / ".DS_Store").touch()
    findings = stocked.stocktake()
    assert {(finding.severity, finding.path.name) for finding in findings} == {
        ("untidy", name) for name in ("0123-original.part", "stray.jpg", "holiday.png", "letter.txt", "slab.json")
    }
    assert len(stocked.tidy()) == 4
    assert [finding.path.name for finding in stocked.stocktake()] == ["letter.txt"]
    strays = folder / "removed" / "strays"
    assert (strays / "stray.jpg").read_bytes() == b"who am I" and (strays / "holiday.png").exists()
    (folder / "pictures" / "holiday.png").write_bytes(b"another sea")
    stocked.tidy()
    assert (strays / "holiday.png").read_bytes() == b"the sea"  # nothing set aside is written over
    assert (strays / "holiday-2.png").read_bytes() == b"another sea"


def test_files_that_somebody_has_in_hand_are_left_alone(stocked):
    part = stocked.folder / "incoming" / "0123-original.part"
    part.write_bytes(b"being written")
    with handling_files(stocked.folder):
        assert stocked.stocktake() == [] and stocked.tidy() == []
    assert part.exists()
    assert len(stocked.stocktake()) == 1 and len(stocked.tidy()) == 1
    assert not part.exists()


def test_stock_taking_changes_nothing(stocked):
    def bytes_of(folder):
        return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}

    (stocked.folder / "originals" / "stray.jpg").write_bytes(b"who am I")
    stocked.slab(1).surveys[0].flat.unlink()
    before = bytes_of(stocked.folder)
    assert len(stocked.stocktake()) == 2
    assert bytes_of(stocked.folder) == before
