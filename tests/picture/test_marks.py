"""Stations and the length arrow lie where the slab is."""

import numpy as np
import pytest

from grainlog.picture.marks import length_arrows, stations
from tests.picture.example import LENGTH_MM, camera, example, seen


@pytest.fixture(scope="module")
def record():
    return example(width=400, height=300)[1]


def test_least_greatest_and_middle_are_named(record):
    named = {station.name: station for station in stations(record["face"]) if station.name}
    widths = record["face"]["widths"]["width_mm"]
    assert named["least"].width_mm == min(widths)
    assert named["greatest"].width_mm == max(widths)
    assert named["middle"].width_mm == widths[len(widths) // 2]
    assert len(stations(record["face"])) <= 27


def test_stations_say_how_sure_they_are_or_take_the_worst(record):
    face = record["face"]
    assert {station.u_mm for station in stations(face) if station.name} == {2.3}
    own = face | {"widths": face["widths"] | {"u_mm": [0.5] * len(face["widths"]["width_mm"])}}
    assert {station.u_mm for station in stations(own) if station.name} == {0.5}


def test_even_width_and_missing_widths():
    ends = [[[x, 0], [x, 9]] for x in range(3)]
    even = {"widths": {"width_mm": [9.0, 9.0, 9.0], "ends_px": ends}}
    assert [station.name for station in stations(even) if station.name] == ["greatest"]
    gaps = {"widths": {"width_mm": [9.0, None, 8.0], "ends_px": [ends[0], None, ends[2]]}}
    assert {station.width_mm for station in stations(gaps)} == {8.0, 9.0}
    assert stations({}) == stations({"widths": {"width_mm": [], "ends_px": []}}) == ()


def test_arrow_is_as_long_as_the_slab_and_clear_of_it(record):
    back = np.linalg.inv(camera(400, 300, upright=False))
    arrows = length_arrows(record["outline"])
    assert len(arrows) == 2
    for arrow, outside in zip(arrows, (-1, 1), strict=True):
        tips = seen(back, arrow.tips)
        assert tips[:, 0] == pytest.approx([18.0, LENGTH_MM - 18.0], abs=1.0)
        assert tips[0, 1] == pytest.approx(tips[1, 1], abs=1.0)
        assert outside * tips[0, 1] > 340


def test_arrow_without_millimetres_follows_the_picture():
    # A plain bar at 30 degrees, 200 x 40 px.
    turn = np.array([[np.cos(np.pi / 6), -np.sin(np.pi / 6)], [np.sin(np.pi / 6), np.cos(np.pi / 6)]])
    bar = np.array([[-100, -20], [100, -20], [100, 20], [-100, 20]]) @ turn.T + [300, 200]
    for arrow in length_arrows({"wood_px": bar.tolist()}):
        shaft = arrow.tips[1] - arrow.tips[0]
        assert np.linalg.norm(shaft) == pytest.approx(200, abs=0.5)
        assert abs(shaft @ turn[:, 1]) < 0.5


@pytest.mark.parametrize("outline", [{}, {"wood_px": None}, {"wood_px": [[0, 0], [1, 1], [2, 0]]}])
def test_no_arrow_without_an_outline(outline):
    assert length_arrows(outline) == ()
