"""Raw features to one figure: the chance that the outline is sound, that is, overlaps the true wood face by over 97 %.

Logistic regression on generated views with exact truth and the faults that photos have (tests/confidence.py,
tests/face/worn_view.py), tried on as many others. The weights may only punish what is worse. How far it can be believed on
them stands in the README; in the dark a person who covers part of the slab may go unnoticed, and real photos may hold faults
that nobody generated.
"""

import math

from .found import Features

SOUND_OVERLAP = 0.97
WARN_BELOW, LOST_BELOW = 0.90, 0.50
DRAWN = 0.95  # a hand-drawn outline is believed; no source

# From `python -m tests.confidence --fit --views 300` of 2026-11-26. A weight of nothing: the others say it already.
_BASE = 8.26
_WEIGHTS = {"separation": 6.28, "contrast": 0.91, "margin": 0.00, "agreement": 21.44, "solidity": 0.00, "alone": 0.39,
            "learned": 3.15, "closed": 3.28, "clear": 0.00, "unbroken": 27.05, "in_sight": 17.07}  # fmt: skip
#: A margin this good leaves nothing to wish for, nats.
_MARGIN_ENOUGH = 3.0


def shortfalls(features: Features) -> tuple[float, ...]:
    """Square root of what each feature, in the order of `_WEIGHTS`, lacks of its best: small lacks tell the most."""
    margin = features.margin / _MARGIN_ENOUGH
    values = (margin if name == "margin" else getattr(features, name) for name in _WEIGHTS)
    return tuple(math.sqrt(max(0.0, 1 - value)) for value in values)


def chance_of_sound(features: Features) -> float:
    """Chance that the outline overlaps the true one by more than `SOUND_OVERLAP`; never falls when a feature grows."""
    logit = _BASE - sum(weight * short for weight, short in zip(_WEIGHTS.values(), shortfalls(features)))
    return 1 / (1 + math.exp(-max(min(logit, 30.0), -30.0)))
