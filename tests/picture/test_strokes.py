"""Lines lie where they are meant, to a fraction of a pixel, and dashes keep their lengths."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grainlog.picture.palette import BARK_EDGE, WOOD_EDGE
from grainlog.picture.strokes import dashes, draw_arrow_heads, draw_line


def length(stroke):
    return np.linalg.norm(np.diff(stroke, axis=0), axis=1).sum()


@given(
    st.lists(st.tuples(st.floats(-500, 500), st.floats(-500, 500)), min_size=2, max_size=12),
    st.floats(1, 80),
    st.floats(1, 80),
)
def test_dashes_have_their_length_and_cover_their_share(points, dash, gap):
    points = np.array(points)
    total = length(points)
    strokes = dashes(points, dash, gap)
    lengths = np.array([length(stroke) for stroke in strokes])
    assert np.all(lengths[:-1] == pytest.approx(dash, rel=1e-6, abs=1e-6)) or len(lengths) < 2
    expected = sum(min(dash, total - start) for start in np.arange(0, total, dash + gap))
    assert lengths.sum() == pytest.approx(expected, rel=1e-6, abs=1e-6)


def test_dashes_of_nothing_are_nothing():
    assert dashes(np.array([[3.0, 3.0], [3.0, 3.0]]), 5, 5) == []


@pytest.mark.parametrize("offset", [0.0, 0.25, 0.5, 0.75])
def test_a_line_lies_where_it_is_meant(offset):
    image = np.zeros((1000, 400, 3), np.uint8)
    draw_line(image, np.array([[200 + offset, -10], [200 + offset, 1100]]), WOOD_EDGE)
    ink = image[500, :, 2].astype(float)  # wood's blue is full; the casing's is nearly nothing
    assert (ink @ np.arange(400)) / ink.sum() == pytest.approx(200 + offset, abs=0.15)


def test_closed_lines_return_and_open_ones_do_not():
    square = np.array([[100, 100], [300, 100], [300, 300], [100, 300]], float)
    for closed in (True, False):
        image = np.zeros((1000, 1000, 3), np.uint8)
        draw_line(image, square, WOOD_EDGE, closed)
        assert bool(image[200, 100].any()) is closed


def test_dashed_line_has_gaps():
    image = np.zeros((40, 1000, 3), np.uint8)
    draw_line(image, np.array([[0, 20], [1000, 20]], float), BARK_EDGE)
    drawn = image[20].any(axis=1).mean()
    assert 0.5 < drawn < 0.95


@pytest.mark.parametrize("points", [[], [[5, 5]], [[5, 5], [5, 5]]])
def test_too_little_to_draw_is_no_error(points):
    image = np.zeros((100, 100, 3), np.uint8)
    draw_line(image, np.array(points, float).reshape(-1, 2), BARK_EDGE)
    draw_arrow_heads(image, np.array([5.0, 5.0]), np.array([5.0, 5.0]), WOOD_EDGE)
    assert image[40:].max() == 0
