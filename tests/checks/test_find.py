"""Finding checks in made-up flat views: what is there is found and measured, what only looks like it is not."""

from functools import cache

import cv2
import numpy as np
import pytest
import shapely

from grainlog.checks.board import lay_board
from grainlog.checks.find import find_checks
from grainlog.checks.found import COUNTED_MM
from grainlog.checks.profile import measure_profile
from grainlog.face.frame import slab_frame
from grainlog.scale.flat import FlatView
from tests.checks.made_series import look, whole
from tests.checks.scoring import Score, Truth, score

MM = 0.6
WOOD = np.array([[0.0, 0], [600, 0], [600, 240], [0, 240]])


def plain_view(widths=(), mm=MM, blur_px=0.9, seed=3, dark=0.08, card=None, waver=0.0):
    """An even face 600 mm x 240 mm with checks along it: (x0, x1, y, width) mm each, in linear light, exact to the pixel.

    waver : how far they waver from a straight line, mm; a line as straight as a ruler is taken for pencil
    """
    rng = np.random.default_rng(seed)
    fine, margin = 0.1, 30.0
    h, w = round((240 + 2 * margin) / fine), round((600 + 2 * margin) / fine)
    light = np.full((h, w), 0.05, np.float32)
    rows, columns = slice(round(margin / fine), h - round(margin / fine)), slice(round(margin / fine), w - round(margin / fine))
    grain = cv2.resize(rng.normal(0, 1, (160, 30)).astype(np.float32), (w, h), interpolation=cv2.INTER_CUBIC)
    light[rows, columns] = (0.3 * (1 + 0.05 * grain))[rows, columns]
    for x0, x1, y, width in widths:
        x = np.arange(round((x0 + margin) / fine), round((x1 + margin) / fine))
        half = width / 2 * np.minimum(1, np.minimum(x - x[0] + 1, x[-1] - x + 1) * fine / 10 + (0 if x0 > 0 else 1))
        middle = y + waver * np.sin(x * fine / 14)
        for column, reach, at in zip(x, half, middle):
            top = (240 + margin - at - reach) / fine
            light[round(top) : round(top + 2 * reach / fine), column] = 0.3 * dark
    size = round(w * fine / mm), round(h * fine / mm)
    light = cv2.resize(cv2.GaussianBlur(light, (0, 0), blur_px * mm / fine), size, interpolation=cv2.INTER_AREA)
    light = light + rng.normal(0, 0.004, light.shape)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-6) ** (1 / 2.4) - 0.055)
    rgb = np.repeat(np.clip(np.rint(coded * 255), 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    origin = np.array([-margin + mm / 2, 240 + margin - mm / 2])
    cards = () if card is None else (card,)
    return FlatView(rgb, np.ones(rgb.shape[:2], bool), mm, origin, cards, (True,) * len(cards), np.array([300.0, 120, 2000]))


@cache
def made(seed, photo_seed=0):
    view, _ = look(seed, whole(seed), photo_seed)
    return view, find_checks(view.view, view.outline, view.holes, view.frame)


@pytest.mark.parametrize("width", [0.8, 1.2, 2.0, 4.0, 8.0])
def test_width_comes_from_the_light_that_is_missing(width):
    """A slot of known width, from little more than a pixel to fourteen."""
    view, frame = plain_view([(100, 400, 120, width)]), slab_frame(WOOD)
    board = lay_board(view, WOOD, (), frame)
    profile = measure_profile(board, np.array([[130.0, 0.8], [250, 0.0], [370, -0.8]]), 0.0)
    inner = profile.width[20:-20]
    assert np.median(inner) == pytest.approx(width, abs=max(0.12, 0.04 * width))
    assert np.median(np.abs(profile.path[20:-20, 1])) < 0.5


@pytest.mark.parametrize("mm", [0.5, 0.7, 1.0, 1.3])
def test_width_does_not_depend_on_the_resolution(mm):
    view, frame = plain_view([(100, 400, 120, 1.5)], mm=mm), slab_frame(WOOD)
    profile = measure_profile(lay_board(view, WOOD, (), frame), np.array([[130.0, 0.0], [370, 0.0]]), 0.0)
    assert np.median(profile.width[20:-20]) == pytest.approx(1.5, abs=0.2)


def test_end_and_surface_checks_on_an_even_face():
    view, frame = plain_view([(0, 120, 80, 3.0), (250, 400, 160, 1.5)], waver=0.8), slab_frame(WOOD)
    found = find_checks(view, WOOD, (), frame)
    by_kind = {check.kind: check for check in found.checks}
    assert len(found.checks) == 2 and set(by_kind) == {"end", "surface"}
    end, surface = by_kind["end"], by_kind["surface"]
    assert end.end == "butt" and end.path[0, 0] == pytest.approx(0, abs=1) and abs(end.length - 120) < 8
    assert abs(surface.length - 150) < 8 and surface.end is None
    assert abs(end.max_width - 3.0) < 0.4 and abs(surface.max_width - 1.5) < 0.4
    assert (end.width >= COUNTED_MM - 0.25).all()


def test_an_even_face_has_no_check():
    assert find_checks(plain_view(), WOOD, (), slab_frame(WOOD)).checks == ()


def test_what_lies_under_a_card_is_not_looked_at():
    card = np.array([[180.0, 90], [430, 90], [430, 230], [180, 230]])
    view = plain_view([(0, 120, 60, 3.0), (230, 390, 160, 3.0)], card=card)
    found = find_checks(view, WOOD, (), slab_frame(WOOD))
    assert [check.kind for check in found.checks] == ["end"]


def test_a_half_turn_of_the_frame_moves_the_checks_to_the_other_end():
    view = plain_view([(0, 120, 80, 3.0)])
    turned = find_checks(view, WOOD, (), slab_frame(WOOD, "right")).checks
    assert [(check.kind, check.end) for check in turned] == [("end", "top")]


def test_made_up_slabs_with_every_distractor():
    total = Score()
    for seed in (11, 12, 13):
        view, found = made(seed)
        truths = [Truth(view.frame.to_slab(c.path), c.width, c.kind, 0) for c in view.checks]
        total.add(score(found, truths))
    assert total.checks >= 12
    assert total.recall > 0.8 and total.precision > 0.8
    assert np.mean([truth.kind == check.kind for truth, check in total.pairs]) >= 0.9


def test_paths_lie_on_the_wood_and_say_what_they_measure():
    view, found = made(11)
    wood = shapely.Polygon(view.frame.to_slab(view.outline)).buffer(2)
    assert found.checks
    for check in found.checks:
        assert wood.contains(shapely.LineString(check.path))
        assert check.length == pytest.approx(np.linalg.norm(np.diff(check.path, axis=0), axis=1).sum(), rel=0.03)
        assert len(check.width) == len(check.path) and check.max_width >= check.mean_width
        assert 0 < check.confidence <= 1 and abs(check.angle) < np.pi / 2
        assert check.length_u > 0 and check.max_width_u > 0


def test_two_looks_at_one_slab_find_the_same_checks():
    _, one = made(12)
    _, two = made(12, 5)
    lines = [shapely.union_all([shapely.LineString(c.path) for c in found.checks]) for found in (one, two)]
    shared = lines[0].buffer(5).intersection(lines[1]).length
    assert shared > 0.8 * max(lines[0].length, lines[1].length)
