"""Several photos as one: every point from the photo that shows it best, and pixels that carry their uncertainty."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from grainlog.face.frame import smallest_rectangle
from grainlog.scale.mosaic import FINEST_MM_PER_PX, FRAME_PX, MosaicPlane
from grainlog.scale.mosaic_view import MosaicViewer
from grainlog.scale.plane import FacePlane, FaceViewer
from grainlog.scale.solve import solve
from tests.scale.long_slab import LEFT, RIGHT, SETUP, SIZE_PX, LongSlab, Stand

SLAB = LongSlab()
STANDS = (LEFT, RIGHT)


@pytest.fixture(scope="module")
def plane() -> MosaicPlane:
    return MosaicPlane.of(solve([SLAB.view(stand) for stand in STANDS], SETUP))


def outline_mm(plane: MosaicPlane, stands=STANDS) -> np.ndarray:
    """The wood edge, each point through the pixel of the photo that shows it."""
    each = [own.to_mm(SLAB.outline_px(stand)) for own, stand in zip(plane.planes, stands)]
    which = plane.shares.photo_of(each[0])
    return np.array([each[k][point] for point, k in enumerate(which)])


def test_length_and_area_come_back_although_no_photo_shows_the_whole_slab(plane):
    for own, stand in zip(plane.planes, STANDS):
        px = SLAB.outline_px(stand)
        assert ((px < 0) | (px > np.array(SIZE_PX) - 1)).any()
        assert (own.inside_px(own.to_mm(px)) < 0).any()
    found, true = outline_mm(plane), SLAB.outline
    assert plane.inside_px(found).min() > FRAME_PX
    assert smallest_rectangle(found).length == pytest.approx(smallest_rectangle(true).length, rel=2e-4)
    assert shapely.Polygon(found).area == pytest.approx(shapely.Polygon(true).area, rel=4e-4)


def test_three_photos_tied_in_a_chain():
    """No card is in the first and the last; order is that of the views."""
    cards = {0: (-1300.0, -470.0, 0.2), 1: (-500.0, 460.0, 1.5), 2: (500.0, -470.0, 0.1), 3: (1350.0, 450.0, 1.7)}
    slab = LongSlab(cards=cards)
    stands = (Stand(-1000.0, height=1500.0), Stand(0.0, height=1500.0), Stand(1020.0, height=1480.0, turn=0.05))
    views = [slab.view(stand) for stand in stands]
    assert not {seen.card for seen in views[0].cards} & {seen.card for seen in views[2].cards}
    plane = MosaicPlane.of(solve(views, SETUP))
    assert smallest_rectangle(outline_mm(plane, stands)).length == pytest.approx(
        smallest_rectangle(slab.outline).length, rel=5e-4
    )
    middle = np.array([1500.0, 0.0]) - [-1000.0, 0.0]
    assert len(set(plane.shares.photo_of(np.array([-middle, [0.0, 0.0], middle]) * 0.3))) > 1


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.floats(-1600, 2600), st.floats(-300, 300)), min_size=1, max_size=8), st.integers(0, 10**6))
def test_pixels_and_millimetres_undo_each_other_wherever_the_unknowns_stand(plane, points, seed):
    mm = np.array(points)
    assert np.abs(plane.to_mm(plane.to_px(mm)) - mm).max() < 1e-6
    # Away from a seam a point stays with its photo when the unknowns move by what is not known of them.
    step = np.random.default_rng(seed).multivariate_normal(np.zeros(len(plane.solution.vector)), plane.solution.covariance)
    moved = replace(plane, vector=plane.solution.vector + step)
    px = plane.to_px(mm)
    around = plane.shares.photo_of(np.vstack([mm + shift for shift in ([40, 0], [-40, 0], [0, 40], [0, -40])])).reshape(4, -1)
    steady = (around == plane.shares.photo_of(mm)).all(0)
    assert np.abs(moved.to_px(moved.to_mm(px[steady])) - px[steady]).max(initial=0.0) < 1e-5


def test_what_is_held_fixed_is_the_pixel_of_the_photo_that_shows_the_point(plane):
    vector = plane.solution.vector.copy()
    index = plane.solution.problem.index
    vector[index["move_x", "view", 1]] += 1.0
    moved = replace(plane, vector=vector)
    mm = np.array([plane.planes[0].camera_mm[:2], plane.planes[1].camera_mm[:2]])
    shift = moved.to_mm(plane.to_px(mm)) - mm
    assert np.abs(shift[0]).max() < 1e-9, "the other photo's pose says nothing of this point"
    own = FacePlane(plane.solution, 1, vector).to_mm(plane.planes[1].to_px(mm[1:]))[0] - mm[1]
    assert np.abs(shift[1] - own).max() < 1e-9
    assert np.linalg.norm(own) > 1


def distance_of(points_px: np.ndarray):
    """Of a plane: how far apart two pixels are on the face, mm, as an array of one."""
    return lambda plane: np.atleast_1d(np.linalg.norm(np.diff(plane.to_mm(points_px), axis=0)))


def test_spread_of_a_length_from_one_photo_into_the_other_is_that_of_drawn_unknowns(plane):
    """JCGM 101: the unknowns drawn from their covariance a few hundred times."""
    distance = distance_of(plane.to_px(outline_mm(plane)[[0, 199]]))
    u, budget = plane.spread(distance)
    rng = np.random.default_rng(1)
    draws = rng.multivariate_normal(plane.solution.vector, plane.solution.covariance, 300)
    drawn = np.std([distance(replace(plane, vector=vector))[0] for vector in draws], ddof=1)
    assert drawn == pytest.approx(u[0], rel=0.15)
    assert u[0] ** 2 == pytest.approx(sum(part[0] ** 2 for part in budget.values()))
    assert min(budget[source][0] for source in ("corners", "lens", "print", "height")) > 0


def test_stated_uncertainty_covers_noisy_corners():
    """Ten draws of corner noise alone: the length scatters as the budget's corners say, within a half or so."""
    lengths, stated = [], []
    for seed in range(10):
        views = [SLAB.view(stand, noise_px=0.15, seed=2 * seed + k) for k, stand in enumerate(STANDS)]
        plane = MosaicPlane.of(solve(views, SETUP))
        ends = outline_mm(plane)[[0, 199]]
        lengths.append(np.linalg.norm(ends[1] - ends[0]))
        if seed < 2:
            stated.append(plane.spread(distance_of(plane.to_px(ends)))[1]["corners"][0])
    assert 0.5 < np.std(lengths, ddof=1) / np.mean(stated) < 1.7


def test_each_point_comes_from_the_photo_that_looks_down_on_it_and_a_card_from_one(plane):
    for index, own in enumerate(plane.planes):
        assert plane.shares.photo_of(own.camera_mm[None, :2])[0] == index
    for card, (home, _) in plane.shares.card_zones.items():
        outline = plane.sheet.to_mm(plane.card_outlines_px()[card])
        assert (plane.shares.photo_of(outline) == home).all()
        other = plane.planes[1 - home]
        ghost = other.to_mm(other.card_outline_px(card))
        inside = plane.planes[home].inside_px(ghost) > FRAME_PX
        assert (plane.shares.photo_of(ghost)[inside] == home).all(), "nor is it seen a second time"
    assert set(plane.card_outlines_px()) == {0, 1, 2, 3}


@pytest.fixture(scope="module")
def viewer(plane) -> MosaicViewer:
    """Photos without a slab, that show their own plane: red grows along x, green along y, blue is the photo's own."""
    pictures = []
    for number, own in enumerate(plane.planes):
        columns, rows = np.meshgrid(np.arange(SIZE_PX[0]), np.arange(SIZE_PX[1]))
        mm = own.to_mm(np.stack([columns.ravel(), rows.ravel()], -1).astype(float)).reshape(*columns.shape, 2)
        picture = np.dstack([128 + mm[..., 0] / 25, 128 + mm[..., 1] / 25, np.full(columns.shape, 100.0 + 60 * number)])
        pictures.append(np.clip(np.rint(picture), 0, 255).astype(np.uint8))
    return MosaicViewer(plane, tuple(pictures))


@pytest.mark.parametrize("mm_per_px", [2.0, 9.0])
def test_view_shows_the_plane_where_it_is(viewer, mm_per_px):
    view = viewer.flat_view(mm_per_px, (-900.0, -250.0, 1900.0, 250.0))
    rows, columns = np.nonzero(view.seen)
    mm = view.to_mm(np.column_stack([columns, rows]))
    off = view.rgb[rows, columns, :2] - (128 + mm / 25)
    assert view.seen.mean() > 0.95
    assert np.abs(off).max() < 1.5, "a millimetre is a twenty-fifth of a step"
    assert np.abs(off.mean(0)).max() < 0.1


def test_photos_are_matched_in_colour_and_nothing_else(viewer):
    seam = viewer.flat_view(4.0, (200.0, -200.0, 800.0, 200.0))
    both = viewer.plane.shares.photo_of(seam.to_mm(np.argwhere(seam.seen)[:, ::-1]))
    assert set(both) == {0, 1}
    assert np.ptp(seam.rgb[seam.seen][:, 2].astype(int)) <= 2


def test_picture_has_the_planes_pixels_and_leaves_black_what_no_photo_shows(viewer, plane):
    picture = viewer.picture
    assert picture.rgb.shape[1::-1] == plane.sheet.size_px
    assert picture.mm_per_px >= FINEST_MM_PER_PX
    px = np.array([[100.0, 200.0], [900.0, 333.0]])
    assert np.allclose(picture.to_mm(px), plane.to_mm(px))
    assert not picture.seen.all()
    assert not picture.rgb[~picture.seen].any()
    cameras = picture.cameras_over(np.array([own.camera_mm[:2] for own in plane.planes]))
    assert np.allclose(cameras, [own.camera_mm for own in plane.planes])


def test_one_photo_as_a_mosaic_of_one_is_that_photo():
    solution = solve([SLAB.view(LEFT)], SETUP)
    rgb = cv2.resize(np.random.default_rng(3).integers(0, 255, (150, 200, 3), dtype=np.uint8), SIZE_PX)
    one, joined = FaceViewer(FacePlane(solution), rgb), MosaicViewer(MosaicPlane.of(solution), (rgb,))
    bounds = (-500.0, -300.0, 700.0, 300.0)
    assert np.abs(one.flat_view(2.0, bounds).rgb.astype(int) - joined.flat_view(2.0, bounds).rgb).max() <= 1
