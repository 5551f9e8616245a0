"""The flat view shows what the plane says."""

import numpy as np
import pytest

from grainlog.scale.plane import FacePlane, FaceViewer
from grainlog.scale.priors import HARD
from grainlog.scale.solve import solve
from tests.scale.simulate import scene


@pytest.fixture(scope="module", params=[0, 4])
def plane(request):
    simulated = scene(request.param, 4, ground=HARD, oblique_deg=35.0)
    return FacePlane(solve([simulated.view], simulated.setup))


@pytest.mark.parametrize("mm_per_px", [0.5, 0.7, 1.0, 4.0, 7.0])
def test_interpolated_map_is_the_projection(plane, mm_per_px):
    width, height, origin = 700, 500, np.array([-900.0, 500.0])
    found = FaceViewer(plane, np.zeros((3024, 4032, 3), np.uint8)).map_px(origin, width, height, mm_per_px)
    column, row = np.meshgrid(np.arange(0, width, 7), np.arange(0, height, 7))
    mm = np.stack([origin[0] + column * mm_per_px, origin[1] - row * mm_per_px], -1)
    there = plane.to_px(mm.reshape(-1, 2)).reshape(mm.shape)
    assert np.abs(found[row, column] - there).max() < 0.03


def test_plane_and_photo_are_each_others_inverse(plane):
    mm = np.random.default_rng(0).uniform(-800, 800, (200, 2)) * [1, 0.4]
    assert np.abs(plane.to_mm(plane.to_px(mm)) - mm).max() < 1e-6


def test_a_flat_view_shows_a_dot_where_it_lies(plane):
    """One bright pixel of the photo comes out where `to_mm` says, within a photo pixel's own size."""
    rgb = np.zeros((3024, 4032, 3), np.uint8)
    rgb[1400:1403, 2100:2103] = 255
    view = FaceViewer(plane, rgb).flat_view(0.7, (-400.0, -400.0, 400.0, 400.0))
    weight = view.rgb[..., 0].astype(float)
    row, column = (np.indices(weight.shape) * weight).sum((1, 2)) / weight.sum()
    found = view.to_mm(np.array([[column, row]]))[0]
    assert np.abs(found - plane.to_mm(np.array([[2101.0, 1401.0]]))[0]).max() < 0.15
