"""Where the bark is off: flank in the colour of the wood is told by its crease, true wood is left alone."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from grainlog.face import crease, network, strip
from grainlog.face.flank import long_edges, without_bare_flank
from grainlog.face.found import EdgeUncertainty
from grainlog.scale.flat import FlatView

LENGTH, LOW, HIGH, FLANK = 900, 60, 260, 30  # mm: a slab from x = 60 on, its face between LOW and HIGH, its flank below
STRETCH = 400, 560  # where the bark is off


def _view(rgb):
    h, w = rgb.shape[:2]
    return FlatView(rgb, np.ones((h, w), bool), 1.0, np.array([0.5, h - 0.5]), (), (), np.array([500.0, -200.0, 2000.0]))


def _slab(edge, silhouette, outside=(0.90, 0.93, 0.86), bare=STRETCH, thinks=0.7):
    """A view and the network's scores: face above `edge` (w,) mm, flank between it and `silhouette` (w,), barked but in `bare`.

    outside : colour of the bare flank over that of the wood; thinks : how much the network takes it for flank.
    """
    rng = np.random.default_rng(3)
    h, w = 330, LENGTH + 120
    x, y = np.arange(w) + 0.5, (h - np.arange(h) - 0.5)[:, None]
    slab = ((x > 60) & (x < 60 + LENGTH))[None] & (y < HIGH) & (y > silhouette)
    face, flank = slab & (y > edge), slab & (y <= edge)
    bark = flank & ((x < bare[0]) | (x > bare[1]))[None]
    rgb = np.full((h, w, 3), (90, 110, 140.0))
    rgb[face] = 200, 165, 120
    rgb[flank] = np.array([200, 165, 120]) * outside
    rgb[bark] = 70, 60, 50
    rgb *= 1 + 0.03 * rng.standard_normal((h, w, 1))
    scores = np.zeros((h, w, 5), np.float32)
    scores[..., network.WOOD] = face + (1 - thinks) * (flank & ~bark)
    scores[..., network.FLANK] = bark + thinks * (flank & ~bark)
    scores[..., network.OTHER] = ~slab
    return _view(np.clip(rgb, 0, 255).astype(np.uint8)), scores


def _ring(lower):
    """The wood as it was found: `lower` is y of its lower edge at each mm from x = 60 on."""
    x = np.arange(60.0, 60 + LENGTH + 1, 3)
    bottom = np.column_stack([x, lower[x.astype(int)]])
    return np.vstack([bottom, [[60 + LENGTH, HIGH], [60, HIGH]]])


def _mended(view, scores, ring):
    even = strip.unroll(view, ring, crease.SPACING_MM, np.zeros(1), 12.0)
    middle = even.points[:, 0].mean()
    ends = np.abs(even.points[:, 0] - middle) > LENGTH / 2 - 1.5
    return without_bare_flank(view, ring, long_edges(even.points, ends), view, scores)


def _gap(a, b):
    """Area between two rings, in mm over the length of the stretch."""
    one, two = shapely.Polygon(a), shapely.Polygon(b)
    return one.symmetric_difference(two).area / (STRETCH[1] - STRETCH[0])


@pytest.fixture(scope="module")
def straight():
    """An edge that is hardly bent, its silhouette 30 mm outside it."""
    edge = LOW + FLANK + 4 * np.sin(np.arange(LENGTH + 120) / 60)
    return edge, edge - FLANK


def _stepped(edge, silhouette):
    found = edge.copy()
    found[STRETCH[0] : STRETCH[1]] = silhouette[STRETCH[0] : STRETCH[1]]
    return found


def test_a_bare_flank_is_taken_off(straight):
    edge, silhouette = straight
    view, scores = _slab(edge, silhouette)
    found, true = _ring(_stepped(edge, silhouette)), _ring(edge)
    assert _gap(found, true) > 25
    mended = _mended(view, scores, found)
    assert _gap(mended.wood, true) < 3
    assert mended.moved_mm == pytest.approx(STRETCH[1] - STRETCH[0], abs=40) and mended.open_mm == 0
    assert mended.beside.area == pytest.approx(FLANK * (STRETCH[1] - STRETCH[0]), rel=0.5)


def test_most_of_a_bare_flank_at_a_sawn_end_is_taken_off(straight):
    edge, silhouette = straight
    view, scores = _slab(edge, silhouette, bare=(0, 160))
    stepped = edge.copy()
    stepped[:160] = silhouette[:160]
    found, true = _ring(stepped), _ring(edge)
    # There only one shoulder shows, and the smooth line under the edge rises towards the end.
    assert _gap(_mended(view, scores, found).wood, true) < 0.6 * _gap(found, true)


def test_what_is_right_is_left_alone(straight):
    edge, silhouette = straight
    view, scores = _slab(edge, silhouette)
    mended = _mended(view, scores, _ring(edge))
    assert mended.wood is not None and np.array_equal(mended.wood, _ring(edge))
    assert not mended.doubt_mm.any()
    sure = EdgeUncertainty(0.5, 1.0)
    assert mended.widened(sure) == sure


def test_wood_that_sticks_out_with_its_silhouette_is_left_alone(straight):
    """A stub of a branch: the same steep bump, but the silhouette has it too, and no crease runs through it."""
    edge, silhouette = straight
    x = np.arange(len(edge))
    bump = 25 * ((x > STRETCH[0]) & (x < STRETCH[1]))
    view, scores = _slab(edge - bump, silhouette - bump, bare=(0, 0))
    ring = _ring(edge - bump)
    assert np.array_equal(_mended(view, scores, ring).wood, ring)


def test_a_stretch_that_the_network_takes_for_wood_is_left_and_the_doubt_is_told(straight):
    """A lobe of darker wood over the flank looks like this."""
    edge, silhouette = straight
    view, scores = _slab(edge, silhouette, thinks=0.3)
    ring = _ring(_stepped(edge, silhouette))
    mended = _mended(view, scores, ring)
    assert np.array_equal(mended.wood, ring)
    assert mended.open_mm > 80


def test_paler_wood_outside_a_step_is_sapwood(straight):
    """The same stretch as the bare flank, but paler than what lies inside: left, and the doubt is told."""
    edge, silhouette = straight
    view, scores = _slab(edge, silhouette, outside=(1.12, 1.14, 1.2))
    ring = _ring(_stepped(edge, silhouette))
    mended = _mended(view, scores, ring)
    assert np.array_equal(mended.wood, ring)
    assert mended.moved_mm == 0 and mended.open_mm > 80
    sure = EdgeUncertainty(0.5, 1.0)
    assert mended.widened(sure).random > 3 and mended.widened(sure).systematic > 0.6


@settings(max_examples=10, deadline=None)
@given(st.floats(2, 9), st.floats(250, 500), st.floats(0, 6.28), st.booleans())
def test_a_faint_crease_is_followed(height, wave, phase, darker):
    """Two surfaces 6 % apart in light, in noise of 8 %, meet along a wave; found within 2.5 mm RMS."""
    rng = np.random.default_rng(5)
    x = np.arange(800)
    line = 60 + height * np.sin(2 * np.pi * x / wave + phase)
    light = np.where(np.arange(120)[:, None] + 0.5 > 120 - line, 1.0, 0.94 if darker else 1.06)
    rgb = 150 * light * (1 + 0.08 * rng.standard_normal(light.shape))
    view = _view(np.repeat(rgb[..., None], 3, 2).astype(np.uint8))
    along = np.column_stack([np.arange(20.0, 780.0, crease.SPACING_MM), np.full(190, 60.0)])
    band = strip.unroll_open(view, along, np.arange(-30.0, 31.0))
    at, _ = crease.best_line(crease.clearness(band))
    found = 60 - band.offsets[at]
    error = (found - np.interp(along[:, 0], x + 0.5, line))[8:-8]
    assert np.sqrt((error**2).mean()) < 2.5
