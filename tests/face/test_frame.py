"""The slab frame, and which way round a later outline lies."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grainlog.errors import GrainlogError, WrongUse
from grainlog.face.frame import OutlineError, align_to, slab_frame, smallest_rectangle

# A busy machine is no failure: the clock has no say in these tests.
UNHURRIED = settings(deadline=None)

# A slab that tapers, with a bulge on one side: no symmetry at all.
SLAB = np.array(
    [[0, -250], [900, -240], [1100, -330], [1300, -235], [2400, -200], [2400, 180], [1200, 240], [0, 260.0]]
)

angles = st.floats(min_value=-math.pi, max_value=math.pi)
places = st.tuples(st.floats(-5000, 5000), st.floats(-5000, 5000))
shapes = st.lists(st.tuples(st.floats(-2000, 2000), st.floats(-500, 500)), min_size=3, max_size=40)


def turned(points, angle, place=(0.0, 0.0)):
    cosine, sine = math.cos(angle), math.sin(angle)
    return points @ np.array([[cosine, sine], [-sine, cosine]]) + place


@UNHURRIED
@given(angles, places)
def test_a_turned_rectangle_gives_itself(angle, place):
    box = np.array([[0, 0], [2000, 0], [2000, 600], [0, 600.0]])
    found = smallest_rectangle(turned(box, angle, place))
    assert found.length == pytest.approx(2000, abs=1e-6) and found.width == pytest.approx(600, abs=1e-6)
    assert found.centre == pytest.approx(turned(np.array([[1000, 300.0]]), angle, place)[0], abs=1e-6)
    assert math.sin(found.angle - angle) == pytest.approx(0, abs=1e-9)


@UNHURRIED
@given(shapes, angles, places)
def test_the_wood_fills_the_frame(points, angle, place):
    points = turned(np.array(points), angle, place)
    try:
        frame = slab_frame(points)
    except OutlineError:
        return
    there = frame.to_slab(points)
    assert there.min(axis=0) == pytest.approx([0, -frame.width / 2], abs=1e-6)
    assert there.max(axis=0) == pytest.approx([frame.length, frame.width / 2], abs=1e-6)
    assert frame.length >= frame.width
    assert frame.to_plane(there) == pytest.approx(points, abs=1e-6)


@UNHURRIED
@given(angles, places)
def test_the_frame_is_right_handed_and_starts_at_the_left_end(angle, place):
    frame = slab_frame(turned(SLAB, angle, place))
    origin, ahead, beside = frame.to_plane([[0, 0], [1, 0], [0, 1]])
    assert np.linalg.det([ahead - origin, beside - origin]) == pytest.approx(1)
    assert ahead[0] >= origin[0] - 1e-9
    assert not frame.flipped


def test_the_butt_is_where_the_person_says():
    left, right = slab_frame(SLAB, butt="left"), slab_frame(SLAB, butt="right")
    assert left.origin[0] < 100 and not left.flipped
    assert right.origin[0] > 2300 and right.flipped
    assert right.to_slab(SLAB) == pytest.approx([left.length, 0] - left.to_slab(SLAB), abs=1e-9)


def test_an_upright_slab_starts_at_its_lower_end():
    box = np.array([[0, 0], [500, 0], [500, 2000], [0, 2000.0]])
    for wood in (box, box[::-1], np.roll(box, 1, axis=0)):
        frame = slab_frame(wood)
        assert frame.origin == pytest.approx([250, 0]) and frame.angle == pytest.approx(math.pi / 2)
    assert slab_frame(box, butt="top").origin == pytest.approx([250, 2000])
    with pytest.raises(WrongUse, match="bottom or top"):
        slab_frame(box, butt="left")
    with pytest.raises(WrongUse, match="side of the photo"):
        slab_frame(box, butt="north")


@pytest.mark.parametrize(
    "points",
    [np.zeros((3, 2)), [[0, 0], [1, 1], [2, 2]], [[0, 0], [1, 1]], [[0, 0], [1, np.nan], [2, 0]], np.zeros((4, 3))],
)
def test_what_has_no_area_is_refused(points):
    with pytest.raises(GrainlogError):
        slab_frame(points)


@pytest.mark.parametrize("angle", [0.0, 0.4, 1.5, 2.0, -1.2])
@pytest.mark.parametrize("same_face", [True, False])
def test_the_same_end_is_found_however_the_slab_lies(angle, same_face):
    """The slab is photographed again turned by any angle, or turned over, and every point comes back to its place."""
    first = slab_frame(SLAB).to_slab(SLAB)
    later_plane = turned(SLAB if same_face else SLAB * [1, -1], angle, (300.0, -70.0))
    later = slab_frame(later_plane).to_slab(later_plane)
    found = align_to(first, later, same_face)
    assert found.iou == pytest.approx(1.0)
    assert not found.ambiguous
    assert found.mirrored is not same_face
    assert found.to_first(later) == pytest.approx(first, abs=1e-6)


def test_turning_end_over_end_is_half_a_turn_more():
    first = slab_frame(SLAB).to_slab(SLAB)
    over_the_side = slab_frame(SLAB * [1, -1]).to_slab(SLAB * [1, -1])
    over_the_end = slab_frame(SLAB * [-1, 1]).to_slab(SLAB * [-1, 1])
    assert not align_to(first, over_the_side, same_face=False).rotate
    assert align_to(first, over_the_end, same_face=False).rotate


def test_a_trimmed_end_does_not_confuse():
    first = slab_frame(SLAB).to_slab(SLAB)
    trimmed = first.copy()
    trimmed[:, 0] = np.maximum(trimmed[:, 0], 300)
    later = slab_frame(turned(trimmed, math.pi)).to_slab(turned(trimmed, math.pi))
    found = align_to(first, later, same_face=True)
    assert found.rotate and not found.ambiguous
    # The smallest rectangle of the trimmed slab is turned a little, hence millimetres, not fractions of one.
    assert found.to_first(later)[:, 0].min() == pytest.approx(300, abs=10)


def test_a_symmetric_slab_is_said_to_be_ambiguous():
    box = np.array([[0, -300], [2000, -300], [2000, 300], [0, 300.0]])
    found = align_to(box, box, same_face=True)
    assert found.ambiguous and not found.rotate and found.iou == pytest.approx(1)


def test_another_slab_is_said_to_be_ambiguous():
    first = slab_frame(SLAB).to_slab(SLAB)
    assert align_to(first, first * [0.5, 1.0], same_face=True).ambiguous
