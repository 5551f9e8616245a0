"""Runs of True against the plainest way of counting them."""

from itertools import groupby

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from grainlog.units.runs import runs


@given(st.lists(st.booleans(), max_size=40))
def test_runs_are_those_of_the_standard_library(row):
    expected, at = [], 0
    for value, some in groupby(row):
        long = len(list(some))
        if value:
            expected.append((at, at + long))
        at += long
    assert runs(np.array(row, bool)) == expected


def test_nought_and_one_will_do():
    assert runs(np.array([0, 1, 1, 0, 1], np.uint8)) == [(1, 3), (4, 5)]
