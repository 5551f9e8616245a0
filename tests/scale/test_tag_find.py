"""Tags are found where they are, read where they can be, compared where they cannot, and painted over."""

import cv2
import numpy as np
import pytest

from grainlog.photo import read_photo
from grainlog.scale.tag import TagText
from grainlog.scale.tag_code import code_likeness
from grainlog.scale.tag_find import find_tags
from grainlog.scale.tag_paint import paint_over
from tests.samples import FLOOR, SLAB, sample
from tests.tagged import YARD, laid, seen_from

TEXT = TagText(YARD, "128")


@pytest.fixture(scope="module")
def gravel():
    """A piece of a sample photo with gravel and wood."""
    return np.ascontiguousarray(
        read_photo(sample("oak-yard-gravel").photo).pixels[1200:1800, 1200:2000]
    )


def photographed(rgb, blur=0.7, noise=4.0):
    """With the blur and the noise of a hand-held camera."""
    soft = cv2.GaussianBlur(rgb, (0, 0), blur)
    return np.clip(
        soft + np.random.default_rng(5).normal(0, noise, rgb.shape), 0, 255
    ).astype(np.uint8)


@pytest.mark.parametrize("turn", [0, 37, 90, 200])
@pytest.mark.parametrize("tilt", [0, 40])
def test_a_tag_is_found_at_a_millimetre_a_pixel(gravel, tilt, turn):
    corners = seen_from(1.0, tilt, turn, (400.3, 300.7))
    (tag,) = find_tags(photographed(laid(gravel, TEXT, corners)))
    assert tag.marker == 128
    assert (
        np.abs(tag.outline_px - corners).max() < 6.0
    )  # the marker's corners are good to a pixel, the tag is 2.5 markers long


def test_the_code_is_read_from_near_and_gives_the_yard(gravel):
    (tag,) = find_tags(
        photographed(laid(gravel, TEXT, seen_from(0.4, 15, 20, (400, 300))))
    )
    assert tag.text == TEXT


def test_a_code_too_coarse_to_be_read_is_told_from_others(gravel):
    (tag,) = find_tags(
        photographed(laid(gravel, TEXT, seen_from(0.8, 10, 30, (400, 300))), blur=0.9)
    )
    assert tag.text is None
    assert code_likeness(tag.code, TEXT).same
    for other in (
        TagText(YARD, "1128"),
        TagText(YARD, "128A"),
        TagText("ZZ0011", "128"),
        TagText("K7QM9Y", "128"),
    ):
        assert not code_likeness(tag.code, other).same
    sharp = find_tags(
        photographed(laid(gravel, TEXT, seen_from(0.5, 0, 0, (400, 300))))
    )[0]
    assert code_likeness(sharp.code, TagText("ZZ0011", "128")).another
    far = find_tags(photographed(laid(gravel, TEXT, seen_from(1.4, 0, 0, (400, 300)))))[
        0
    ]
    assert not code_likeness(far.code, TEXT).another, (
        "too coarse to say that it is another one"
    )


def test_two_of_the_same_are_two_and_half_of_one_is_none(gravel):
    both = laid(
        laid(gravel, TEXT, seen_from(0.7, 0, 0, (200, 200))),
        TEXT,
        seen_from(0.7, 0, 90, (600, 400)),
    )
    assert len(find_tags(both)) == 2
    hidden = laid(gravel, TEXT, seen_from(0.7, 0, 0, (400, 300)))
    hidden[:, 340:375] = 90
    assert find_tags(hidden) == ()


@pytest.mark.parametrize("name", [FLOOR, SLAB, "oak-yard-gravel"])
def test_no_tag_is_seen_in_gravel_grass_and_cards(name):
    assert find_tags(read_photo(sample(name).photo).pixels) == ()


def test_nothing_comes_of_tiny_or_blank_pictures():
    for shape in ((1, 1, 3), (9, 4, 3), (300, 300, 3)):
        assert find_tags(np.full(shape, 255, np.uint8)) == ()


def test_a_tag_is_painted_over_with_what_lies_beside_it():
    rows = np.arange(300)[:, None]
    # Ground above, wood below the line at row 140, both striped along the rows.
    stripes = np.where(
        rows < 140, 60 + 10 * np.sin(rows), 170 + 20 * np.sin(rows / 3)
    ) * np.ones((1, 500))
    bare = np.dstack([stripes] * 3).astype(np.uint8)
    corners = seen_from(1.0, 0, 0, (250, 150))
    painted = paint_over(laid(bare, TEXT, corners), [corners])
    assert np.abs(painted.astype(int) - bare).max() <= 6
    assert paint_over(bare, []) is bare
    out_of_frame = corners - [240, 140]
    assert paint_over(bare, [out_of_frame]).shape == bare.shape
