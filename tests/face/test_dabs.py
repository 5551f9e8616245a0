"""Dabs: what they do to the outline, how quickly, and what a file of them may hold."""

import json
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from grainlog.face import dabs as dab
from grainlog.face import find_face
from grainlog.face.dab_file import read_dabs
from grainlog.face.dabs import Dabs
from grainlog.face.drawn_file import DrawnFileError
from grainlog.face.find import Rough
from grainlog.face.judge import overlap

from . import made_view
from .test_find import _slab


def two_alike():
    upper, lower = _slab(0, 0) * [0.8, 0.5] + [200, 600], _slab(0, 0) * [0.8, 0.5] + [200, 50]
    plain = made_view.plain(upper, (2000, 1300))
    return upper, lower, replace(plain, rgb=np.maximum(plain.rgb, made_view.plain(lower, (2000, 1300)).rgb))


def test_a_dab_picks_the_slab():
    upper, lower, both = two_alike()
    for ring in (upper, lower):
        found = find_face(both, dabs=Dabs((ring.mean(0)[None],)))
        assert overlap(found.wood, ring) > 0.97
        codes = [note.code for note in found.notes]
        assert "dabbed" in codes and "two-candidates" not in codes


def test_of_two_slabs_a_word_is_said():
    *_, both = two_alike()
    assert "two-candidates" in [note.code for note in find_face(both).notes]


def test_of_two_slabs_the_largest_whole_one():
    """The larger one runs out of the photo."""
    small, large = _slab(0, 0) * [0.7, 0.5] + [300, 50], _slab(0, 0) * [1.3, 0.9] + [500, 500]
    plain = made_view.plain(small, (2000, 1300))
    both = replace(plain, rgb=np.maximum(plain.rgb, made_view.plain(large, (2000, 1300)).rgb))
    found = find_face(both)
    assert overlap(found.wood, small) > 0.97
    assert "largest-whole-slab" in [note.code for note in found.notes]
    # Pointed at, the other one is taken, and what is wrong with it is said.
    pointed = find_face(both, dabs=Dabs((np.array([[1500.0, 1000.0]]),)))
    assert "face-touches-frame" in [note.code for note in pointed.notes]


def test_dabs_mend_an_outline():
    """Two slabs of one wood, edge to edge, look like one; a dab on each side parts them."""
    left = np.array([[300, 300], [1700, 300], [1700, 620], [300, 620]], float)
    right = left + [0, 320]
    view = made_view.plain(np.array([[300, 300], [1700, 300], [1700, 940], [300, 940]], float), (2000, 1300))
    rgb = view.rgb.copy()
    h = rgb.shape[0]
    rgb[h - 942 : h - 620, 300:1700] = np.clip(rgb[h - 942 : h - 620, 300:1700].astype(int) - [26, 22, 14], 0, 255)
    view = replace(view, rgb=rgb)
    before = find_face(view).wood
    strokes = Dabs((np.array([[400.0, 460], [1600, 460]]),), (np.array([[400.0, 780], [1600, 780]]),))
    after = find_face(view, dabs=strokes).wood
    assert overlap(before, left) < 0.7
    assert overlap(after, left) > 0.95
    assert overlap(Rough.of(view).outline(dabs=strokes), left) > 0.75
    assert overlap(after, right) < 0.05


def test_leaning_falls_off_with_distance_and_look():
    view = made_view.make(905).flat_view(6.0)
    at = np.array([view.to_mm(np.array([[view.seen.shape[1] / 2, view.seen.shape[0] / 2]]))[0]])
    lean = dab.leaning(view, Dabs((at,)))
    pinned = dab.pins(view, Dabs((at,))) == 1
    assert lean[pinned].mean() > 0.5 * dab.LEAN and np.abs(lean).max() <= dab.LEAN
    assert (dab.leaning(view, Dabs((), (at,))) == -lean).all()
    y, x = np.indices(lean.shape)
    far = np.hypot(x - lean.shape[1] / 2, y - lean.shape[0] / 2) * 6 > 4 * dab.REACH_MM
    assert np.abs(lean[far]).max() < 0.01
    assert not dab.leaning(view, Dabs()).any() and not dab.pins(view, Dabs()).any()


PLAIN = made_view.plain(_slab(0, 0), (2000, 1300)).flat_view(10.0)


@given(st.lists(st.tuples(st.floats(-500, 3000), st.floats(-500, 3000)), min_size=1, max_size=5), st.booleans())
def test_pins_hold_whatever_is_dabbed(points, wood):
    stroke = (np.array(points),)
    pinned = dab.pins(PLAIN, Dabs(stroke) if wood else Dabs((), stroke))
    assert (pinned == (1 if wood else -1)).any()
    assert pinned.shape == PLAIN.seen.shape


def test_files_say_the_same_in_json_and_svg(tmp_path):
    (tmp_path / "a.json").write_text(json.dumps({"wood_px": [[10, 20], [[1, 2], [3, 4]]], "not_wood_px": [[[5.5, 6], [7, 8]]]}))
    (tmp_path / "a.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg"><g id="wood"><circle cx="10.5" cy="20.5" r="4"/>'
        '<polyline points="1.5,2.5 3.5,4.5"/></g><path class="not-wood" d="M6 6.5L7.5 8.5"/></svg>'
    )
    for name in ("a.json", "a.svg"):
        dabs = read_dabs(tmp_path / name, 100, 100)
        assert [stroke.tolist() for stroke in dabs.wood] == [[[10, 20]], [[1, 2], [3, 4]]]
        assert [stroke.tolist() for stroke in dabs.other] == [[[5.5, 6], [7, 8]]]


@pytest.mark.parametrize(
    "text, says",
    [
        ("", "are empty"),
        ("{", "neither JSON nor SVG"),
        ("[]", "no dab"),
        ('{"wood_px": []}', "no dab"),
        ('{"wood_px": 3}', "not a list"),
        ('{"wood_px": [[1, 2, 3]]}', "not a list of points"),
        ('{"wood_px": [[1, "a"]]}', "not a list of points"),
        ('{"wood_px": [[1, NaN]]}', "not a list of points"),
        ('{"wood_px": [[1, 200]]}', "outside the photo, which is 100 x 100"),
        ('<svg xmlns="http://www.w3.org/2000/svg"><circle cx="3" cy="3"/></svg>', "class wood or not-wood"),
        ('<svg xmlns="http://www.w3.org/2000/svg"><circle class="wood" cx="a" cy="3"/></svg>', "cannot be used"),
    ],
)
def test_bad_files_are_refused_in_a_sentence(tmp_path, text, says):
    (tmp_path / "dabs").write_text(text)
    with pytest.raises(DrawnFileError, match=says) as told:
        read_dabs(tmp_path / "dabs", 100, 100)
    assert str(told.value).endswith(".") and "\n" not in str(told.value)


def test_dabs_move_with_the_plane():
    moved = Dabs((np.array([[1.0, 2.0]]),), (np.array([[3.0, 4.0], [5.0, 6.0]]),)).moved(lambda px: px * 2)
    assert moved.wood[0].tolist() == [[2, 4]] and moved.other[0].tolist() == [[6, 8], [10, 12]]
    assert shapely.LineString(moved.other[0]).length == pytest.approx(np.hypot(4, 4))
