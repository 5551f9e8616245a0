"""The marked photo shows what the record says, where it says, and leaves the photo and the slab alone."""

import copy

import cv2
import numpy as np
import pytest

from grainlog.picture import palette
from grainlog.picture.overlay import draw_overlay
from tests.picture.example import example


@pytest.fixture(scope="module")
def landscape():
    return example(width=1600, height=1200)


def near(colour, image):
    """Where `image` is close to `colour`."""
    return np.abs(image.astype(int) - colour).max(axis=2) < 40


def test_photo_and_record_are_not_changed(landscape):
    photo, record = landscape
    before, words = photo.copy(), copy.deepcopy(record)
    draw_overlay(photo, record)
    assert np.array_equal(photo, before) and record == words


def test_strip_is_below_a_wide_photo_and_right_of_a_tall_one(landscape):
    photo, record = landscape
    wide = draw_overlay(photo, record, max_side=1000)
    assert wide.shape[1] == 1000 and wide.shape[0] > 750 and wide.dtype == np.uint8
    # The lowest corner of the photo is bare ground in the example: the strip did not cover it.
    assert wide[745, 5].min() > 90 and tuple(wide[-1, 5]) == palette.GROUND

    tall = draw_overlay(*example(width=1200, height=1600, upright=True), max_side=1000)
    assert tall.shape[0] >= 1000 and tall.shape[1] > 750
    assert tall[990, 5].min() > 90 and tuple(tall[5, -1]) == palette.GROUND


def test_small_photo_is_not_enlarged(landscape):
    photo, record = landscape
    assert draw_overlay(photo, record, max_side=5000).shape[1] == photo.shape[1]


@pytest.mark.parametrize("max_side", [1600, 800, 1001])
def test_wood_edge_is_drawn_on_the_edge_at_every_size(landscape, max_side):
    photo, record = landscape
    picture = draw_overlay(photo, record | {"face": {}}, max_side=max_side)
    scale = max_side / 1600
    edge = (np.array(record["outline"]["wood_px"])[10:87] + 0.5) * scale - 0.5
    blue = near(palette.WOOD, picture)
    for x, y in edge:
        column = round(x)
        rows = np.flatnonzero(blue[round(y) - 6 : round(y) + 7, column]) + round(y) - 6
        # The edge slopes gently; the middle of the line's cut lies on it to within half a pixel and the slope.
        assert len(rows) and rows.mean() == pytest.approx(y, abs=1.0)


def test_the_wood_between_the_lines_is_left_to_see(landscape):
    photo, record = landscape
    picture = draw_overlay(photo, record, max_side=1600)[:1200]
    inside = np.zeros((1200, 1600), np.uint8)
    cv2.fillPoly(inside, [np.rint(record["outline"]["wood_px"]).astype(int)], 1)
    untouched = (picture == photo).all(axis=2)
    assert untouched[inside == 1].mean() > 0.75


def test_bark_is_dashed_and_wood_is_not(landscape):
    photo, record = landscape
    picture = draw_overlay(photo, record | {"face": {}}, max_side=1600)

    def share(points, colour):
        mask = near(colour, picture)
        mask = cv2.dilate(mask.astype(np.uint8), np.ones((5, 5)))
        dense = np.vstack([np.linspace(a, b, 20) for a, b in zip(points[10:86], points[11:87], strict=True)])
        return np.mean([mask[round(y), round(x)] for x, y in dense])

    assert share(np.array(record["outline"]["wood_px"]), palette.WOOD) > 0.98
    assert 0.4 < share(np.array(record["outline"]["bark_px"]), palette.BARK) < 0.9


def test_card_left_out_is_crossed_through(landscape):
    photo, record = landscape
    out = record | {"scale": record["scale"] | {"left_out": [{"card": 2, "reason": "it is bent"}]}}
    corners = np.array(record["scale"]["cards_px"]["2"])
    on_the_cross = corners[0] + 0.2 * (corners[2] - corners[0])
    x, y = np.rint(on_the_cross).astype(int)
    for words, crossed in ((record, False), (out, True)):
        window = draw_overlay(photo, words, max_side=1600)[y - 2 : y + 3, x - 2 : x + 3]
        assert near(palette.CARD, window).any() == crossed


def test_verdict_is_seen_in_the_strip(landscape):
    photo, record = landscape
    signs = {}
    for confidence, colour in ((0.95, palette.WOOD), (0.7, palette.BARK), (0.2, palette.CARD)):
        doubtful = record | {"face": record["face"] | {"confidence": confidence}, "outline": {}, "scale": {}}
        strip = draw_overlay(photo, doubtful, max_side=1600)[1200:]
        signs[confidence] = near(colour, strip[:140, :140]).sum()
    assert min(signs.values()) > 500


def test_each_warning_makes_the_strip_longer(landscape):
    photo, record = landscape
    heights = [
        len(draw_overlay(photo, record | {"warnings": [{"code": "x", "message": "Mind this. " * 20}] * count}))
        for count in range(3)
    ]
    assert heights[0] < heights[1] < heights[2]


def test_units_change_the_words_only(landscape):
    photo, record = landscape
    inches, millimetres = (draw_overlay(photo, record, units) for units in ("in", "mm"))
    assert inches.shape == millimetres.shape and not np.array_equal(inches, millimetres)


@pytest.mark.parametrize("record", [{}, dict.fromkeys(["scale", "face", "outline", "checks", "warnings"])])
def test_nothing_known_still_gives_a_picture(record):
    assert draw_overlay(np.full((60, 80, 3), 90, np.uint8), record).shape[1] == 80


def test_checks_holes_and_silhouette_are_drawn_where_present(landscape):
    photo, record = landscape
    middle = np.mean(record["outline"]["wood_px"], axis=0)
    ring = middle + np.array([[-40, -15], [40, -15], [40, 15], [-40, 15]])
    path = [(middle + [-300, -30]).tolist(), (middle + [-150, -30]).tolist()]
    more = record | {
        "face": {},
        "outline": record["outline"]
        | {"wood_holes_px": [ring.tolist()], "silhouette_px": record["outline"]["bark_px"]},
        "checks": [{"path_px": path, "label": "A"}, {"path_px": None}],
    }
    picture = draw_overlay(photo, more, max_side=1600)
    x, y = np.rint(middle).astype(int)
    assert near(palette.WOOD, picture[y - 18 : y - 12, x - 30 : x + 30]).any()
    x, y = np.rint(path[0]).astype(int)
    assert near(palette.CHECK, picture[y - 3 : y + 4, x : x + 100]).any()
