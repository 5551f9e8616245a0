"""What the page of one waiting photo says of it, in words and figures."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from grainlog.picture.figures import Summary, summarise
from grainlog.web.inbox import Waiting
from grainlog.web.inbox_words import plain
from grainlog.web.wording import units
from grainlog.yard import Yard
from grainlog.yard.tags import tag_of

_AT_HAND = frozenset({"scale-at-hand", "scale-from-two-points"})
_GUESSED = {"thickness_mm": "the thickness", "lift_mm": "the lift"}


@dataclass(frozen=True)
class Look:
    """A measured photo in words.

    summary : verdict and figures. warnings cast doubt, reminders only ask for more. at_hand : how much less sure a scale without cards is, or None.
    guessed : what was assumed because nobody said it. tag : the slab that its tag says, or None; `starts` if it is new.
    cards : numbers of the scale cards seen. question : what the tags leave open. mended : what was mended by hand.
    """

    summary: Summary
    warnings: tuple[str, ...]
    reminders: tuple[str, ...]
    at_hand: str | None
    guessed: tuple[str, ...]
    tag: str | None
    starts: bool
    log: str | None
    cards: tuple[int, ...]
    question: str | None
    mended: tuple[str, ...]


def look_data(yard: Yard, waiting: Waiting, result: Mapping[str, Any]) -> Look:
    """The words for a photo that was measured."""
    record, asked, choice = result["record"], result["asked"], result["choice"]
    summary = summarise(record, units())
    told = record.get("warnings") or ()
    at_hand = next((one["message"] for one in told if one["code"] in _AT_HAND), None)
    warnings, reminders = (
        tuple(plain(said) for said in some if said != at_hand) for some in (summary.warnings, summary.reminders)
    )
    number, log = choice["number"], choice["log"]
    if number is not None and choice["known"] and yard.holds(number):
        log = yard.slab(number).log
    checks = asked.get("checks") or {}
    mended = {
        "the wood edge was drawn by hand": asked.get("outline"),
        "the wood edge was mended with dabs": asked.get("dabs") and any(asked["dabs"].values()),
        "checks were drawn by hand": checks.get("added_px"),
        "checks were taken out by hand": checks.get("removed_px"),
    }
    return Look(
        summary, warnings, reminders, at_hand, tuple(_GUESSED[name] for name in result["assumed"]),
        None if number is None else tag_of(number), number is not None and not choice["known"], log,
        tuple(record["scale"].get("cards") or ()), result["question"] and plain(result["question"]),
        tuple(words for words, done in mended.items() if done),
    )  # fmt: skip
