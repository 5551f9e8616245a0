"""What was said of photos: typed into a form, remembered for the next one, and sentences without the command line in them."""

import re
from collections.abc import Mapping
from typing import Any

from grainlog.units import format_length
from grainlog.units.reading import parse_length, parse_thickness
from grainlog.web.errors import PageRefused
from grainlog.web.inbox import Waiting
from grainlog.yard import Yard
from grainlog.yard.tags import number_of, tag_of

#: Setting under which a yard keeps what was last said of a photo: offered for the next one.
LAST_SAID = "page_last_said"
#: What a form says of a photo, and of a slab.
ABOUT_PHOTO = ("cards_on", "slab_cards", "thickness_mm", "lift_mm", "ground", "side", "butt")
REMEMBERED = ("cards_on", "thickness_mm", "lift_mm", "ground")
_CHOICES = {
    "cards_on": ("floor", "slab"),
    "ground": ("hard", "soft"),
    "side": ("bark", "heart"),
    "butt": ("left", "right", "top", "bottom"),
}
_SAID_INSTEAD = (
    (re.compile(r",? as in --[a-z-]+ (?:'[^']*'|\S+?(?=[.,;:)]?(?:\s|$)))(?: for [a-z]+)?"), ""),
    (re.compile(r" \(--[^)]*\)"), ""),
    (re.compile(r"--slab-card (\d+)"), r"that card \1 lies on the slab"),
    (re.compile(r"--cards-on slab"), "that the cards lie on the slab"),
    (re.compile(r"--cards-on floor"), "that the cards lie on the floor"),
    (re.compile(r"--lift 0mm"), "a lift of nothing"),
    (re.compile(r", or add --overrule-tag to go by what you say"), ", or tick that what you say counts"),
    (re.compile(r"--overrule-tag"), "that what you say counts"),
    (re.compile(r"--slab NUMBER"), "which slab it is"),
    (re.compile(r"--slab"), "the slab"),
    (re.compile(r"--log"), "the log"),
    (re.compile(r"--([a-z]+)(?:-([a-z]+))?"), lambda found: f"the {found[1]}{' ' + found[2] if found[2] else ''}"),
)


def plain(sentence: str) -> str:
    """A sentence of the rooms below without the options of the command line."""
    for pattern, instead in _SAID_INSTEAD:
        sentence = pattern.sub(instead, sentence)
    return re.sub(r"\s+([,;.:])", r"\1", sentence)


def last_said(yard: Yard) -> dict[str, Any]:
    """What was last said: {"said": ..., "facts": ...}, to be offered for the next photo."""
    kept = yard.settings.get(LAST_SAID) or {}
    return {"said": dict(kept.get("said") or {}), "facts": dict(kept.get("facts") or {})}


def remember(yard: Yard, said: Mapping[str, Any], facts: Mapping[str, Any]) -> None:
    """Keep what was said for the next photo."""
    kept = {
        "said": {name: said.get(name) for name in REMEMBERED if said.get(name) not in (None, [])},
        "facts": {name: facts.get(name) for name in ("log", "species") if facts.get(name)},
    }
    yard.settings.set(LAST_SAID, kept)


def said_for(yard: Yard, waiting: Waiting) -> dict[str, Any]:
    """What a photo is measured with: what was said of it, else what was last said of another."""
    if waiting.said is not None:
        return dict(waiting.said)
    # Where the cards lie may differ from photo to photo, and the photo shows it.
    return {name: value for name, value in last_said(yard)["said"].items() if name != "cards_on"}


def read_form(
    form: Mapping[str, str], lists: Mapping[str, list[str]], units: str
) -> tuple[dict[str, Any], dict[str, Any]]:
    """What a form says of a photo and of its slab; a bare number is in `units`. Raises UnitsError, PageRefused, NoSuchSlab."""
    said: dict[str, Any] = {}
    for name, allowed in _CHOICES.items():
        value = form.get(name) or None
        if value is not None and value not in allowed:
            raise PageRefused("That cannot be chosen here; go back and choose again.")
        said[name] = value
    said["slab_cards"] = sorted(
        {int(card) for card in lists.get("slab_cards", []) if card.isdecimal() and len(card) < 3}
    )
    readings = [
        part for part in re.split(r"\s*[;,]\s*(?![0-9]{3}\b)|\s+and\s+", form.get("thickness", "").strip()) if part
    ]
    said["thickness_mm"] = [parse_thickness(reading, units) for reading in readings]
    lift = form.get("lift", "").strip()
    said["lift_mm"] = parse_length(lift, units, allow_zero=True) if lift else None
    which = form.get("which")
    facts: dict[str, Any] = {
        "log": " ".join(form.get("log", "").split())[:200] or None,
        "species": " ".join(form.get("species", "").split())[:200] or None,
        "note": form.get("note", "").strip()[:2000],
        "overrule": form.get("overrule") == "yes" or which == "new-untagged",
        "slab": None,
    }
    if which == "slab":
        facts["slab"] = number_of(form.get("slab", ""))
        facts["log"] = facts["species"] = None
    return said, facts


def typed(said: Mapping[str, Any], facts: Mapping[str, Any], units: str) -> dict[str, str]:
    """The form as it would have been typed for what was said."""
    lift = said.get("lift_mm")
    return {
        "cards_on": said.get("cards_on") or "floor",
        "ground": said.get("ground") or "",
        "side": said.get("side") or "",
        "butt": said.get("butt") or "",
        "thickness": "; ".join(format_length(mm, units) for mm in said.get("thickness_mm") or ()),
        "lift": "" if lift is None else ("0" if lift == 0 else format_length(lift, units)),
        "log": facts.get("log") or "",
        "species": facts.get("species") or "",
        "slab": tag_of(facts["slab"]) if facts.get("slab") else "",
        "note": facts.get("note") or "",
        "overrule": "yes" if facts.get("overrule") else "",
    }
