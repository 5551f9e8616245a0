"""Text: signs that the typeface has, lines that fit, labels that do not hide one another."""

import shapely
from hypothesis import given
from hypothesis import strategies as st

from grainlog.picture.lettering import (
    Label,
    place_label,
    spelled,
    text_width,
    typeface,
    wrapped,
)


def test_signs_that_the_typeface_lacks_are_spelled():
    assert spelled("7½ in × 2 m²") == "7 1/2 in x 2 m2"
    missing = bytes(typeface(40).getmask("\uffff"))
    for sign in spelled("½¼¾×²³–—−≥≤’‘“”′″…·±"):
        assert sign == " " or bytes(typeface(40).getmask(sign)) != missing


@given(st.text(alphabet="abcdefg ", max_size=120), st.integers(60, 600))
def test_wrapped_lines_fit_and_lose_nothing(text, width):
    rows = wrapped(text, 20, width)
    assert " ".join(rows).split() == text.split()
    assert all(text_width(row, 20) <= width or " " not in row for row in rows)


def test_first_free_place_is_taken():
    taken = [shapely.box(0, 0, 300, 100)]
    chosen = place_label([Label("12 in", 150, 50, 20), Label("12 in", 150, 160, 20)], taken, 300, 300)
    assert chosen.y == 160
    assert len(taken) == 2


def test_a_place_out_of_the_frame_is_worse_than_one_over_a_line():
    taken = [shapely.box(0, 0, 300, 100)]
    assert place_label([Label("12 in", 295, 200, 20), Label("12 in", 150, 50, 20)], taken, 300, 300).y == 50


def test_two_labels_for_one_place_do_not_overlap():
    taken = []
    places = [Label("27 1/8 in", 200, y, 20) for y in (100, 110, 150, 190)]
    one, other = (place_label(places, taken, 400, 400) for _ in range(2))
    assert not one.box().intersects(other.box())
