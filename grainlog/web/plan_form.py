"""The form of the sawing plan: a log and a mill as typed."""

from collections.abc import Mapping
from dataclasses import dataclass

from grainlog.errors import GrainlogError
from grainlog.fit.sawing_plan import LEAST_FACE_MM, Log, Mill, SawingPlan, plan
from grainlog.units import parse_length
from grainlog.units.reading import parse_thickness
from grainlog.web.typed import Typed

#: (field, what it is called, in inches, in mm, whether nothing may be meant); the first five have to be given.
FIELDS = (
    ("small", "Small end across, inside bark", "16in", "400mm"),
    ("large", "Large end across, inside bark", "19in", "480mm"),
    ("length", "Length of the log", "9ft", "2.7m"),
    ("thickness", "Slab thickness", "2 1/2in", "64mm"),
    ("kerf", "Kerf", "3/8in", "9mm"),
    ("mill", "Greatest cut of the mill", "30in", "760mm"),
    ("bark", "Bark thickness", "3/4in", "20mm"),
    ("first", "First face below the top", "2in", "50mm"),
    ("least", "Narrowest face that counts", "4in", "100mm"),
)
NEEDED = ("small", "large", "length", "thickness", "kerf")
SIDES: Mapping[str, str] = {"1": "one side", "2": "both sides"}
_ASKED = {
    "small": "the small end",
    "large": "the large end",
    "length": "the length of the log",
    "thickness": "the slabs' thickness",
    "kerf": "the kerf",
}


@dataclass(frozen=True)
class PlanForm:
    """What was typed, what was wrong with it, by field, and the plan; None without one."""

    typed: Mapping[str, str]
    problems: Mapping[str, str]
    plan: SawingPlan | None


def read_plan(given: Mapping[str, str], units: str) -> PlanForm:
    """The plan of a form. Never raises for what was typed; nothing is wrong with an empty form."""
    names = [name for name, *_ in FIELDS] + ["sides", "beside"]
    form = Typed(given, names)
    typed = form.text
    read, problems = form.read, form.problems

    def length(text: str) -> float:
        return parse_length(text, units)

    def allowance(text: str) -> float:
        return parse_length(text, units, allow_zero=True)

    sizes = {name: read(name, length) for name in ("small", "large", "length", "mill")}
    sizes |= {name: read(name, allowance) for name in ("kerf", "bark", "first", "least")}
    sizes["thickness"] = read("thickness", lambda text: parse_thickness(text, units))
    if not typed.keys() - {"sides", "beside"}:
        return PlanForm(typed, {}, None)
    problems |= {name: f"Say {_ASKED[name]}." for name in NEEDED if name not in typed}
    if problems:
        return PlanForm(typed, problems, None)
    log = Log(sizes["small"], sizes["large"], sizes["length"], sizes["bark"] or 0.0)
    mill = Mill(sizes["thickness"], sizes["kerf"], sizes["mill"], 2 if typed.get("sides") == "2" else 1)
    try:
        made = plan(log, mill, sizes["first"], LEAST_FACE_MM if sizes["least"] is None else sizes["least"])
    except GrainlogError as error:
        return PlanForm(typed, {"small": str(error)}, None)
    return PlanForm(typed, {}, made)
