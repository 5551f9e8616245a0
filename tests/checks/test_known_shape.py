"""The reader that is told path and shape: on even wood it sees where a tip is, and by how much it is told wrong."""

import numpy as np
import pytest

from tests.checks.known_shape import shifts
from tests.checks.scoring import Truth
from tests.checks.test_tips import board


def tapering(x):
    return np.clip(0.05 * np.minimum(x - 100, 220 - x), 0, 2.5)


def test_it_is_right_on_even_wood_and_sees_what_it_is_told_wrong():
    x = np.arange(100.0, 220.1, 2.0)
    truth = Truth(np.column_stack([x, np.zeros(len(x))]), tapering(x), "surface", 0)
    wood = board(tapering)
    assert shifts(wood, truth, (-1, 1)) == {-1: pytest.approx(0, abs=2), 1: pytest.approx(0, abs=2)}
    assert shifts(wood, truth, (1,)).keys() == {1}
    short = Truth(truth.path[:-10], tapering(x + 20 * (x > 160))[:-10], "surface", 0)
    assert shifts(wood, short, (-1, 1)) == {-1: pytest.approx(0, abs=2), 1: pytest.approx(20, abs=3)}
    assert shifts(wood, Truth(truth.path, 0.1 * truth.width, "surface", 0), (1,)) == {}
