"""What a slab's checks say, in plain words; and what is commonly done about it."""

import math
from collections.abc import Sequence

from grainlog.checks.follow import Sighting
from grainlog.checks.history import (
    FaceLook,
    HandLook,
    Running,
    bark_said,
    tape_growth,
)
from grainlog.notes import Note
from grainlog.units import Quantity, format_quantity
from grainlog.units.factors import MM_PER_INCH

#: Said only while a check runs; none of it is certain to help.
ADVICE = (
    "Common practice, no source: coat the ends (wax emulsion, thick paint) where end checks run, as end grain dries fastest.",
    "Common practice, no source: dry slower for a while: cover the stack against sun and wind, lay thinner stickers.",
    "Common practice, no source: weight on top and stickers straight above one another hold a slab flat; they stop no check.",
)
_WEIGHT = ("not-matched", "first-in-doubt", "photo-order", "cut-shorter", "ripped", "running", "grown-by-tape", "joined", "end-wax",
           "narrower", "bark-off")  # fmt: skip


def notices_of(looks: Sequence[FaceLook], hand: Sequence[HandLook], running: Sequence[Running], units: str) -> tuple[Note, ...]:
    """Everything the person should know, the weightiest first; lengths in "in" or "mm"."""
    found = [
        Note("not-matched", f"The photo of {look.day} is not matched with the others ({_face(look.face)}): {look.why}")
        for look in looks
        if look.standing == "refused"
    ]
    found += [Note(note.code, f"Photo of {look.day}: {note.message}") for look in looks for note in look.notes]
    found += [_grew(one, units) for one in running]
    found += [_by_tape(*grown, units) for grown in tape_growth(tuple(hand))]
    for face in dict.fromkeys(look.face for look in looks):
        of_face = [look for look in looks if look.face == face and look.counts]
        if of_face:
            found += _of_newest(of_face, bark_said(tuple(hand), of_face[-1].day), units)
            found += _first_in_doubt(looks, of_face)
    return tuple(sorted(found, key=lambda note: _WEIGHT.index(note.code) if note.code in _WEIGHT else len(_WEIGHT)))


def what(sighting_name: str, kind: str, end: str | None) -> str:
    """'End check E1 on the butt end', 'Surface check S3'."""
    return f"End check {sighting_name} on the {end} end" if kind == "end" else f"Surface check {sighting_name}"


def growth_text(value_mm: float, u_mm: float, units: str) -> str:
    """A growth with its interval, `43 ± 28 mm`, `1.7 ± 1.1 in`: fractions of an inch would round the claim away."""
    unit = MM_PER_INCH if units == "in" else 1.0
    value, interval = value_mm / unit, 2 * u_mm / unit
    size = math.floor(math.log10(max(interval, 1e-3)))
    decimals = max(0, (interval < 3 * 10**size) - size)  # two digits of an interval that begins with 1 or 2, else one
    return f"{value:.{decimals}f} ± {interval:.{decimals}f} {units}"


def _grew(one: Running, units: str) -> Note:
    change = one.change
    grew = growth_text(change.growth_mm, change.growth_u_mm, units)
    a_week = growth_text(change.per_week_mm, change.per_week_u_mm, units)
    days = round(change.days)
    return Note(
        "running",
        f"{what(one.name, one.kind, one.end)} grew {grew} in {_days(days)} ({one.since} to {one.until}), {a_week} a week.",
    )


def _by_tape(before: HandLook, now: HandLook, growth: float, growth_u: float, units: str) -> Note:
    said = f"Check {now.check}" if now.check else f"The longest check of the {now.end} end"
    grew = growth_text(growth, growth_u, units)
    return Note("grown-by-tape", f"{said} grew {grew} by tape in {_days((now.day - before.day).days)} ({before.day} to {now.day}).")


def _first_in_doubt(looks: Sequence[FaceLook], of_face: Sequence[FaceLook]) -> list[Note]:
    """Where several photos do not match and nothing matches the first, the first may be the wrong one."""
    refused = [look for look in looks if look.standing == "refused" and look.face == of_face[0].face]
    if len(of_face) > 1 or len(refused) < 2:
        return []
    message = f"None of the later photos matches that of {of_face[0].day}: if that one shows another slab or face, move or mend it."
    return [Note("first-in-doubt", message)]


def _of_newest(looks: Sequence[FaceLook], said: dict[str, str], units: str) -> list[Note]:
    newest = looks[-1]
    found = []
    for state, code, text in (
        ("joined", "joined", "{what} {why} in the photo of {day}."),
        ("hidden by end wax", "end-wax", "{what} is not seen in the photo of {day} because {why}; that is no sign that it has gone."),
        ("narrower", "narrower", "{what} has closed up to {width} from {widest} at its widest: it has not healed."),
    ):
        for one in newest.sightings:
            if one.change.state == state:
                found.append(Note(code, text.format(day=newest.day, why=one.change.why, **_words(one, looks, units))))
    first = looks[0]
    for edge, state in newest.bark.items():
        # How much of an edge still has bark, a photo tells roughly: only from all to none is it sure.
        if first.bark.get(edge) == "on" and (state == "off" or state == "partly" and edge in said):
            found.append(
                Note("bark-off", f"Bark of the {edge} edge is {state} since {first.day}; the wood edge is followed, so "
                     "this is not taken for shrinkage.")
            )  # fmt: skip
    if newest.shrinkage is not None:
        percent, interval = 100 * newest.shrinkage.value, 200 * newest.shrinkage.u
        if abs(percent) > interval:
            word = "shrunk" if percent > 0 else "swollen"
            found.append(
                Note("shrunk", f"Across the grain the face ({_face(newest.face)}) has {word} by {abs(percent):.1f} ± {interval:.1f} % "
                     f"from {first.day} to {newest.day}, as the photos show it.")
            )  # fmt: skip
    return found


def _words(one: Sighting, looks: Sequence[FaceLook], units: str) -> dict[str, str]:
    check = one.check or next(
        other.check for look in reversed(looks) for other in look.sightings if other.name == one.name and other.check is not None
    )
    return {
        "what": what(one.name, check.kind, check.end),
        "width": format_quantity(Quantity(check.max_width, check.max_width_u), units),
        "widest": format_quantity(Quantity(one.widest_mm, one.widest_u_mm), units),
    }


def _face(face: str | None) -> str:
    return f"{face} side" if face else "face not said"


def _days(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"
