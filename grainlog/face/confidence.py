"""Raw features to one figure: the overlap (IoU) with the true wood edge that such features led to.

The shortfall 1 - IoU was fitted, by least squares with no coefficient below zero (scipy.optimize.nnls), to 72 outlines
with exact truth: generated views (tests/face/made_view.py, seeds from 100 and from 200 on; the first of them with an
earlier stage of the method, kept for the variety), 12 path-traced photos, and 7 failures of earlier stages (IoU 0.85
to 0.93), kept so that bad outlines are in the data at all. The data are few, and the photos are not held out. Residual
0.016 RMS, correlation 0.55: it tells a bad outline from a good one, not a good one from a very good one, and good
outlines are mostly better than it says. Margin, agreement and being alone did not help the fit and have no weight; they
are kept as raw features for a later calibration.
"""

from .found import Features

WARN_BELOW = 0.90
DRAWN = 0.95  # a hand-drawn outline is believed; no source

_SHORTFALL = {"separation": 0.2552, "contrast": 0.0428, "solidity": 0.0206}


def expected_overlap(features: Features) -> float:
    """Expected IoU of the wood outline, 0 to 1; never falls when a feature grows."""
    short = sum(weight * (1 - getattr(features, name)) for name, weight in _SHORTFALL.items())
    return min(1.0, max(0.0, 1 - short))
