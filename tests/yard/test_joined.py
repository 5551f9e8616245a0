"""A survey joined from several photos: every one of them is kept, found, read again and moved aside like the first."""

import json
import random
import sqlite3
from contextlib import closing
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest

from grainlog.yard import FilingRefused, Yard
from tests.yard.filings import filing


def joined(folder: Path, seed: int, further: int = 2):
    """A filing of a first photo and further ones."""
    first = filing(folder, seed)
    others = []
    for number in range(further):
        data = random.Random(f"{seed}-{number}").randbytes(2000 + number)
        path = folder / f"photo-{seed}-{number}.jpg"
        path.write_bytes(data)
        others.append((path, sha256(data).hexdigest()))
    hashes = [first.photo_sha256, *(one for _, one in others)]
    record = first.record | {"photos": {"mm_per_px": 0.8, "joined": [{"sha256": one} for one in hashes], "overlaps": []}}
    return replace(first, record=record, further=tuple(others))


@pytest.fixture
def held(yard, scratch) -> Yard:
    yard.add(filing(scratch, 1))
    yard.add(joined(scratch, 2))
    assert yard.stocktake() == []
    return yard


def test_every_photo_is_kept_byte_for_byte_and_any_of_them_finds_the_slab(held, scratch):
    filed = joined(scratch, 2)
    (survey,) = held.slab(2).surveys
    assert len(survey.further) == 2
    for kept, (photo, hashed) in zip(survey.further, filed.further):
        assert kept.read_bytes() == photo.read_bytes()
        assert kept.name.startswith(hashed)
    for hashed in (filed.photo_sha256, *(one for _, one in filed.further)):
        assert held.find_photo(hashed).slab == 2
    assert held.slab(1).surveys[0].further == ()
    assert held.add(filed).already


@pytest.mark.parametrize("damage", ["flip", "delete"])
def test_damage_to_a_further_photo_is_told_and_mended_by_adding_them_again(held, scratch, damage):
    path = held.slab(2).surveys[0].further[1]
    path.write_bytes(b"x" + path.read_bytes()[1:]) if damage == "flip" else path.unlink()
    (finding,) = held.stocktake()
    assert (finding.severity, finding.slab, finding.path) == ("wrong", 2, path)
    assert finding.what.startswith("The further photo of slab 2")
    assert held.add(joined(scratch, 2)).already
    assert held.stocktake() == []


def test_a_changed_row_is_told(held):

    with closing(sqlite3.connect(held.folder / "yard.db")) as connection, connection:
        assert connection.execute("UPDATE further_photos SET photo_name = 'other.jpg' WHERE position = 3").rowcount == 1
    (finding,) = held.stocktake()
    assert "further photos was changed outside grainlog" in finding.what


def test_removal_keeps_them_all(held):
    names = {path.name for path in held.slab(2).surveys[0].further}
    kept = held.remove(2).kept_in
    assert names <= {path.name for path in kept.iterdir()}
    rows = json.loads((kept / "slab.json").read_text())["further_photos"]
    assert [row["position"] for row in rows] == [2, 3]
    assert held.stocktake() == []
    assert not held.tidy()


def test_a_photo_that_the_yard_has_already_is_refused_and_nothing_is_stored(held, scratch):
    old, new = joined(scratch, 2), joined(scratch, 3, 1)
    taken = old.further[0]
    record = new.record | {"photos": {"joined": [{"sha256": new.photo_sha256}, {"sha256": taken[1]}]}}
    with pytest.raises(FilingRefused, match="photo-2-0.jpg is in the yard already, with slab 2"):
        held.add(replace(new, record=record, further=(taken,)))
    assert [row.number for row in held.slabs()] == [1, 2]
    assert held.stocktake() == []


def test_photos_that_were_not_the_ones_measured_are_refused(held, scratch):
    new = joined(scratch, 3)
    with pytest.raises(FilingRefused, match="joined from other photos"):
        held.add(replace(new, further=new.further[:1]))
    new.further[1][0].write_bytes(b"changed")
    with pytest.raises(FilingRefused, match="photo-3-1.jpg has changed since it was measured"):
        held.add(new)
    assert held.stocktake() == []
