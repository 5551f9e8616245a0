"""The numbers of a survey's record in words: every figure with its interval, and what its checks come to."""

from collections.abc import Mapping

from grainlog.units import Quantity, format_quantity

#: (name shown, key in the record's "face", kind)
ROWS = (
    ("length", "length_mm", "length"),
    ("square-end length", "length_square_mm", "length"),
    ("least width", "width_min_mm", "length"),
    ("mean width", "width_mean_mm", "length"),
    ("greatest width", "width_max_mm", "length"),
    ("three-width mean", "width_three_mm", "length"),
    ("thickness (given)", "thickness", "length"),
    ("wood area", "area_mm2", "area"),
    ("bark area", "bark_area_mm2", "area"),
    ("volume", "volume_mm3", "volume"),
    ("board feet", "board_feet", "board_feet"),
    ("by three widths", "board_feet_three_width", "board_feet"),
)


def figure_lines(face: Mapping, units: str) -> list[tuple[str, str]]:
    """(name, value +- 2u) of every figure; "not known" where the record has none."""
    lines = []
    for name, key, kind in ROWS:
        given = face.get(key)
        written = "not known" if given is None else format_quantity(Quantity(given["value"], given["u"]), units, kind)
        lines.append((name, written))
    return lines


def figure_sources(face: Mapping) -> dict[str, str]:
    """By the name shown: what a figure's interval is made of, the largest first, in shares of its variance."""
    told = {}
    for name, key, _ in ROWS:
        budget = (face.get(key) or {}).get("budget") or {}
        whole = sum(part**2 for part in budget.values())
        if whole > 0:
            shares = sorted(((part**2 / whole, source) for source, part in budget.items()), reverse=True)
            told[name] = ", ".join(f"{source} {100 * share:.0f} %" for share, source in shares if share >= 0.005)
    return told


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
