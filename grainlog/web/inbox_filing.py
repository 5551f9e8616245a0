"""From a photo that waits to an entry of the yard."""

from collections.abc import Mapping
from typing import Any

from grainlog.notes import Note
from grainlog.web.errors import PageRefused
from grainlog.web.inbox import Inbox, Waiting
from grainlog.web.inbox_words import remember
from grainlog.yard import Filed, SlabFacts, Yard
from grainlog.yard.keeping import in_a_sentence

#: Words for what was assumed.
_MISSING = {
    "thickness_mm": "how thick the slab is",
    "lift_mm": "how high it lies above the floor that the cards lie on",
}


def file_photo(yard: Yard, inbox: Inbox, waiting: Waiting) -> Filed:
    """File a photo that was measured and looked at; it waits no more then.

    Raises PageRefused where something is still to be said, and what `Yard.add` raises.
    """
    from grainlog.yard.adding import Measured
    from grainlog.yard.tag_reading import TagChoice

    result, facts = waiting.result(), waiting.facts or {}
    if waiting.state != "measured" or result is None:
        raise PageRefused("This photo is not measured yet; wait for it, then look at it once more.")
    if result["assumed"]:
        raise PageRefused(
            f"Say {' and '.join(_MISSING[name] for name in result['assumed'])} first; until then it is measured with a guess."
        )
    if result["question"] and not facts.get("overrule"):
        raise PageRefused(f"{result['question']} Or tick that what you say counts.")
    told = result["choice"]
    choice = TagChoice(
        told["number"], told["known"], told["log"], told["order"], tuple(Note(**note) for note in told["notes"])
    )
    with in_a_sentence("nothing was filed"):
        flat, overlay = ((waiting.folder / name).read_bytes() for name in ("flat.jpg", "overlay.jpg"))
    further = tuple(zip(waiting.others, waiting.hashes[1:], strict=True))
    measured = Measured(result["record"], waiting.sha256, flat, overlay, choice, further)
    slab = facts.get("slab")
    readings = tuple(result["asked"].get("thickness_mm") or ())
    told_facts = SlabFacts(slab, facts.get("log"), None, facts.get("species"), readings, facts.get("note") or "")
    filed = yard.file_by_tag(measured.filing(waiting.photo, told_facts, waiting.title), choice)
    remember(yard, result["asked"], {"log": filed.log, "species": facts.get("species")})
    inbox.leave(waiting.number)
    return filed


def same_measurement(
    asked: Mapping[str, Any], said: Mapping[str, Any], facts: Mapping[str, Any], before: Mapping[str, Any]
) -> bool:
    """Whether what is said now would be measured as it was: numbers to a tenth of a millimetre.

    asked : what it was measured with. said, facts : now. before : the facts it was measured with.
    """

    def alike(one: Any, other: Any) -> bool:
        if isinstance(one, (list, tuple)) and isinstance(other, (list, tuple)):
            return len(one) == len(other) and all(map(alike, one, other))
        if isinstance(one, (int, float)) and isinstance(other, (int, float)):
            return abs(one - other) < 0.1
        return _said(one) == _said(other)

    names = {*asked, *said}
    return all(alike(asked.get(name), said.get(name)) for name in names) and all(
        alike(before.get(name), facts.get(name)) for name in ("slab", "overrule")
    )


def _said(value: Any) -> Any:
    """Nothing said is nothing said, however it is written; the number 0 is something."""
    return None if value is False or value in ([], (), "") else value
