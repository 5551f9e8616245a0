"""Sharing a haul against number-partitioning instances whose best division is published."""

import pytest

from grainlog.fit.shares import divide

PEOPLE = [f"person {number}" for number in range(1, 12)]

# (numbers, parts, least possible difference of greatest and least sum, source)
PUBLISHED = [
    # Documentation of the Python library `numberpartitioning` 0.0.2: parts [8], [4, 7], [5, 6], "this happens to be
    # optimal". Read there.
    ([4, 6, 7, 5, 8], 3, 3),
    # Encyclopaedia article "Largest differencing method": the method leaves 2, the best, {8, 7} and {6, 5, 4}, 0. Read.
    ([8, 7, 6, 5, 4], 2, 0),
    # R. L. Graham, "Bounds on multiprocessing timing anomalies", SIAM J. Appl. Math. 17 (1969): 2m-1, 2m-1, ..., m+1,
    # m+1, m, m, m on m machines fit into 3m each, while longest-first needs 4m-1. From memory.
    *(([*(n for k in range(m + 1, 2 * m) for n in (k, k)), m, m, m], m, 0) for m in (2, 3, 4, 5, 6)),
]


@pytest.mark.parametrize("numbers, parts, least", PUBLISHED)
def test_published_instances(numbers, parts, least):
    made = divide(dict(enumerate(map(float, numbers))), PEOPLE[:parts])
    assert made.best and made.difference == least


@pytest.mark.parametrize("numbers, parts, least", PUBLISHED)
def test_published_instances_the_long_way(numbers, parts, least):
    """Our search stopped after its first way down: evened out two by two, then HiGHS by way of scipy."""
    made = divide(dict(enumerate(map(float, numbers))), PEOPLE[:parts], nodes=1)
    assert made.difference == least
