"""Raw features to one figure: the chance that the outline is sound, that is, overlaps the true wood face by over 97 %.

Logistic regression on generated views with exact truth, three hundred with every fault that photos have (tests/confidence.py,
tests/face/worn_view.py); tried on three hundred others. The weights may only punish what is worse. How far it can be
believed on them stands in the README; real photos may hold faults that nobody generated.
"""

import math

from .found import Features

SOUND_OVERLAP = 0.97
WARN_BELOW, LOST_BELOW = 0.90, 0.50
DRAWN = 0.95  # a hand-drawn outline is believed; no source

_BASE = 2.0
_WEIGHTS = {"separation": 1.0, "contrast": 1.0, "margin": 1.0, "agreement": 1.0, "solidity": 1.0, "alone": 1.0,
            "learned": 1.0, "closed": 1.0, "clear": 1.0}  # fmt: skip
#: A margin this good leaves nothing to wish for, nats.
_MARGIN_ENOUGH = 3.0


def shortfalls(features: Features) -> tuple[float, ...]:
    """What each feature, in the order of `_WEIGHTS`, lacks of its best, 0 or more."""
    margin = max(0.0, 1 - features.margin / _MARGIN_ENOUGH)
    return tuple(margin if name == "margin" else 1 - getattr(features, name) for name in _WEIGHTS)


def chance_of_sound(features: Features) -> float:
    """Chance that the outline overlaps the true one by more than `SOUND_OVERLAP`; never falls when a feature grows."""
    logit = _BASE - sum(weight * short for weight, short in zip(_WEIGHTS.values(), shortfalls(features)))
    return 1 / (1 + math.exp(-max(min(logit, 30.0), -30.0)))
