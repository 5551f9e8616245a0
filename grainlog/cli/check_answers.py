"""How checks are written for people: lines of a survey, and the answers of the commands about checks."""

from collections.abc import Mapping

from grainlog.units import Quantity, format_quantity


def check_lines(record: Mapping, units: str) -> list[tuple[str, str]]:
    """(name, text) lines about the checks in a survey's record; that nobody looked where nobody did."""
    sums = record.get("check_summary")
    if sums is None:
        return [("checks", "not looked for")]
    smallest = format_quantity(Quantity(sums["smallest_claimed_mm"], 0.0), "mm")
    ends, others = sums["number"]["end"], sums["number"]["surface"]
    seen = f"{counted(ends, 'end check')}, {counted(others, 'surface check')}" if ends or others else "none seen"
    lines = [("checks", f"{seen}; at this distance from about {smallest} wide")]
    if sums["longest_mm"] is not None:
        lines.append(("longest check", figure(sums["longest_mm"], units)))
        lines.append(("widest check", figure(sums["max_width_mm"], units)))
    whole, one, both = (sound for sound in sums["sound_length"])
    if ends:
        first = "butt" if one["cut_butt_mm"] > 0 else "top"
        trimmed = f"; the {first} end trimmed behind its checks {figure(one, units)}"
        trimmed += f"; both ends {figure(both, units)}" if both["value"] < one["value"] else ""
        lines.append(("sound length", f"untrimmed {figure(whole, units)}{trimmed}"))
    return lines


def figure(quantity: Mapping, units: str) -> str:
    """A length with its interval."""
    return format_quantity(Quantity(quantity["value"], quantity["u"]), units)


def counted(number: int, what: str) -> str:
    """'1 end check', '3 end checks'."""
    return f"{number} {what}" + ("" if number == 1 else "s")
