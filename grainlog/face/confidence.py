"""Raw features to one figure: the overlap (IoU) with the true wood edge that such features led to."""

import math

from .found import Features

WARN_BELOW = 0.90
DRAWN = 0.95  # a hand-drawn outline is believed; no source


def expected_overlap(features: Features) -> float:
    """Expected IoU of the wood outline, 0 to 1; grows with every feature."""
    score = (
        3.0 * features.separation
        + 1.0 * features.contrast
        + 0.5 * min(features.margin, 3.0)
        + 2.0 * max(features.agreement - 0.7, 0)
        + 1.0 * features.solidity
        + 0.5 * features.alone
    )
    return 1 / (1 + math.exp(-(score - 2.0)))
