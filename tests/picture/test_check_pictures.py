"""Pictures of checks: colours that can be told apart, labels that can be read, plots that show what they should."""

import io
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from PIL import Image
from skimage.color import deltaE_ciede2000

from grainlog.checks.change import IDENTITY, CheckLook
from grainlog.checks.history import CheckHistory, HandLook, running_of
from grainlog.errors import WrongUse
from grainlog.picture.check_colours import COLOURS, strokes_of
from grainlog.picture.check_labels import MOST_LABELLED, check_labels, written
from grainlog.picture.check_plot import draw_growth
from grainlog.picture.check_sheet import WIDE_PX, chosen, draw_side_by_side
from grainlog.scale.flat import FlatView
from tests.checks.test_follow import check
from tests.checks.test_history import DAY, face_looks
from tests.picture.test_palette import seen_with

SHRUNK = np.array([[1.0, 0, 4.0], [0, 1.05, 0]])


@pytest.fixture(scope="module")
def history() -> CheckHistory:
    looks = face_looks(
        CheckLook(0, (check(0, 80, 0, "end"), check(300, 380, 40)), IDENTITY),
        CheckLook(30, (check(-4, 120, 0, "end"), check(296, 380, 38), check(200, 260, -40)), SHRUNK),
    )
    hand = (HandLook(1, DAY + timedelta(20), "butt", length_mm=110.0, wax=True, id=1),)
    return CheckHistory(1, "1", tuple(looks), hand, (), (), tuple(running_of(looks)))


def flat(grey: int) -> FlatView:
    rgb = np.full((140, 520, 3), grey, np.uint8)
    return FlatView(rgb, np.ones((140, 520), bool), 1.0, np.array([-10.0, 70.0]), (), (), np.array([0, 0, 2000.0]))


def test_every_check_has_its_own_look_and_keeps_it():
    names = [f"S{number}" for number in range(1, 21)]
    strokes = strokes_of(names)
    assert len({(stroke.colour, stroke.dashed) for stroke in strokes.values()}) == 20
    assert strokes_of(names[:3]) == {name: strokes[name] for name in names[:3]}
    lab = [seen_with("normal", colour) for colour in COLOURS]
    apart = [deltaE_ciede2000(one, two) for place, one in enumerate(lab) for two in lab[:place]]
    # CIEDE2000: a just noticeable difference is about 1. Names stand beside the lines for those who see colours otherwise.
    assert min(apart) > 15, min(apart)


def test_labels_say_length_and_width_and_keep_clear():
    checks = [
        {"path_px": [[100, 100 + 60 * place], [100 + 20 * (place + 2), 100 + 60 * place]], "length_mm": 20.0 * (place + 2),
         "max_width_mm": 5.0 if place == 0 else 1.0 + place / 10}
        for place in range(12)
    ]  # fmt: skip
    labels = check_labels({"checks": checks}, "mm", lambda points: np.asarray(points, float), 16, (1000, 900))
    assert len(labels) == MOST_LABELLED
    texts = [label.text for label in labels]
    assert "260 x 2.1 mm" in texts and "40 x 5.0 mm" in texts, "the longest and the widest"
    boxes = [label.box() for label in labels]
    assert not any(one.intersects(two) for place, one in enumerate(boxes) for two in boxes[:place])
    assert written({"name": "E1", "length_mm": 254.0, "max_width_mm": 2.54}, "in") == "E1 10.0 x 0.10 in"
    assert check_labels({"checks": []}, "mm", np.asarray, 16, (100, 100)) == []


def test_the_plot_shows_each_check_the_tape_and_the_wax(history):
    drawn = draw_growth(history, "mm", "svg").decode()
    for text in ("E1", "S1", "S2", "tape, butt end", "butt end waxed", "length, mm"):
        assert f"<!-- {text} -->" in drawn
    with Image.open(io.BytesIO(draw_growth(history))) as image:
        assert image.size == (1600, 1000)
    with pytest.raises(WrongUse):
        draw_growth(replace(history, looks=(), hand=()))


def test_side_by_side_is_at_one_scale(history):
    page = np.array(Image.open(io.BytesIO(draw_side_by_side(history, history.looks, [flat(90), flat(160)]))))
    assert page.shape[1] == WIDE_PX
    widths = [(page == grey).all(-1).any(0).sum() for grey in (90, 160)]
    heights = [(page == grey).all(-1).any(1).sum() for grey in (90, 160)]
    # The same view twice is drawn at the same size, whatever the wood has shrunk between.
    assert abs(widths[0] - widths[1]) < 4 and abs(heights[0] - heights[1]) < 4
    strokes = strokes_of(one.name for look in history.looks for one in look.sightings)
    for name, rows in (("E1", 2), ("S2", 1)):
        seen = (page == strokes[name].colour).all(-1).any(1)
        assert np.count_nonzero(np.diff(np.flatnonzero(seen)) > 100) == rows - 1, name


def test_of_many_photos_the_first_and_the_newest_are_drawn(history):
    looks = face_looks(*(CheckLook(10 * k, (check(0, 80 + k, 0, "end"),), IDENTITY) for k in range(11)))
    many = replace(history, looks=tuple(looks))
    days = [look.day for look in chosen(many, most=4)]
    assert len(days) == 4 and days[0] == looks[0].day and days[-1] == looks[-1].day
    with pytest.raises(WrongUse):
        chosen(many, "heart")
