"""What has to be lifted off to reach a slab, in words: on the command line and on the page alike."""

from grainlog.units import Quantity
from grainlog.units.mass import format_mass
from grainlog.yard.life_lifting import Lifting
from grainlog.yard.tags import tag_of


def mass_text(mass: Quantity | None, units: str) -> str:
    """A weight, or that it is not known."""
    return "weight not known" if mass is None else format_mass(mass, units)


def lifting_lines(lifting: Lifting, units: str) -> list[str]:
    """A line for each slab that lies above, the topmost first, what they weigh together, and a caution where one is due."""
    if lifting.above is None:
        return ["Its layer was not said, so what lies above is not known."]
    if not lifting.above:
        return ["Nothing lies above it."]
    lines = []
    for each in lifting.above:
        layer = f"layer {each.layer}" if each.layer else "layer not said, may lie above"
        basis = f" ({each.basis})" if each.mass_kg else ""
        lines.append(f"lift off slab {tag_of(each.number)}, {layer}: {mass_text(each.mass_kg, units)}{basis}")
    if lifting.total_kg is not None:
        missing = ", ".join(map(tag_of, lifting.unknown))
        lines.append(f"together {mass_text(lifting.total_kg, units)}" + (f", without {missing}" if missing else ""))
    if lifting.caution is not None and lifting.caution.level:
        lines.append(lifting.caution.message)
    return lines
