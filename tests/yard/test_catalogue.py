"""Starting, opening, filing, showing, removing."""

import hashlib
import json
import os
import random
from dataclasses import replace
from datetime import datetime

import pytest

from grainlog.yard import (
    FilingRefused,
    NoSuchSlab,
    NotAYard,
    SettingRefused,
    SlabFacts,
    Yard,
    YardInTheWay,
)
from tests.yard.filings import filing


def test_a_yard_starts_in_a_new_or_an_empty_folder(tmp_path):
    (tmp_path / "empty").mkdir()
    for name in ("new/below", "empty"):
        with Yard.start(tmp_path / name) as yard:
            assert yard.slabs() == [] and yard.stocktake() == []
        with Yard.open(tmp_path / name) as yard:
            assert yard.slabs() == []


def test_a_yard_does_not_start_where_something_is(tmp_path, yard):
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "to-a-friend.txt").write_text("hello")
    with pytest.raises(YardInTheWay, match="already holds to-a-friend.txt"):
        Yard.start(tmp_path / "letters")
    assert [path.name for path in (tmp_path / "letters").iterdir()] == ["to-a-friend.txt"]
    with pytest.raises(YardInTheWay, match="already a yard"):
        Yard.start(yard.folder)
    with pytest.raises(YardInTheWay, match="is a file"):
        Yard.start(tmp_path / "letters" / "to-a-friend.txt")
    (tmp_path / "mixed").mkdir()
    (tmp_path / "mixed" / "yard.db").touch()
    (tmp_path / "mixed" / "other").touch()
    with pytest.raises(YardInTheWay, match="already holds other"):
        Yard.start(tmp_path / "mixed")


def test_what_is_not_a_yard_is_not_opened(tmp_path):
    with pytest.raises(NotAYard, match="There is no yard in"):
        Yard.open(tmp_path / "nowhere")
    (tmp_path / "yard.db").write_bytes(b"shopping list, " * 1000)
    with pytest.raises(NotAYard, match="not a yard's database"):
        Yard.open(tmp_path)
    (tmp_path / "yard.db").write_bytes(b"")
    with pytest.raises(NotAYard, match="cut short"):
        Yard.open(tmp_path)


def test_files_lie_under_their_hash_byte_for_byte(scratch, yard):
    made = filing(scratch, 1)
    entry = yard.slab(yard.add(made).slab)
    survey = entry.surveys[0]
    data = made.photo.read_bytes()
    sha256 = hashlib.sha256(data).hexdigest()
    assert survey.original == yard.folder / "originals" / sha256[:2] / f"{sha256}.jpg"
    assert survey.original.read_bytes() == data
    assert survey.flat.read_bytes() == made.flat.data and survey.overlay.read_bytes() == made.overlay.data
    assert survey.record == made.record
    assert survey.surveyed_at == datetime(2025, 3, 4, 10, 20, 30)
    assert (entry.log, entry.order, entry.species) == ("storm oak", 1, "white oak")
    assert entry.figures["length_mm"].value == 2700.0 and entry.figures["length_mm"].u == 2.0


def test_the_same_photo_twice_is_recognised(scratch, yard):
    made = filing(scratch, 1)
    first, again = yard.add(made), yard.add(replace(made, facts=SlabFacts(log="another log")))
    assert again == replace(first, already=True)
    assert yard.find_photo(made.photo_sha256) == again
    assert yard.find_photo("0" * 64) is None
    assert len(yard.slabs()) == 1 and len(yard.slab(1).surveys) == 1


def test_adding_again_puts_lost_and_damaged_files_back(scratch, yard):
    made = filing(scratch, 1)
    yard.add(made)
    survey = yard.slab(1).surveys[0]
    survey.original.write_bytes(b"damaged")
    survey.flat.unlink()
    assert len(yard.stocktake()) == 2
    assert yard.add(made).already
    assert yard.stocktake() == []
    # Another picture of the same photo takes the place of one that was lost, under its own name.
    survey.overlay.unlink()
    assert yard.add(replace(made, overlay=replace(made.overlay, data=b"drawn anew", suffix=".png"))).already
    assert yard.stocktake() == []
    assert yard.slab(1).surveys[0].overlay.read_bytes() == b"drawn anew"


def test_order_counts_within_the_log(scratch, yard):
    assert yard.next_order("ash by the gate") == 1
    ash = SlabFacts(log="ash by the gate", species="ash")
    filed = [yard.add(filing(scratch, seed, ash)) for seed in range(2)]
    filed.append(yard.add(filing(scratch, 2, replace(ash, order=7))))
    filed.append(yard.add(filing(scratch, 3, replace(ash, log=" Ash  by the GATE "))))
    filed.append(yard.add(filing(scratch, 4, SlabFacts(log="elm"))))
    assert [(each.slab, each.order) for each in filed] == [(1, 1), (2, 2), (3, 7), (4, 8), (5, 1)]
    assert filed[3].log == "ash by the gate"
    assert yard.next_order("ASH by the gate") == 9


def test_contradictions_are_refused_and_nothing_is_stored(scratch, yard):
    yard.add(filing(scratch, 0))
    made = filing(scratch, 1)
    oak = SlabFacts(log="storm oak", species="white oak")
    refused = {
        "Place 1 in log storm oak is slab 1": replace(oak, order=1),
        "Log storm oak is white oak, not ash": replace(oak, species="ash"),
        "counted from 1": replace(oak, order=0),
        "Slab 1 is from log storm oak, not elm": SlabFacts(number=1, log="elm"),
        "Slab 1 is place 1 in log storm oak, not 2": SlabFacts(number=1, order=2),
        "needs its log": SlabFacts(log="  "),
        "length above nothing": replace(oak, thickness_readings_mm=(63.5, float("nan"))),
    }
    for sentence, facts in refused.items():
        with pytest.raises(FilingRefused, match=sentence):
            yard.add(replace(made, facts=facts))
    with pytest.raises(NoSuchSlab, match="no slab 9 in this yard"):
        yard.add(replace(made, facts=SlabFacts(number=9)))
    with pytest.raises(FilingRefused, match="another photo"):
        yard.add(replace(made, record=filing(scratch, 2).record))
    with pytest.raises(FilingRefused, match="cannot be stored"):
        yard.add(replace(made, record=made.record | {"checks": [float("nan")]}))
    with pytest.raises(FilingRefused, match="bark and a heart side"):
        yard.add(replace(made, record=made.record | {"face": {"side": "left"}}))
    with pytest.raises(FilingRefused, match="date 'yesterday' cannot be read"):
        yard.add(filing(scratch, 1, taken="yesterday"))
    with pytest.raises(FilingRefused, match="cannot be read"):
        yard.add(replace(made, photo=scratch / "gone.jpg"))
    made.photo.write_bytes(b"edited since")
    with pytest.raises(FilingRefused, match="changed since it was measured"):
        yard.add(made)
    assert len(yard.slabs()) == 1 and yard.stocktake() == []


def test_species_may_be_told_later(scratch, yard):
    yard.add(filing(scratch, 0, SlabFacts(log="unknown tree")))
    yard.add(filing(scratch, 1, SlabFacts(log="unknown tree", species="red elm")))
    assert [row.species for row in yard.slabs()] == ["red elm", "red elm"]
    assert yard.stocktake() == []


def test_two_faces_give_the_mean_and_one_is_flagged(scratch, yard):
    bark = yard.add(filing(scratch, 0, side="bark", width_mm=500.0))
    entry = yard.slab(bark.slab)
    assert entry.one_face_only and entry.faces == ("bark",)
    narrow = entry.figures["board_feet"].value
    again = SlabFacts(number=bark.slab)
    yard.add(filing(scratch, 1, again, side="heart", width_mm=600.0, taken="2025-03-05T09:00:00"))
    entry = yard.slab(bark.slab)
    assert not entry.one_face_only and entry.faces == ("bark", "heart")
    assert [survey.side for survey in entry.surveys] == ["heart", "bark"]
    # Trapezoid: (500 + 600) / 2 wide, 2700 long, 63.5 thick.
    assert entry.figures["volume_mm3"].value == pytest.approx(550.0 * 2700.0 * 63.5)
    assert entry.figures["board_feet"].value == pytest.approx(narrow * 1.1)
    assert entry.figures["board_feet"].u == pytest.approx(0.7)
    assert entry.figures["width_mean_mm"].value == 600.0  # of the newest survey
    assert entry.by_face["bark"].board_feet.value == pytest.approx(narrow)
    # A later survey of a face takes the place of the earlier one; one without a thickness does not.
    yard.add(filing(scratch, 2, again, side="bark", width_mm=400.0, taken="2026-03-05T09:00:00"))
    yard.add(filing(scratch, 3, again, side="heart", thickness_mm=None, taken="2026-03-06T09:00:00"))
    entry = yard.slab(bark.slab)
    assert entry.figures["volume_mm3"].value == pytest.approx(500.0 * 2700.0 * 63.5)
    assert entry.by_face["bark"].board_feet.value == pytest.approx(narrow * 0.8)
    (row,) = yard.slabs()
    assert row.board_feet.value == entry.figures["board_feet"].value and not row.one_face_only
    assert yard.stocktake() == []


def test_the_date_comes_from_the_photo_then_the_person_then_the_file(scratch, yard):
    given = datetime(2024, 6, 7, 8, 9)
    photo = filing(scratch, 0)
    person = replace(filing(scratch, 1, taken=None), surveyed_at=given)
    file = filing(scratch, 2, taken=None)
    zoned = filing(scratch, 3, taken="2025-01-02T03:04:05+02:00")
    moment = datetime(2023, 1, 1, 12, 0)
    os.utime(file.photo, (moment.timestamp(), moment.timestamp()))
    for each in (replace(photo, surveyed_at=given), person, file, zoned):
        yard.add(each)
    told = [row.surveyed_at for row in yard.slabs()]
    assert told == [datetime(2025, 3, 4, 10, 20, 30), given, moment, datetime(2025, 1, 2, 3, 4, 5)]


def test_a_removed_number_is_never_given_again_and_nothing_is_lost(scratch, yard):
    made = [filing(scratch, seed) for seed in range(3)]
    for each in made:
        yard.add(each)
    removed = yard.remove(3)
    kept = {path.name for path in removed.kept_in.iterdir()}
    sha256 = made[2].photo_sha256
    assert kept == {"slab.json", f"{sha256}.jpg", f"{sha256}-flat.png", f"{sha256}-overlay.jpg"}
    told = json.loads((removed.kept_in / "slab.json").read_text())
    assert json.loads(told["surveys"][0]["record"]) == made[2].record
    assert told["log"][0]["name"] == "storm oak" and len(told["outlines"]) == 3
    assert yard.stocktake() == []
    with pytest.raises(NoSuchSlab, match="Slab 3 was removed"):
        yard.slab(3)
    with pytest.raises(NoSuchSlab, match="no slab 77"):
        yard.remove(77)
    filed = yard.add(made[2])
    assert filed.slab == 4 and not filed.already
    assert (removed.kept_in / f"{sha256}.jpg").read_bytes() == made[2].photo.read_bytes()
    assert yard.stocktake() == []


def test_odd_names_do_no_harm(scratch, yard):
    made = filing(scratch, 0, SlabFacts(log="Öl'; DROP TABLE slabs;--", note="bytes \udcff that are no letters"))
    yard.add(replace(made, photo_name="photo\udcff.jpg"))
    strange = scratch / "photo.jpg;rm -rf"
    strange.write_bytes(random.Random(1).randbytes(100))
    yard.add(replace(filing(scratch, 1, size=100), photo=strange))
    rows = yard.slabs()
    assert rows[0].log == "Öl'; DROP TABLE slabs;--"
    assert yard.slab(2).surveys[0].original.suffix == ""
    assert yard.stocktake() == []


def test_the_bars_are_remembered(yard):
    assert yard.settings.print_bars is None
    yard.settings.set_print_bars(99.8, 100.1)
    yard.settings.set_print_bars(99.7, 100.2)
    with Yard.open(yard.folder) as again:
        bars = again.settings.print_bars
        assert (bars.across_mm, bars.down_mm) == (99.7, 100.2)
        assert abs((datetime.now(bars.measured_at.tzinfo) - bars.measured_at).total_seconds()) < 60
        for wrong in (3.93, 110.0, float("nan")):
            with pytest.raises(SettingRefused, match="drawn 100 mm long"):
                again.settings.set_print_bars(wrong, 100.0)
        assert again.settings.print_bars == bars
        assert again.settings.get("nothing", 5) == 5
