"""Stretches: where a row of yes and no says yes without a break."""

import numpy as np


def runs(which: np.ndarray) -> list[tuple[int, int]]:
    """First and one past the last index of each run of True in (n,) bool (or 0 and 1), in order; an open row, not a ring."""
    padded = np.concatenate([[0], np.asarray(which).astype(np.int8), [0]])
    changes = np.flatnonzero(np.diff(padded)).tolist()
    return list(zip(changes[::2], changes[1::2]))
