"""What is hidden of a slab is measured where it goes on from the outline, and nowhere else."""

import numpy as np
import pytest

from grainlog.face.beside import HIDING_MM
from grainlog.face.hidden import TOLD_MM2, Hidden, hidden_mm2, hidden_notes, what_hides
from grainlog.scale.flat import FlatView

WOOD = np.array([[0.0, 0.0], [1600.0, 0.0], [1600.0, 500.0], [0.0, 500.0]])


def view(cards=(), seen=None, light=(90, 60, 40)):
    """4 mm/px, x from -200 to 2200, y from -200 to 800 mm: grey ground, with something of another colour past x = 1600 and before 0."""
    shape = (250, 600)
    rgb = np.full((*shape, 3), 120, np.uint8)
    rgb[50:200, 450:] = rgb[:, :50] = light
    seen = np.ones(shape, bool) if seen is None else seen
    return FlatView(rgb, seen, 4.0, np.array([-198.0, 798.0]), cards, (False,) * len(cards), np.array([0, 0, 2e3]))


def behind(left, low, right, high):
    """A map that says of one rectangle, mm, that a face goes on there."""
    made = np.zeros((250, 600), np.float32)
    made[round((800 - high) / 4) : round((800 - low) / 4), round((left + 200) / 4) : round((right + 200) / 4)] = 0.9
    return made


def test_nothing_hidden_is_said_so():
    plain = view(light=(120, 120, 120))
    hidden = what_hides(WOOD, plain, np.full((250, 600), 0.1, np.float32), plain)
    assert hidden == Hidden(0.0, 0.0) and hidden.in_sight(WOOD) == 1
    assert hidden_notes(hidden) == () and hidden.sure_at_most == 1


def test_what_goes_on_past_an_end_is_measured_and_told():
    hidden = what_hides(WOOD, view(), behind(1400, 100, 1900, 400), view())
    assert hidden.area_mm2 == pytest.approx(300 * 300, rel=0.02)  # what lies on the outline's own face does not count
    assert hidden.in_sight(WOOD) == pytest.approx(1600 * 500 / (1600 * 500 + 300 * 300), rel=0.01)
    (note,) = hidden_notes(hidden)
    assert note.code == "slab-hidden" and "1.0 sq ft (0.09 m2)" in note.message and "step out of the picture" in note.message
    assert hidden.sure_at_most < 0.9


def test_in_a_black_shadow_nothing_is_told():
    assert hidden_mm2(WOOD, view(light=(9, 9, 9)), behind(1400, 100, 1900, 400)) == 0


def test_ground_that_passes_for_a_sheet_is_not_told():
    assert hidden_mm2(WOOD, view(light=(121, 119, 120)), behind(1400, 100, 1900, 400)) == 0


def test_what_starts_a_hand_away_from_the_slab_is_another_matter():
    assert hidden_mm2(WOOD, view(), behind(1700, 100, 2000, 400)) == 0


def test_a_leg_between_outline_and_what_is_hidden_does_not_part_them():
    assert hidden_mm2(WOOD, view(), behind(1640, 100, 1840, 400)) == pytest.approx(200 * 300, rel=0.02)


def test_what_lies_under_a_card_is_known_and_does_not_count():
    card = np.array([[1600.0, 100.0], [1900.0, 100.0], [1900.0, 400.0], [1600.0, 400.0]])
    assert hidden_mm2(WOOD, view((card,)), behind(1600, 100, 1900, 400)) < TOLD_MM2 / 2


def test_what_the_photo_does_not_show_does_not_count():
    seen = np.ones((250, 600), bool)
    seen[:, 450:] = False  # from x = 1600 on
    assert hidden_mm2(WOOD, view(seen=seen), behind(1400, 100, 1900, 400)) == 0


def test_two_pieces_add_up():
    both = np.maximum(behind(1600, 100, 1700, 200), behind(-100, 100, 0, 200))
    assert hidden_mm2(WOOD, view(), both) == pytest.approx(2 * 100 * 100, rel=0.05)


def test_a_little_is_not_told_and_what_lies_beside_the_edge_only_where_the_network_sees_nothing():
    assert hidden_notes(Hidden(TOLD_MM2 - 1, HIDING_MM - 1)) == ()
    (note,) = hidden_notes(Hidden(0.0, HIDING_MM))
    assert note.code == "edge-hidden" and Hidden(0.0, HIDING_MM).sure_at_most < 0.9
    assert [note.code for note in hidden_notes(Hidden(TOLD_MM2, 500.0))] == ["slab-hidden"]


def test_a_doubt_that_is_grey_all_over_tells_nobody():
    grey = behind(1600, 100, 1900, 400) * 0.7
    assert hidden_mm2(WOOD, view(), grey) == 0
    grey[round((800 - 300) / 4), round((1700 + 200) / 4)] = 0.9
    assert hidden_mm2(WOOD, view(), grey) == pytest.approx(300 * 300, rel=0.02)
