"""Somebody who stands over the edge is told by what lies beside it; bark, shadows and things apart from the slab are not."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from grainlog.face.beside import HIDING_MM, hidden_mm, hidden_notes

from . import made_view


@pytest.fixture(scope="module")
def clean():
    return made_view.make(903, "concrete")


def looked_at(view, wood):
    return view.flat_view(4.0, (*(wood.min(0) - 160), *(wood.max(0) + 160)))


def with_box(view, at, size, colour=(40, 46, 66)):
    """A body of one colour over a place of the plane, (x, y) mm."""
    rgb, high = view.rgb.copy(), view.rgb.shape[0]
    corners = cv2.boxPoints(((float(at[0]), float(high - at[1])), size, 20.0))
    cv2.fillPoly(rgb, [np.round(corners).astype(np.int32)], colour)
    return replace(view, rgb=rgb)


def test_a_clean_edge_hides_nothing(clean):
    hidden = hidden_mm(clean.wood, looked_at(clean, clean.wood))
    assert hidden < HIDING_MM and hidden_notes(hidden) == ()


def test_a_body_over_the_edge_is_told_with_its_length(clean):
    place = clean.wood[len(clean.wood) // 3]
    hidden = hidden_mm(clean.wood, looked_at(with_box(clean, place, (450.0, 420.0)), clean.wood))
    assert HIDING_MM <= hidden < 900
    (note,) = hidden_notes(hidden)
    assert note.code == "edge-hidden" and "step out of the picture" in note.message


def test_an_outline_of_nothing_hides_nothing(clean):
    assert hidden_mm(clean.wood[:1] + np.array([[0, 0], [9, 0], [9, 9], [0, 9.0]]), looked_at(clean, clean.wood)) == 0.0
