"""The band along the edge: geometry, the half pixel, and which of several steps of colour is the wood edge."""

import cv2
import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from skimage.draw import polygon2mask

from grainlog.face import opinion, strip
from grainlog.face.edge import two_lines
from grainlog.face.sharpen import sharpen
from grainlog.scale.flat import FlatView


def _view(rgb, mm_per_px=1.0):
    return FlatView(rgb, np.ones(rgb.shape[:2], bool), mm_per_px, np.array([0.5, rgb.shape[0] * mm_per_px - 0.5]), (), (),
                    np.array([0.0, 0.0, 2000.0]))


def _srgb(light):
    return np.round(255 * np.where(light < 0.0031308, 12.92 * light, 1.055 * np.clip(light, 1e-9, 1) ** (1 / 2.4) - 0.055))


def _circle(radius, middle, count=720):
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return np.column_stack([np.cos(turn), np.sin(turn)]) * radius + middle


def test_unrolled_normals_of_a_circle_point_outwards():
    view = _view(np.zeros((400, 400, 3), np.uint8))
    for ring in (_circle(120, 200), _circle(120, 200)[::-1]):
        found = strip.unroll(view, ring, 4.0, np.arange(-10.0, 11.0), 5.0)
        radii = np.linalg.norm(found.at(np.full(len(found.points), 7.0)) - 200, axis=1)
        assert np.allclose(radii, 127, atol=0.05)


@settings(max_examples=25, deadline=None)
@given(st.floats(60, 90), st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.booleans())
def test_a_step_is_placed_within_a_tenth_of_a_pixel(radius, dx, dy, dark_inside):
    """Ideal disc, each pixel with the light of the area covered; circle centre and radius anywhere."""
    middle = np.array([120 + dx, 120 + dy])
    x, y = np.meshgrid(np.arange(240) + 0.5, 240 - np.arange(240) - 0.5)
    cover = np.clip(radius - np.hypot(x - middle[0], y - middle[1]) + 0.5, 0, 1)  # exact to 1e-3 for radii of 60 px and more
    inside, outside = (0.08, 0.5) if dark_inside else (0.5, 0.08)
    rgb = np.repeat(_srgb(outside + cover * (inside - outside))[..., None], 3, axis=2).astype(np.uint8)
    found = strip.unroll(strip.linear_light(_view(rgb)), _circle(radius + 1.3, middle), 3.0, np.arange(-12.0, 12.01, 0.5), 6.0)
    offset, _ = sharpen(found)
    radii = np.linalg.norm(found.at(offset) - middle, axis=1)
    assert abs(radii.mean() - radius) < 0.1
    assert radii.std() < 0.15


def _banded(widths, lights, noise=0.03):
    """A straight strip seen as one: light changes across it only; offsets from -90 to 60 mm."""
    offsets = np.arange(-91.5, 61.0, 3.0)
    level = np.array(lights, float)[np.searchsorted(np.cumsum(widths) - 90, offsets)]
    rng = np.random.default_rng(4)
    rgb = np.clip(level[None] * (1 + noise * rng.standard_normal((300, len(offsets), 1))), 0, 255)
    points = _circle(300, 0, 300)
    return strip.Strip(points, points / 300, offsets, rgb.astype(np.float32), np.ones(rgb.shape[:2], bool))


HEART, SAP, BARK, GROUND = (120, 84, 60), (205, 176, 138), (66, 58, 52), (150, 148, 142)


@pytest.mark.parametrize(
    "widths, colours, wood, outer",
    [
        ((90, 99), (HEART, GROUND), 0, 0),
        ((90, 15, 99), (HEART, BARK, GROUND), 0, 15),
        ((60, 30, 99), (HEART, SAP, GROUND), 0, 0),
        ((51, 33, 15, 99), (HEART, SAP, BARK, GROUND), -6, 9),
    ],
    ids=["bare", "bark", "sapwood", "sapwood and bark"],
)
def test_bark_is_not_wood_and_sapwood_is(widths, colours, wood, outer):
    found = _banded(widths, colours)
    n = len(found.points)
    lines = two_lines(found, np.zeros(n, bool), np.full(found.seen.shape, -1, np.int8), np.full(n, -20.0))
    assert np.abs(lines.wood - wood).max() <= 6.0  # two samples; `sharpen` places it
    assert np.abs(lines.outer - outer).max() <= 6.0


def test_a_card_on_the_face_is_wood_and_one_on_the_floor_is_not():
    found = _banded((90, 99), (HEART, GROUND))
    known = np.full(found.seen.shape, -1, np.int8)
    white = np.array([240.0, 240, 240], np.float32)
    for rows, kind in ((slice(40, 70), 0), (slice(150, 180), 2)):
        columns = found.offsets < -3 if kind == 0 else found.offsets > 3
        found.rgb[rows, columns] = white
        known[rows.start - 3 : rows.stop + 3] = -2
        known[rows, columns] = kind
    n = len(found.points)
    lines = two_lines(found, np.zeros(n, bool), known, np.full(n, -20.0))
    assert np.abs(lines.wood).max() <= 6.0


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.floats(5, 55), st.floats(5, 35)), min_size=3, max_size=3))
def test_cover_adds_up_to_the_area(corners):
    """Against shapely's polygon area; a polygon of three corners cannot cross itself."""
    ring = np.array(corners)
    view = _view(np.zeros((40, 60, 3), np.uint8))
    area = shapely.Polygon(ring).area
    assume(area > 2 * shapely.Polygon(ring).length)  # a sliver thinner than a pixel is not what it is for
    assert opinion.cover(ring, view).sum() == pytest.approx(area, abs=0.03 * shapely.Polygon(ring).length + 0.3)


def test_cover_agrees_with_scikit_image():
    """Centres of pixels inside a polygon, against skimage.draw.polygon2mask."""
    ring = np.array([[8.2, 6.1], [50.7, 9.4], [44.3, 33.8], [15.9, 30.2]])
    view = _view(np.zeros((40, 60, 3), np.uint8))
    theirs = polygon2mask((40, 60), view.to_px(ring)[:, ::-1])
    ours = opinion.cover(ring, view)
    assert theirs[ours > 0.8].all() and not theirs[ours < 0.2].any()
    assert cv2.countNonZero((ours > 0.5).astype(np.uint8)) == pytest.approx(theirs.sum(), rel=0.01)
