"""A sawing plan in words, for the command line and the page alike: what the mill cannot cut, and what log rules say."""

from grainlog.fit.log_rules import RULES
from grainlog.fit.sawing_plan import Log, SawingPlan
from grainlog.units import format_length, format_quantity


def plan_text(plan: SawingPlan, units: str) -> str:
    """Slabs, board feet and where the pith is, in a line."""
    return f"Slabs: {len(plan.slabs)}; {format_quantity(plan.board_feet, units, 'board_feet')}; pith {plan.pith}."


def mill_warnings(plan: SawingPlan, units: str) -> list[str]:
    """A sentence for each cut that is wider than the mill, and how deep the sides have to be trimmed for it."""
    said = []
    for number, cut in enumerate(plan.cuts, 1):
        if cut.excess_mm > 0:
            width, over = format_length(cut.width_mm, units), format_length(cut.excess_mm, units)
            said.append(f"Cut {number} from the top is {width} wide, {over} more than the mill.")
    if plan.trim_mm > 0:
        which = "one side" if plan.sides == 1 else "both sides"
        said.append(
            f"Trim {which} {format_length(plan.trim_mm, units)} deep, measured at the large end through the bark."
        )
    return said


def rule_feet(log: Log) -> dict[str, float | None]:
    """What each log rule says of a log, board feet of inch boards."""
    return {name: rule(log.small_mm, log.length_mm) for name, rule in RULES.items()}


def rules_text(log: Log) -> str:
    """The same in a line."""
    rules = rule_feet(log).items()
    said = ", ".join(f"{name} {'no value' if feet is None else f'{feet:.0f} BF'}" for name, feet in rules)
    return f"Log rules, of inch boards: {said}."
