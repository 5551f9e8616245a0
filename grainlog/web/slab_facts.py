"""What a slab's page says: gathered from the yard, and for a link's visitor without prices, places, owners and names."""

from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from grainlog.checks.history import CheckHistory, FaceLook
from grainlog.drying.errors import DryingError
from grainlog.notes import Note
from grainlog.web.slab_drawing import Face, face_of
from grainlog.yard import SlabEntry, SurveyEntry, Yard
from grainlog.yard.drying import SlabDrying
from grainlog.yard.errors import NoSuchSlab
from grainlog.yard.figure_words import check_lines, figure_lines, figure_sources
from grainlog.yard.life_changes import Change
from grainlog.yard.life_lifting import Lifting
from grainlog.yard.life_state import Life
from grainlog.yard.neighbours import Neighbours
from grainlog.yard.next_steps import next_steps


@dataclass(frozen=True)
class Figure:
    """A line of the numbers: its name, value and interval, and what the interval is made of."""

    name: str
    text: str
    sources: str


@dataclass(frozen=True)
class SlabPage:
    """Everything on the page of one slab.

    survey : the one that is shown, the newest unless another was chosen. newest : whether it is.
    life : without names, place, owner and price for a guest. drying : None where it cannot be reckoned.
    lifting : None for a guest. history : its checks followed from photo to photo; None with one photo only.
    steps : what to do next; none for a guest.
    """

    entry: SlabEntry
    survey: SurveyEntry
    newest: bool
    life: Life
    face: Face | None
    figures: tuple[Figure, ...]
    drying: SlabDrying | None
    lifting: Lifting | None
    checks: CheckHistory | None
    neighbours: Neighbours
    changes: tuple[Change, ...]
    steps: tuple[Note, ...]

    @property
    def grows(self) -> bool:
        """Whether there are at least two photos whose checks can be compared."""
        return self.checks is not None and any(len(self.checks.of_face(face)) > 1 for face in self.checks.faces)

    @property
    def followed(self) -> bool:
        """Whether the growth of its checks can be drawn."""
        return self.checks is not None and (
            any(look.sightings for look in self.checks.looks) or any(look.length_mm is not None for look in self.checks.hand)
        )


def slab_page(yard: Yard, number: int, survey: int | None, units: str, guest: bool, today: date | None = None) -> SlabPage:
    """What the page of a slab says. Raises NoSuchSlab, also for a survey that is not one of its own."""
    entry = yard.slab(number)
    shown = survey_of(entry, survey)
    life = yard.lives.of(number)
    try:
        drying = yard.drying.slab(number, today=today)
    except DryingError:
        drying = None
    # Following two photos takes about a second the first time; with one there is nothing to follow.
    several = len([one for one in entry.surveys if one.cut_from is None]) > 1
    checks = yard.checks.slab(number, units) if several or yard.checks.hand.of(number) else None
    steps = ()
    if drying is not None and not guest:
        steps = next_steps(entry, life, drying, checks.advice if checks else (), today)
    return SlabPage(
        entry=entry,
        survey=shown,
        newest=shown is entry.surveys[0],
        life=for_guest(life) if guest else life,
        face=face_of(shown.record, _look_of(checks, shown.id), units),
        figures=tuple(_figures(entry, shown, units)),
        drying=drying,
        lifting=None if guest else yard.lifting(number),
        checks=checks,
        neighbours=yard.logs.neighbours(number),
        changes=() if guest else yard.lives.history(number),
        steps=steps,
    )


def survey_of(entry: SlabEntry, survey: int | None) -> SurveyEntry:
    """A slab's survey by its key, the newest for None. Raises NoSuchSlab."""
    if survey is None:
        return entry.surveys[0]
    found = next((one for one in entry.surveys if one.id == survey), None)
    if found is None:
        raise NoSuchSlab(f"Slab {entry.tag} has no such survey; choose one of its own.")
    return found


def for_guest(life: Life) -> Life:
    """What a link's visitor may know of where a slab stands."""
    return replace(life, until=None, for_whom=None, shed=None, stack=None, layer=None, owner=None, price=None)


def together(lines: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """Lines (name, text) that say the same told once, with all their names."""
    said: dict[str, list[str]] = {}
    for name, text in lines:
        said.setdefault(text, []).append(name)
    return [(", ".join(filter(None, names)), text) for text, names in said.items()]


def _figures(entry: SlabEntry, survey: SurveyEntry, units: str) -> list[Figure]:
    face: dict[str, Any] = dict(survey.record["face"])
    if survey is entry.surveys[0]:
        # What stands for the slab: volume and board feet of both faces, where both were surveyed.
        face |= {_KEY.get(name, name): figure and figure.as_dict() for name, figure in entry.figures.items()}
    sources = figure_sources(face)
    lines = [*figure_lines(face, units), *check_lines(survey.record, units)]
    return [Figure(name, text, sources.get(name, "")) for name, text in lines]


_KEY = {"thickness_mm": "thickness"}


def _look_of(checks: CheckHistory | None, survey: int) -> FaceLook | None:
    return next((look for look in checks.looks if look.survey == survey), None) if checks else None
