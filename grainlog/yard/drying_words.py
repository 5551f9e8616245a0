"""How the drying of a slab is put in words: for the command line and the page alike."""

from grainlog.drying import format_moisture
from grainlog.units import Quantity, format_if_known, format_length
from grainlog.units.mass import format_mass, format_temperature
from grainlog.yard.drying import SlabDrying
from grainlog.yard.readings import (
    Entry,
    MoistureEntry,
    WeighingEntry,
    day_of,
    name_of,
)

READING_HEADINGS = ("reading", "day", "what", "value", "where")
HEAVY = "Its weight is not known, so take it to be too heavy for two people until you have weighed one like it."

Line = tuple[str, str]


def moisture_lines(told: SlabDrying) -> list[Line]:
    """(name, text): where it is and when it will be dry; an empty name goes on from the line above."""
    seen = told.assessed
    lines = [
        ("moisture now", _known(seen.now.moisture, seen.now.why)),
        ("at its survey", _known(seen.then.moisture, seen.then.why)),
        ("shed's air", f"{format_moisture(seen.air.equilibrium)} {seen.air.why}"),
    ]
    if seen.forecast is not None:
        return [*lines, ("forecast", seen.forecast.sentence)]
    lines.append(("forecast", "not from its own readings: three days of readings of one kind are needed"))
    return lines + [("", f"{_span(rule.least_days, rule.most_days)}: {rule.standing}") for rule in seen.rules]


def dry_lines(told: SlabDrying, units: str) -> list[Line]:
    """(name, text): the slab's sizes at the target moisture, and what it finishes at."""
    out = told.outcome
    if "size" in out.why:
        return [("sizes", f"not known: {out.why['size']}")]
    lines = [
        (name, format_if_known(figure, units, kind))
        for name, figure, kind in (
            ("length", out.length_mm, "length"),
            ("mean width", out.width_mm, "length"),
            ("thickness", out.thickness_mm, "length"),
            ("board feet", out.board_feet, "board_feet"),
        )
    ]
    done = out.finished
    if done is None:
        return [*lines, ("finishes at", f"not known: {out.why.get('finished', '')}")]
    if done.board_feet is None:
        lines.append(("finishes at", "nothing is left after flattening and trimming"))
    else:
        sizes = " x ".join(format_if_known(one, units) for one in (done.thickness_mm, done.width_mm, done.length_mm))
        lines.append(("finishes at", f"{sizes}, {format_if_known(done.board_feet, units, 'board_feet')}"))
    return lines + [("", assumed) for assumed in done.assumed]


def weight_lines(told: SlabDrying, units: str) -> list[Line]:
    """(name, text): what it weighs now, weighed green, and will weigh dry."""
    out = told.outcome
    now = out.why.get("weight now") or out.why.get("weight", "")
    lines = [("weight now", f"{format_mass(out.now_kg, units)}, bark included" if out.now_kg else f"not known: {now}")]
    if out.green_kg:
        lines.append(("weight green", f"{format_mass(out.green_kg, units)}, bark included: the most it weighs"))
    dry = format_mass(out.dry_kg, units) if out.dry_kg else f"not known: {out.why.get('weight', '')}"
    return [*lines, ("weight dry", dry)]


def lifting_caution(told: SlabDrying) -> tuple[int, str]:
    """How much of a caution its weight calls for (see `drying.weight.Caution`), and the caution; empty where there is none."""
    out = told.outcome
    if out.caution is not None:
        return out.caution.level, out.caution.message
    return (2, HEAVY) if out.now_kg is None else (0, "")


def reading_cells(entry: Entry, units: str) -> tuple[str, ...]:
    """One reading in the order of `READING_HEADINGS`."""
    name, day = name_of(entry), day_of(entry).isoformat()
    if isinstance(entry, WeighingEntry):
        return name, day, "weight", format_mass(entry.weighing.quantity, units), entry.note
    if isinstance(entry, MoistureEntry):
        one = entry.reading
        what = f"{one.method} {'core' if one.core else ''}".strip()
        deep = "" if one.depth_mm is None else f"{format_length(one.depth_mm, units)} deep"
        warm = "" if one.temperature_c is None else format_temperature(one.temperature_c, units)
        where = ", ".join(part for part in (deep, one.place, warm, entry.note) if part)
        return name, day, what, format_moisture(one.quantity), where
    warp = entry.warp
    parts = (("cup", warp.cup_mm), ("bow", warp.bow_mm), ("twist", warp.twist_mm))
    said = ", ".join(f"{word} {format_length(mm, units)}" for word, mm in parts if mm is not None)
    return name, day, "warp", said, entry.note


def _known(moisture: Quantity | None, why: str) -> str:
    return f"not known: {why}" if moisture is None else f"{format_moisture(moisture)}, {why}"


def _span(least: float, most: float) -> str:
    return f"{least:.0f} days" if round(least) == round(most) else f"{least:.0f} to {most:.0f} days from sawing"
