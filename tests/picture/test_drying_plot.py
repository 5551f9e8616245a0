"""The picture of a slab's drying."""

import io
import xml.etree.ElementTree as ET
from datetime import date, timedelta

import numpy as np
import pytest
from PIL import Image

from grainlog.drying import find_species
from grainlog.drying.assess import SlabInShed, assess
from grainlog.drying.climate import ShedAir
from grainlog.drying.reading import Reading
from grainlog.errors import WrongUse
from grainlog.picture.drying_plot import draw_drying
from grainlog.units import Quantity

START = date(2026, 5, 1)
AIR = ShedAir(Quantity(0.12, 0.012), True, "measured")


def assessed(count: int, target: float = 0.14):
    readings = tuple(
        Reading(START + timedelta(40 * i), 0.12 + 0.16 * 0.7**i, "pin", depth_mm=28.0, corrected=True) for i in range(count)
    )
    slab = SlabInShed(1, find_species("elm"), "", START, Quantity(63.5, 1.0), Quantity(600.0, 2.0), readings=readings)
    return assess(slab, target, date(2026, 12, 1), AIR)


def colours_of(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)


def near(pixels: np.ndarray, colour: tuple[int, int, int]) -> int:
    return int((np.abs(pixels - colour).max(-1) < 12).sum())


def test_the_curve_is_drawn_only_where_there_is_one():
    with_curve, without = colours_of(draw_drying(assessed(6), "Slab 1")), colours_of(draw_drying(assessed(2), "Slab 1"))
    assert with_curve.shape == without.shape == (1000, 1600, 3)
    wood = (0x8A, 0x4B, 0x1F)
    assert near(with_curve, wood) > 3000 and near(without, wood) == 0
    assert near(with_curve, (0x22, 0x26, 0x2B)) > 2000, "readings and title"
    border = np.concatenate([with_curve[:6].reshape(-1, 3), with_curve[-4:].reshape(-1, 3), with_curve[:, -4:].reshape(-1, 3)])
    assert (border == 255).all(), "nothing runs off the page"


@pytest.mark.parametrize("target", [0.05, 0.11, 0.13, 0.2])
def test_whatever_the_target_nothing_runs_off_the_page(target):
    pixels = colours_of(draw_drying(assessed(6, target), "Slab 1, elm, number 1 of storm elm"))
    assert (pixels[:, -4:] == 255).all() and (pixels[:4] == 255).all()


def test_svg_is_sound_and_the_same_each_time():
    one = draw_drying(assessed(4), "Slab 1 <&>", "svg")
    assert ET.fromstring(one).tag.endswith("svg")
    assert len(one) > 10_000


def test_what_cannot_be_drawn():
    with pytest.raises(WrongUse, match="no reading yet"):
        draw_drying(assessed(0), "Slab 1")
    with pytest.raises(WrongUse, match="png or svg"):
        draw_drying(assessed(3), "Slab 1", "gif")
