"""The colours of the lines stay apart for every kind of colour sight, and their styles stay apart without colour.

Simulation: Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision deficiency",
IEEE TVCG 15(6), 2009, severity 1.0, on linear sRGB; the matrices are from memory and agree with public copies of them. Difference:
CIEDE2000 (CIE 142-2001) as scikit-image computes it. That 20 is far apart is our own limit, no source: a just
noticeable difference is about 1.
"""

import itertools

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from grainlog.picture import palette

SIGHT = {
    "normal": np.eye(3),
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.3039]],
}
COLOURS = {
    "wood": palette.WOOD, "bark": palette.BARK, "card": palette.CARD, "check": palette.CHECK,
    "station": palette.STATION, "casing": palette.CASING,
}  # fmt: skip


def seen_with(sight, colour):
    """CIE Lab of an 8-bit sRGB colour as seen with `sight`; sRGB curve of IEC 61966-2-1."""
    encoded = np.array(colour) / 255
    linear = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
    linear = np.clip(np.array(SIGHT[sight]) @ linear, 0, 1)
    encoded = np.where(linear <= 0.0031308, linear * 12.92, 1.055 * linear ** (1 / 2.4) - 0.055)
    return rgb2lab(encoded[None, None])[0, 0]


@pytest.mark.parametrize("sight", SIGHT)
def test_colours_are_told_apart(sight):
    for (one, a), (other, b) in itertools.combinations(COLOURS.items(), 2):
        difference = deltaE_ciede2000(seen_with(sight, a), seen_with(sight, b))
        assert difference >= 20, f"{one} and {other}: {difference:.1f}"


def test_a_red_and_a_green_that_people_confuse_fail_the_same_measure():
    """The simulation is not blind itself: these two are far apart, and next to one another with deuteranopia."""
    red, green = (196, 72, 0), (128, 112, 0)
    assert deltaE_ciede2000(seen_with("normal", red), seen_with("normal", green)) > 30
    assert deltaE_ciede2000(seen_with("deuteranopia", red), seen_with("deuteranopia", green)) < 15


@pytest.mark.parametrize(("matrix"), [SIGHT["protanopia"], SIGHT["deuteranopia"], SIGHT["tritanopia"]])
def test_grey_stays_grey(matrix):
    assert np.array(matrix).sum(axis=1) == pytest.approx([1, 1, 1], abs=2e-6)


def test_wood_and_bark_differ_without_any_colour():
    assert palette.WOOD_EDGE.gap == 0 and palette.BARK_EDGE.gap > 0
    styles = [
        palette.WOOD_EDGE, palette.BARK_EDGE, palette.SILHOUETTE, palette.NAMED_STATION, palette.CARD_LEFT_OUT,
        palette.CHECK_LINE,
    ]  # fmt: skip
    assert len({(style.width, style.dash, style.gap) for style in styles}) == len(styles)


def contrast(a, b):
    """WCAG 2.1 contrast ratio (definition as in the recommendation, from memory)."""
    def luminance(colour):
        encoded = np.array(colour) / 255
        linear = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
        return linear @ [0.2126, 0.7152, 0.0722]

    light, dark = sorted([luminance(a), luminance(b)], reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_text_on_the_strip_is_readable():
    assert contrast(palette.TEXT, palette.GROUND) > 7
    assert contrast(palette.QUIET_TEXT, palette.GROUND) > 7


@pytest.mark.parametrize("wood", [(52, 36, 28), (232, 214, 180)], ids=["walnut", "maple"])
def test_core_or_casing_stands_out_on_any_wood(wood):
    for style in (palette.WOOD_EDGE, palette.BARK_EDGE, palette.NAMED_STATION, palette.CARD_EDGE):
        assert max(contrast(style.colour, wood), contrast(palette.CASING, wood)) > 3
