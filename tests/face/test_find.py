"""The whole finding of a face, on generated views whose truth is exact (made_view) and on rendered photos where present."""

from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from grainlog.face import (
    FaceNotFound,
    Features,
    confidence,
    decide,
    find_face,
    refine_outline,
)

from . import made_view
from .truth_viewer import TruthViewer

SAMPLES = sorted((Path(__file__).parents[2] / "sample_images").glob("*.jpg"))


def overlap(a, b):
    one, two = shapely.make_valid(shapely.Polygon(a)), shapely.make_valid(shapely.Polygon(b))
    return one.intersection(two).area / one.union(two).area


def signed_offset(found, true):
    """Mean distance of the found edge outside the true one, mm."""
    whole = shapely.Polygon(true)
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(shapely.Polygon(found).exterior, 5)))
    away = shapely.distance(whole.exterior, points)
    return float(np.where(shapely.contains(whole, points), -away, away).mean())


def _slab(turn, shift):
    x = np.linspace(-700, 700, 120)
    ring = np.vstack([np.column_stack([x, -200 + 15 * np.cos(x / 150)]), np.column_stack([x, 200 + 20 * np.sin(x / 180)])[::-1]])
    return ring @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) + np.array([1000, 650]) + shift


@pytest.mark.parametrize("turn, shift", [(0.0, 0.0), (0.13, 0.3), (-0.4, 0.21)])
def test_no_half_pixel_is_lost(turn, shift):
    """An ideal picture: area within 0.1 %, mean edge within a tenth of a pixel."""
    ring = _slab(turn, shift)
    found = find_face(made_view.plain(ring, (2000, 1300)))
    assert shapely.Polygon(found.wood).area == pytest.approx(shapely.Polygon(ring).area, rel=1e-3)
    assert abs(signed_offset(found.wood, ring)) < 0.1
    assert shapely.Polygon(found.wood).is_valid and shapely.Polygon(found.wood).exterior.is_ccw


def test_generated_views():
    """Four grounds with seeds that were not looked at while the method was built."""
    offsets = []
    for seed, ground in ((901, "concrete"), (902, "grass"), (903, "plank"), (904, "gravel")):
        made = made_view.make(seed, ground)
        found = find_face(made, thickness_mm=60)
        assert overlap(found.wood, made.wood) > 0.93, ground
        offsets.append(abs(signed_offset(found.wood, made.wood)))
        face = shapely.Polygon(found.wood)
        assert shapely.Polygon(found.silhouette).buffer(0.1).contains(face)
        assert shapely.Polygon(found.bark).buffer(0.1).contains(face)
        assert 0 < found.confidence <= 1
    assert np.median(offsets) < 2


def test_sample_photos():
    """The committed photos seen with their true camera, against what is asked of them.

    None was trained on, but the method was looked at on some of them while it was built (see the README).
    """
    overlaps, offsets = [], []
    for photo in SAMPLES:
        viewer = TruthViewer.read(photo)
        found, true = find_face(viewer, viewer.truth["thickness_mm"]), viewer.outline_mm("wood_px")
        overlaps.append(overlap(found.wood, true))
        offsets.append(abs(signed_offset(found.wood, true)))
    assert len(overlaps) >= 10
    assert np.median(overlaps) > 0.99 and min(overlaps) > 0.95
    assert np.median(offsets) < 1 and max(offsets) < 6


def test_bare_ground_is_no_slab():
    rgb = np.full((900, 1400, 3), 128, np.uint8)
    empty = replace(made_view.plain(_slab(0, 0), (1400, 900)), rgb=rgb)
    with pytest.raises(FaceNotFound, match="draw its outline"):
        find_face(empty)


def test_a_slab_that_runs_out_of_the_photo_is_noted():
    ring = _slab(0, 0) + np.array([450.0, 0.0])
    found = find_face(made_view.plain(ring, (2000, 1300)))
    assert "face-touches-frame" in [note.code for note in found.notes]


def test_a_card_over_the_edge_is_noted_and_one_beside_it_is_not():
    ring = _slab(0, 0)
    card = np.array([[-100, -135], [100, -135], [100, 135], [-100, 135]], float)
    plain = made_view.plain(ring, (2000, 1300))
    for place, expected in (((1000, 850), True), ((1000, 1100), False), ((1000, 650), False)):
        found = find_face(replace(plain, cards=(card + place,), on_face=(place[1] < 1000,)))
        assert ("edge-under-card" in [note.code for note in found.notes]) is expected


def test_a_void_is_found():
    ring = _slab(0, 0)
    turn = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    void = np.column_stack([np.cos(turn) * 90, np.sin(turn) * 35]) + [900, 660]
    plain = made_view.plain(ring, (2000, 1300), outside=(70, 75, 80))
    share = made_view._cover(void, (1300, 2000))[..., None]
    ground = made_view.plain(np.array([[0.0, 0], [1, 0], [0, 1]]), (2000, 1300), outside=(70, 75, 80)).rgb
    rgb = np.round(plain.rgb + share * (ground.astype(float) - plain.rgb)).astype(np.uint8)
    found = find_face(replace(plain, rgb=rgb))
    assert len(found.holes) == 1
    assert overlap(found.holes[0], void) > 0.95
    assert find_face(plain).holes == ()


def test_a_drawn_outline_moves_to_the_edge_or_stays():
    ring = _slab(0.1, 0.0)
    plain = made_view.plain(ring, (2000, 1300))
    drawn = shapely.get_coordinates(shapely.Polygon(ring).buffer(3.0, join_style="mitre").exterior)[:-1]
    moved = refine_outline(plain, drawn)
    assert abs(signed_offset(moved.wood, ring)) < 0.3
    kept = refine_outline(plain, drawn, within_mm=0)
    assert shapely.Polygon(kept.wood).equals(shapely.Polygon(drawn))
    assert [note.code for note in kept.notes] == ["outline-drawn"]


@pytest.mark.parametrize("bad", [np.zeros((3, 2)), np.zeros((2, 2)), np.array([[0, 0], [1, np.nan], [2, 2]]), np.zeros((0, 2))])
def test_a_drawn_outline_without_area_is_refused(bad):
    with pytest.raises(FaceNotFound, match="draw it again"):
        refine_outline(made_view.plain(_slab(0, 0), (2000, 1300)), bad)


def test_a_hint_picks_the_slab():
    """Two alike: the hint says which."""
    upper, lower = _slab(0, 0) * [0.8, 0.5] + [200, 600], _slab(0, 0) * [0.8, 0.5] + [200, 50]
    plain = made_view.plain(upper, (2000, 1300))
    both = np.maximum(plain.rgb, made_view.plain(lower, (2000, 1300)).rgb)
    for ring in (upper, lower):
        hint = shapely.get_coordinates(shapely.Polygon(ring).buffer(30).exterior)
        assert overlap(find_face(replace(plain, rgb=both), hint=hint).wood, ring) > 0.97


@given(st.integers(3, 9), st.integers(3, 9), st.integers(0, 2**31))
def test_greatest_sum_against_trying_all(h, w, seed):
    values = np.random.default_rng(seed).normal(-0.2, 1, (h, w))
    best, (top, bottom, left, right) = decide._greatest_sum(values)
    every = max(values[a:b, c:d].sum() for a in range(h) for b in range(a + 1, h + 1) for c in range(w) for d in range(c + 1, w + 1))
    assert best == pytest.approx(max(every, 0), abs=1e-4)
    if every > 0:
        assert values[top : bottom + 1, left : right + 1].sum() == pytest.approx(best, abs=1e-4)


unit = st.floats(0, 1)


@given(st.builds(Features, unit, unit, st.floats(-3, 3), unit, unit, unit, unit, unit, unit), st.sampled_from([f.name for f in fields(Features)]), unit)
def test_confidence_grows_with_every_feature(features, name, more):
    before, after = (confidence.chance_of_sound(part) for part in (features, replace(features, **{name: getattr(features, name) + more})))
    assert 0 <= before <= after <= 1
