"""Cards are found where they are: no constant offset, small markers, several at once, strong perspective."""

import numpy as np
import pytest

from grainlog.scale import card as scale_card
from grainlog.scale.detect import find_cards
from tests.scale.synthetic import photo_of_cards, placed_flat


def offsets(seen, truth):
    return np.vstack([card.corners_px - truth[card.card][card.corner_ids] for card in seen.cards])


def test_card_drawing_is_opencvs_own_pattern():
    for number in range(scale_card.CARD_COUNT):
        drawn = scale_card.raster(number, 4)
        left, top = round(scale_card.PATTERN_X_MM * 4), round(scale_card.PATTERN_Y_MM * 4)
        pattern = drawn[top : top + 880, left : left + 704]
        assert np.array_equal(pattern, scale_card.board(number).generateImage((704, 880)))


def test_drawn_card_is_found_without_constant_offset():
    """Averaged over 24 sub-pixel positions and angles the offset vanishes: a half-pixel convention slip would be 0.5."""
    rng = np.random.default_rng(1)
    off = []
    for trial in range(24):
        place = placed_flat(300 + rng.uniform(), 300 + rng.uniform(), rng.uniform(0.9, 1.6), rng.uniform(0, 6.28))
        rgb, truth = photo_of_cards([(trial % 10, place)], (640, 600), seed=trial)
        seen = find_cards(rgb)
        assert [card.card for card in seen.cards] == [trial % 10]
        assert len(seen.cards[0].corner_ids) == 12
        off.append(offsets(seen, truth))
    off = np.vstack(off)
    assert np.abs(off.mean(0)).max() < 0.02
    assert np.sqrt((off**2).mean()) < 0.1


def test_all_cards_of_a_photo_in_one_pass_down_to_small_markers():
    """Markers of 16 px a side in a photo 4032 px wide, which OpenCV's default (3 % of the longer side) drops."""
    scale = 16 / scale_card.MARKER_MM
    placed = [(k, placed_flat(600 + 900 * (k % 4), 700 + 1400 * (k // 4), scale, 0.4 * k)) for k in range(8)]
    rgb, truth = photo_of_cards(placed, (4032, 3024), supersample=2)
    seen = find_cards(rgb)
    assert [card.card for card in seen.cards] == list(range(8))
    assert all(abs(card.marker_px - 16) < 1.0 for card in seen.cards)
    assert np.sqrt((offsets(seen, truth) ** 2).mean()) < 0.2


@pytest.mark.parametrize("keystone", [(0.0012, 0.0), (0.0, 0.0016), (-0.0008, 0.0014)])
def test_strong_perspective(keystone):
    rgb, truth = photo_of_cards([(3, placed_flat(500, 450, 2.2, 0.3, keystone))], (1100, 1000))
    seen = find_cards(rgb)
    assert [card.card for card in seen.cards] == [3]
    assert np.sqrt((offsets(seen, truth) ** 2).mean()) < 0.15


def test_half_hidden_card_is_rejected_with_its_reason():
    rgb, _ = photo_of_cards([(0, placed_flat(400, 400, 1.5))], (800, 800))
    rgb[330:] = 120
    seen = find_cards(rgb)
    assert not seen.cards
    assert [(card.card, "corners" in card.reason) for card in seen.rejected] == [(0, True)]


def test_one_number_twice_is_rejected():
    rgb, _ = photo_of_cards([(5, placed_flat(300, 400, 1.5)), (5, placed_flat(900, 400, 1.5))], (1200, 800))
    seen = find_cards(rgb)
    assert not seen.cards
    assert "two prints" in seen.rejected[0].reason


def test_no_card_in_noise():
    rng = np.random.default_rng(0)
    seen = find_cards(rng.integers(0, 255, (800, 1000, 3), dtype=np.uint8))
    assert seen.cards == ()


def test_chance_patterns_that_read_as_a_marker_do_not_cost_the_card():
    """Two stray prints of marker 17 beside card 1 (grass does that): the card is measured all the same."""
    rgb, truth = photo_of_cards([(1, placed_flat(400, 400, 1.5)), (1, placed_flat(1500, 400, 0.8))], (2016, 800), supersample=3)
    stray = rgb[:, 1300:].copy()
    rgb[:, 1300:] = 127
    rgb[380:420, 1450:1490] = stray[380:420, 150:190]
    rgb[300:345, 1490:1530] = stray[300:345, 190:230]
    seen = find_cards(rgb)
    assert [card.card for card in seen.cards] == [1]
    assert len(seen.cards[0].corner_ids) == 12
    assert np.abs(seen.cards[0].corners_px[:, 0]).max() < 700
