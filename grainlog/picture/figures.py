"""What the strip beside a marked photo says: the verdict, the figures and the warnings, as plain words."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from grainlog.units.quantity import Quantity
from grainlog.units.writing import format_quantity

#: Our own limits, no source: from here a confidence reads as sound, below here as not to be trusted.
SOUND_FROM, DOUBT_BELOW = 0.8, 0.5

#: Codes of warnings that ask for something more but cast no doubt on what was measured: the interval holds as it is.
REMINDERS = frozenset({"print-not-measured", "no-thickness", "one-face"})
_CARD_NOT_USED = "card-not-used"


class Trust(Enum):
    """How far to trust a survey, in the words on the picture."""

    SOUND = "Looks sound"
    LOOK = "Look at the lines first"
    DOUBT = "Do not trust these numbers"


@dataclass(frozen=True)
class Figure:
    """One number with its name: the value and its interval of two standard uncertainties, each with its unit."""

    name: str
    value: str
    interval: str = ""


@dataclass(frozen=True)
class Summary:
    """Everything that the strip says."""

    trust: Trust
    confidence: str
    figures: tuple[Figure, ...]
    warnings: tuple[str, ...]
    reminders: tuple[str, ...]


def summarise(record: Mapping, units: str) -> Summary:
    """The words for `record` (the plain data of a survey) with lengths in `units`, "in" or "mm"."""
    face = record.get("face") or {}
    scale = record.get("scale") or {}
    told = record.get("warnings") or ()
    warnings = [warning["message"] for warning in told if warning["code"] not in REMINDERS]
    if not any(warning["code"] == _CARD_NOT_USED for warning in told):
        warnings += [f"Card {out['card']} was not used: {out['reason']}." for out in scale.get("left_out") or ()]
    confidence = face.get("confidence")
    return Summary(
        trust=trust(confidence, bool(warnings)),
        confidence="confidence not known" if confidence is None else f"confidence {confidence:.2f} of 1",
        figures=tuple(_figures(face, scale, units)),
        warnings=tuple(warnings),
        reminders=tuple(warning["message"] for warning in told if warning["code"] in REMINDERS),
    )


def trust(confidence: float | None, warned: bool) -> Trust:
    """The verdict: the outline's confidence decides, and any warning asks for a look."""
    if confidence is not None and confidence < DOUBT_BELOW:
        return Trust.DOUBT
    if confidence is None or confidence < SOUND_FROM or warned:
        return Trust.LOOK
    return Trust.SOUND


def _figures(face: Mapping, scale: Mapping, units: str):
    def of(name: str, key: str, kind: str = "length", missing: str = "not known") -> Figure:
        quantity = face.get(key)
        if quantity is None:
            return Figure(name, missing)
        return Figure(name, *value_and_interval(quantity["value"], quantity["u"], units, kind))

    yield of("length", "length_mm")
    yield of("greatest width", "width_max_mm")
    yield of("mean width", "width_mean_mm")
    yield of("least width", "width_min_mm")
    yield of("board feet", "board_feet", "board_feet", missing="needs thickness")
    yield of("wood area", "area_mm2", "area")
    yield of("thickness", "thickness", missing="not given")
    yield Figure("scale cards", *_cards(scale))


def value_and_interval(value: float, u: float, units: str, kind: str = "length") -> tuple[str, str]:
    """A quantity as `24.6 BF` and `± 0.8 BF`, no finer than `format_quantity` writes it: large, and small beneath.

    value, u : in mm, mm2 or board feet, as `kind` says; the interval of two standard uncertainties is empty for u = 0
    """
    written = format_quantity(Quantity(value, u), units, kind)
    value, sign, interval = written.partition(" ± ")
    if not sign:
        return value, ""
    # Feet and inches carry their unit on both sides, the rest only at the end.
    unit = re.search(r"[^\d\s./].*$", interval)[0]
    return (value if value.endswith((" in", " ft")) else f"{value} {unit}"), f"± {interval}"


def _cards(scale: Mapping) -> tuple[str, str]:
    cards = scale.get("cards") or ()
    fit = scale.get("reprojection_px")
    return ", ".join(map(str, cards)) or "none", "" if fit is None else f"fit {fit:.2f} px"
