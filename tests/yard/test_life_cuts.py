"""Cuts: areas and volumes add up, the old outline stays, pieces carry letters, figures follow the newest outline."""

import json
import math
import sqlite3
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grainlog.fit.defects import wishes_from
from grainlog.fit.errors import PieceRefused
from grainlog.fit.piece import straight
from grainlog.yard import NoSuchSlab, SlabFacts, SlabQuery, Yard, YardError, database
from grainlog.yard.errors import LifeRefused, RemovalRefused
from grainlog.yard.fit_request import FindRequest
from grainlog.yard.life_cut_shape import Cut, halves, record_of_part
from grainlog.yard.tags import letter_of, number_of, piece_number, root_of, tag_of
from tests.yard.filings import filing, record

A, B, C, D = (piece_number(1, letter) for letter in "ABCD")


def fill(yard: Yard, photos: Path) -> None:
    """Slabs 1 and 2: 2700 x 600 x 63.5 mm, a hole of 300 mm2 at (100..120, 100..130)."""
    for seed in range(2):
        yard.add(filing(photos, seed, side="bark"))


def test_tags_and_numbers_say_the_same():
    assert [tag_of(number) for number in (12, A, B, piece_number(999_999, "Z"))] == ["12", "1A", "1B", "999999Z"]
    for text, number in (("12", 12), ("12a", piece_number(12, "A")), (" #12 B ", piece_number(12, "B"))):
        assert number_of(text) == number
    for wrong in ("", "0", "A12", "12AA", "-3", "1000000", "12.5"):
        with pytest.raises(NoSuchSlab, match="is not the tag of a slab"):
            number_of(wrong)


@given(st.integers(1, 999_999), st.sampled_from(["", *"ABCXYZ"]))
def test_every_tag_comes_back(root, letter):
    number = number_of(f"{root}{letter}")
    assert tag_of(number) == f"{root}{letter}" and root_of(number) == root and (letter_of(number) or "") == letter


def test_a_crosscut_makes_two_pieces_whose_areas_and_volumes_add_up(filled_yard):
    before = filled_yard.slab(1)
    done = filled_yard.cuts.cut(1, Cut("across", 1000.0, 10.0), note="for two benches")
    assert done.numbers == (A, B) and done.faces == ("bark",)
    start, end = filled_yard.slab(A), filled_yard.slab(B)
    assert (start.tag, end.tag, start.piece_of) == ("1A", "1B", 1)
    assert start.figures["length_mm"].value == pytest.approx(995.0)
    assert end.figures["length_mm"].value == pytest.approx(1695.0)
    kerf = 10.0 * 600.0
    # The record's own area leaves the hole in; the outline's area has it out.
    area = 2700.0 * 600.0 - 300.0
    assert start.figures["area_mm2"].value + end.figures["area_mm2"].value == pytest.approx(area - kerf)
    volume = sum(filled_yard.slab(number).figures["volume_mm3"].value for number in (A, B))
    assert volume == pytest.approx((area - kerf) * 63.5)
    # Longer is less sure by the place of the cut: 2 mm in quadrature with the survey's own.
    assert 2.0 < end.figures["length_mm"].u < 3.0
    assert before.figures["length_mm"].value == filled_yard.slab(1).figures["length_mm"].value  # the old one stays
    assert filled_yard.lives.of(1).status == "cut up" and not filled_yard.lives.of(1).present
    assert [row.tag for row in filled_yard.slabs()] == ["1A", "1B", "2"]
    assert [row.tag for row in filled_yard.slabs(SlabQuery(gone_too=True))] == ["1", "1A", "1B", "2"]
    assert [row.number for row in filled_yard.slabs(SlabQuery(text="1b"))] == [B]
    assert [row.number for row in filled_yard.slabs(SlabQuery(status="cut up", text="1b"))] == [1]  # its note says so
    assert filled_yard.stocktake() == []


def test_pieces_take_along_who_owns_them_but_not_their_place(filled_yard):
    filled_yard.lives.tell([1], owner="Ann", price=8.0, figure="curl")
    filled_yard.places.lay([1, 2], "barn", "A")
    filled_yard.cuts.cut(1, Cut("along", 200.0, 3.0))
    left, right = filled_yard.lives.of(A), filled_yard.lives.of(B)
    assert left == right and (left.owner, left.price, left.figure, left.shed) == ("Ann", 8.0, "curl", None)
    assert filled_yard.lives.of(2).layer == 1
    # Left is the side of y > 0: from the left edge 200 mm, less half the kerf.
    assert filled_yard.slab(A).figures["width_mean_mm"].value == pytest.approx(198.5)
    assert filled_yard.slab(B).figures["width_mean_mm"].value == pytest.approx(398.5)


def test_a_piece_of_a_piece_goes_on_with_the_letters(filled_yard):
    filled_yard.cuts.cut(1, Cut("across", 1000.0, 10.0))
    assert filled_yard.cuts.cut(B, Cut("across", 800.0, 10.0)).numbers == (C, D)
    assert filled_yard.slab(D).piece_of == B and filled_yard.slab(D).order == 1
    filled_yard.remove(D)
    filled_yard.lives.set_status([A], "gone")
    assert filled_yard.cuts.cut(C, Cut("across", 300.0, 10.0)).numbers == (piece_number(1, "E"), piece_number(1, "F"))


def test_trimming_keeps_the_number_and_starts_a_new_outline(filled_yard, scratch):
    filled_yard.cuts.cut(1, Cut("across", 200.0, 10.0), keep="end")
    entry = filled_yard.slab(1)
    assert len(entry.surveys) == 2 and entry.surveys[0].cut_from == entry.surveys[1].id
    assert entry.figures["length_mm"].value == pytest.approx(2495.0)
    assert [change.what for change in filled_yard.lives.history(1)] == ["trimmed"]
    filled_yard.cuts.cut(1, Cut("along", 100.0, 0.0), keep="right")
    assert filled_yard.slab(1).figures["width_mean_mm"].value == pytest.approx(500.0)
    # A photo of the trimmed slab speaks again for itself.
    filled_yard.add(filing(scratch, 9, SlabFacts(number=1), side="bark", length_mm=2490.0, taken="2025-06-04T10:20:30"))
    assert filled_yard.slab(1).figures["length_mm"].value == 2490.0
    assert filled_yard.stocktake() == []


def test_both_faces_are_cut_where_they_can_be_laid_on_each_other(filled_yard, scratch):
    """A wedge, so that one way round fits; the heart face is seen mirrored and turned end for end."""

    def wedge(number: int | None, side: str, seed: int, points: list) -> int:
        made = filing(
            scratch, seed, SlabFacts(number=number, log="w"), side=side, taken=f"2025-03-0{seed - 20}T10:00:00"
        )
        made.record["outline"] = {"wood_mm": points, "bark_mm": None, "wood_holes_mm": []}
        return filled_yard.add(made).slab

    bark = [[0, -300], [2000, -100], [2000, 100], [0, 300]]
    heart = [[0, -100], [2000, -300], [2000, 300], [0, 100]]
    number = wedge(None, "heart", 21, heart)
    wedge(number, "bark", 22, bark)
    done = filled_yard.cuts.cut(number, Cut("across", 500.0, 0.0))
    assert set(done.faces) == {"bark", "heart"} and done.left_behind == ()
    start = filled_yard.slab(done.numbers[0])
    assert set(start.faces) == {"bark", "heart"} and not start.one_face_only
    # Widths 600 and 500 at the ends, 500 long, from either face.
    for survey in start.surveys:
        assert survey.record["face"]["area_mm2"]["value"] == pytest.approx(500 * 550, rel=1e-6)


def test_a_face_that_cannot_be_laid_on_the_other_is_left_behind(filled_yard, scratch):
    # A rectangle: either way round fits, so nobody knows which end was cut off on the other face.
    number = None
    for seed, side in ((30, "bark"), (31, "heart")):
        facts = SlabFacts(number=number, log="plank")
        made = filing(scratch, seed, facts, side=side, taken=f"2025-03-{seed - 20}T10:00:00")
        made.record["outline"] = {"wood_mm": [[0, -300], [2700, -300], [2700, 300], [0, 300]]}
        number = filled_yard.add(made).slab
    done = filled_yard.cuts.cut(number, Cut("across", 1000.0, 0.0), keep="start")
    assert done.faces == ("heart",) and done.left_behind == ("bark",)
    entry = filled_yard.slab(number)
    assert entry.one_face_only and entry.faces == ("heart",)
    assert entry.figures["volume_mm3"].value == pytest.approx(1000.0 * 600.0 * 63.5)


def test_flattening_takes_thickness_and_keeps_the_outline(filled_yard):
    filled_yard.cuts.flatten(1, (57.0, 58.0, 59.0))
    entry = filled_yard.slab(1)
    assert entry.figures["thickness_mm"].value == 58.0 and entry.figures["length_mm"].value == 2700.0
    assert entry.figures["volume_mm3"].value == pytest.approx(2700 * 600 * 58.0)
    share = entry.figures["board_feet"].u / entry.figures["board_feet"].value
    assert share == pytest.approx(math.hypot(4000 / 1620000, entry.figures["thickness_mm"].u / 58.0), rel=1e-6)
    with pytest.raises(LifeRefused, match="cannot make a slab thicker"):
        filled_yard.cuts.flatten(1, (90.0,))


def test_checks_are_clipped_and_those_cut_through_meet_the_new_end():
    made = record("0" * 64)
    made["checks"] = [
        {"kind": "surface", "path_mm": [[900, 0], [1100, 0]], "length_mm": 200.0, "max_width_mm": 1.0},
        {"kind": "end", "path_mm": [[0, 50], [150, 50]], "length_mm": 150.0, "max_width_mm": 2.0},
    ]
    cut = Cut("across", 1000.0, 0.0)
    where = halves(np.array(made["outline"]["wood_mm"], float), cut)
    start = record_of_part(made, where["start"], cut, 63.5, {"act": 1})
    end = record_of_part(made, where["end"], cut, 63.5, {"act": 1})
    assert [(check["kind"], check["length_mm"]) for check in start["checks"]] == [("end", 100.0), ("end", 150.0)]
    assert [(check["kind"], check["length_mm"]) for check in end["checks"]] == [("end", 100.0)]
    assert end["checks"][0]["path_mm"][0][0] == pytest.approx(0.0)
    assert any(warning["code"] == "worked-out" for warning in end["warnings"])


@settings(max_examples=40, deadline=None)
@given(at=st.floats(60, 2640), kerf=st.floats(0, 12), thickness=st.floats(20, 120))
def test_wherever_the_cut_nothing_is_gained_and_only_the_kerf_lost(at, kerf, thickness):
    made = record("0" * 64, thickness_mm=thickness)
    cut = Cut("across", at, kerf)
    parts = halves(np.array(made["outline"]["wood_mm"], float), cut)
    told = [record_of_part(made, half, cut, thickness, {"act": 1}) for half in parts.values()]
    area = 2700.0 * 600.0 - 300.0
    lost = area - sum(each["face"]["area_mm2"]["value"] for each in told)
    assert 0 <= lost + 1 and lost <= kerf * 600.0 + 2.0
    assert all(json.dumps(each, allow_nan=False) for each in told)
    assert all(each["outline"]["wood_mm"] and min(p[0] for p in each["outline"]["wood_mm"]) >= -0.01 for each in told)


@pytest.mark.parametrize(
    "cut, keep, says",
    [
        (Cut("across", 3000.0, 3.0), None, "misses the slab, which is 2700 mm"),
        (Cut("across", 1.0, 3.0), None, "misses the slab"),
        (Cut("along", 700.0, 3.0), None, "which is 600 mm that way"),
        (Cut("across", 10.0, 3.0), None, "too little on one side"),
        (Cut("across", 1000.0, 3.0), "left", "keep one of these"),
    ],
)
def test_bad_cuts_are_a_sentence_and_change_nothing(filled_yard, cut, keep, says):
    with pytest.raises(LifeRefused, match=says) as told:
        filled_yard.cuts.cut(1, cut, keep)
    assert str(told.value).endswith(".")
    assert [row.tag for row in filled_yard.slabs()] == ["1", "2"] and filled_yard.lives.of_all() == {}


def test_a_slab_with_pieces_is_not_removed_before_them(filled_yard):
    filled_yard.cuts.cut(1, Cut("across", 1000.0, 10.0))
    with pytest.raises(RemovalRefused, match="lives on in 1A and 1B"):
        filled_yard.remove(1)
    photo = filled_yard.slab(A).surveys[0].original
    assert filled_yard.remove(A).kept_in.name == "slab-1A"
    assert photo.is_file()  # slab 1 still shows it
    filled_yard.remove(B)
    filled_yard.remove(1)
    assert not photo.is_file() and filled_yard.stocktake() == []
    with pytest.raises(LifeRefused, match="cut up"):
        filled_yard.cuts.cut(2, Cut("across", 900.0, 1.0))
        filled_yard.cuts.cut(2, Cut("across", 900.0, 1.0))


@pytest.mark.parametrize(
    "act",
    [
        lambda yard: yard.cuts.cut(1, Cut("across", 1000.0, 3.0)),
        lambda yard: yard.cuts.cut(1, Cut("across", 1000.0, 3.0), keep="end"),
        lambda yard: yard.cuts.flatten(1, (50.0,)),
        lambda yard: yard.places.lay([2, 1], "barn", "A"),
        lambda yard: yard.hauls.keep("april", people=[("ann", 1.0)], log_names=["storm oak"]),
    ],
)
def test_an_act_that_the_disk_refuses_leaves_nothing_half_done(filled_yard, monkeypatch, act):
    def full(_):
        raise sqlite3.OperationalError("database or disk is full")

    before = (filled_yard.slabs(SlabQuery(gone_too=True)), filled_yard.lives.of_all(), filled_yard.hauls.all())
    with monkeypatch.context() as patch:
        patch.setattr(database, "commit", full)
        with pytest.raises(YardError, match="disk is full"):
            act(filled_yard)
    after = (filled_yard.slabs(SlabQuery(gone_too=True)), filled_yard.lives.of_all(), filled_yard.hauls.all())
    assert after == before and filled_yard.stocktake() == []
    act(filled_yard)
    assert filled_yard.stocktake() == []


def marks(yard, number) -> list[tuple]:
    return [(one.defect.kind, one.defect.points.round(1).tolist(), one.note) for one in yard.fits.defects.of(number)]


def test_pieces_inherit_the_marks_that_lie_in_them(filled_yard):
    """The slab is 2700 x 600; cut at 1000 with 10 mm of kerf, what lay at (x, y) lies at (x - 1005, y - 300) in the second piece."""
    draw = filled_yard.fits.defects.draw
    draw(1, "knot", [[300, 200]], 60.0, note="loose")
    draw(1, "pith", [[100, 310], [2600, 310]], 8.0)
    draw(1, "rot", [[900, 400], [1200, 400], [1200, 500], [900, 500]], area=True)
    taken_back = draw(1, "metal", [[2000, 100]], 5.0)
    filled_yard.fits.defects.take_back(taken_back.number)
    done = filled_yard.cuts.cut(1, Cut("across", 1000.0, 10.0))
    assert done.lost_marks == ()
    assert marks(filled_yard, A)[:2] == [
        ("knot", [[300, -100]], "loose"),
        ("pith", [[100, 10], [995, 10]], ""),
    ]
    assert marks(filled_yard, B)[0] == ("pith", [[0, 10], [1595, 10]], "")
    rot = [filled_yard.fits.defects.of(number)[-1].defect for number in (A, B)]
    assert [one.shape.bounds for one in rot] == [(900, 100, 995, 200), (0, 100, 195, 200)]
    # What is avoided is avoided on the piece: beside the rot there is room for 400, not for 410 (600 wide).
    keep_off = wishes_from({"avoid": ["rot"], "fill": ["void"], "leave": ["pith", "knot"]}, 0.0)
    for width, holds in ((395, True), (410, False)):
        request = FindRequest((straight(990, width),), slabs=(A,), wishes=keep_off)
        assert bool(filled_yard.fits.find(request).answers) == holds
    assert filled_yard.stocktake() == []


def test_a_trimmed_slab_keeps_the_marks_that_are_left_and_those_before_are_history(filled_yard):
    draw = filled_yard.fits.defects.draw
    off, kept = draw(1, "knot", [[300, 200]], 60.0), draw(1, "shake", [[1500, 200], [1800, 250]], 4.0)
    filled_yard.cuts.cut(1, Cut("across", 1000.0, 10.0), keep="end")
    assert marks(filled_yard, 1) == [("shake", [[495, -100], [795, -50]], "")]
    for number in (off.number, kept.number):
        with pytest.raises(PieceRefused, match="There is no mark"):
            filled_yard.fits.defects.take_back(number)
    filled_yard.cuts.flatten(1, (55.0,))
    assert marks(filled_yard, 1) == [("shake", [[495, -100], [795, -50]], "")]
    assert filled_yard.stocktake() == []
