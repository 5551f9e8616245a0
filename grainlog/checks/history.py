"""The checks of a slab over time: its dated looks, by photo and by hand, and what runs."""

from dataclasses import dataclass, field
from datetime import date

import numpy as np
import shapely

from grainlog.checks.follow import (
    CLAIMED_U,
    IDENTITY,
    Change,
    CheckLook,
    Sighting,
    compared,
)
from grainlog.notes import Note
from grainlog.units import Quantity

ENDS = ("butt", "top")
EDGES = ("left", "right")
BARK = ("on", "partly", "off")
#: A tape read along an end check is good to about this, mm (common practice, no source).
TAPE_U_MM = 3.0
#: Growth is looked for over at most so many days back from the newest look: older growth has ended or shows in shorter steps.
RUNNING_DAYS = 70
#: Ways a photo stands to the first one of its face.
STANDINGS = ("first", "laid", "refused", "not looked for")


@dataclass(frozen=True)
class HandLook:
    """What a person saw without a photo.

    end, length_mm : the longest check of an end ("butt" or "top") by tape, or of the check `check` where it was named
    wax : whether the end carries wax from this day on; None where nothing was said of it
    bark : of the edges that were said, "on", "partly" or "off"
    """

    slab: int
    day: date
    end: str | None = None
    check: str | None = None
    length_mm: float | None = None
    wax: bool | None = None
    bark: dict[str, str] = field(default_factory=dict)
    note: str = ""
    id: int | None = None


@dataclass(frozen=True)
class FaceLook:
    """One photo of one face, as a look at its checks.

    survey : the survey's key in the yard
    face : "bark", "heart" or None where nobody said
    standing : one of STANDINGS; nothing of a photo that is refused is matched, `why` says the reason (`code` for programs)
    notes : what was noticed when it was laid on the earlier ones
    shrinkage : share of the first photo's width that is gone, across the grain; None where it is not known
    residual_mm : how far features that agree lie apart, RMS
    least_mm : greatest width of the smallest check this photo is claimed to show
    length : of the slab in this photo
    bark : by edge ("left", "right": for somebody at the butt end who looks along the slab), as a person last said by that day,
        else as the photo shows it
    sightings : of every check that is known by then; `check` is in the photo's own slab frame
    look : what the following went by
    """

    survey: int
    day: date
    face: str | None
    standing: str
    code: str = ""
    why: str = ""
    notes: tuple[Note, ...] = ()
    shrinkage: Quantity | None = None
    residual_mm: float | None = None
    least_mm: float | None = None
    length: Quantity | None = None
    bark: dict[str, str] = field(default_factory=dict)
    sightings: tuple[Sighting, ...] = ()
    look: CheckLook | None = None

    @property
    def counts(self) -> bool:
        """Whether its checks are followed."""
        return self.standing in ("first", "laid")

    @property
    def to_first(self) -> np.ndarray:
        """(2, 3) its slab frame to that of the first photo, mm."""
        return IDENTITY if self.look is None else self.look.to_first


@dataclass(frozen=True)
class Running:
    """A check that has grown by the newest photos: what grew, from when to when, and how fast."""

    name: str
    kind: str
    end: str | None
    face: str | None
    since: date
    until: date
    change: Change


@dataclass(frozen=True)
class CheckHistory:
    """All looks at the checks of one slab.

    number, tag : of the slab
    looks : photos, the oldest first, of both faces
    hand : looks by hand, the oldest first
    notices : what the person should know, in plain words, the weightiest first
    advice : what is commonly done about it; common practice, never a certainty
    running : checks that grow, the fastest first
    """

    number: int
    tag: str
    looks: tuple[FaceLook, ...]
    hand: tuple[HandLook, ...]
    notices: tuple[Note, ...]
    advice: tuple[str, ...]
    running: tuple[Running, ...]

    @property
    def faces(self) -> tuple[str | None, ...]:
        """The faces that have looks which count, the longest known first."""
        return tuple(dict.fromkeys(look.face for look in self.looks if look.counts))

    def of_face(self, face: str | None) -> list[FaceLook]:
        """The photos of a face that count, the oldest first."""
        return [look for look in self.looks if look.face == face and look.counts]

    def newest(self) -> list[FaceLook]:
        """The newest photo that counts of each face."""
        return [self.of_face(face)[-1] for face in self.faces]

    def sightings_of(self, name: str) -> list[tuple[FaceLook, Sighting]]:
        """Where one check was seen, the oldest first."""
        return [(look, one) for look in self.looks for one in look.sightings if one.name == name and one.check is not None]


def running_of(looks: list[FaceLook]) -> list[Running]:
    """Checks of one face that have grown by its newest photo, over the shortest span that shows it; the fastest first."""
    if not looks or looks[-1].look is None:
        return []
    newest, found = looks[-1], []
    for now in newest.sightings:
        if now.check is None:
            continue
        for look in reversed(looks[:-1]):
            before = next((one for one in look.sightings if one.name == now.name), None)
            if (newest.day - look.day).days > RUNNING_DAYS:
                break
            if before is None or before.check is None or look.look is None:
                continue
            change = compared(look.look, before.check, newest.look, now.check)
            if change.state == "grown" and change.per_week_mm is not None:
                found.append(Running(now.name, now.check.kind, now.check.end, newest.face, look.day, newest.day, change))
                break
    return sorted(found, key=lambda one: -(one.change.per_week_mm or 0.0))


def waxed_on(hand: tuple[HandLook, ...], day: date) -> frozenset[str]:
    """Ends that carry wax on a day, by the newest word on each."""
    state: dict[str, bool] = {}
    for look in sorted(hand, key=lambda one: (one.day, one.id or 0)):
        if look.day <= day and look.wax is not None:
            for end in (look.end,) if look.end else ENDS:
                state[end] = look.wax
    return frozenset(end for end, on in state.items() if on)


def bark_said(hand: tuple[HandLook, ...], day: date) -> dict[str, str]:
    """By edge, the newest word of a person on its bark by a day."""
    said: dict[str, str] = {}
    for look in sorted(hand, key=lambda one: (one.day, one.id or 0)):
        if look.day <= day:
            said |= look.bark
    return said


def bark_of(wood: np.ndarray, bark: np.ndarray | None) -> dict[str, str]:
    """Whether each long edge carries bark, by how far the bark edge lies outside the wood edge along it.

    wood, bark : (n, 2) float64, slab frame, mm. Empty where the photo does not say.
    """
    if bark is None or len(bark) < 3:
        return {}
    low, high = wood[:, 0].min(), wood[:, 0].max()
    x = np.linspace(low + 0.1 * (high - low), high - 0.1 * (high - low), 60)
    rings = [shapely.make_valid(shapely.Polygon(ring)) for ring in (wood, bark)]
    far = 10.0 + max(float(np.abs(ring).max()) for ring in (wood, bark))
    lines = shapely.linestrings([[[one, -far], [one, far]] for one in x])
    reach = [shapely.bounds(shapely.intersection(lines, ring))[:, [1, 3]] for ring in rings]
    thick = {"right": reach[0][:, 0] - reach[1][:, 0], "left": reach[1][:, 1] - reach[0][:, 1]}
    told = {}
    for edge in EDGES:
        share = float(np.mean(np.nan_to_num(thick[edge]) > LEAST_BARK_MM))
        told[edge] = "on" if share > 0.85 else "off" if share < 0.15 else "partly"
    return told


#: Bark shows where the bark edge lies at least this far outside the wood edge, mm: edges are found to about this.
LEAST_BARK_MM = 3.0


def tape_growth(hand: tuple[HandLook, ...]) -> list[tuple[HandLook, HandLook, float, float]]:
    """Readings by tape that have grown beyond their doubt since the one before: (before, now, growth, its u), mm."""
    last: dict[tuple, HandLook] = {}
    grown = []
    for look in sorted(hand, key=lambda one: (one.day, one.id or 0)):
        if look.length_mm is None:
            continue
        key = (look.end, look.check)
        before = last.get(key)
        growth_u = TAPE_U_MM * 2**0.5
        if before is not None and before.length_mm is not None and look.length_mm - before.length_mm > CLAIMED_U * growth_u:
            grown.append((before, look, look.length_mm - before.length_mm, growth_u))
        last[key] = look
    return grown
