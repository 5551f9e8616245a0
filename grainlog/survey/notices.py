"""Plain warnings: what weakens a survey, and what to do about it."""

import numpy as np

from grainlog.face import FoundFace
from grainlog.face.frame import smallest_rectangle
from grainlog.notes import Note
from grainlog.photo import Photo
from grainlog.scale.at_hand import TwoPoints
from grainlog.scale.detect import CardsSeen
from grainlog.scale.plane import FacePlane
from grainlog.survey.request import Request
from grainlog.survey.uncertainty import Measured

#: How far the slab may reach beyond the rectangle around all cards, in shares of its narrow and of its long side.
BEYOND_SIDES, BEYOND_ENDS = 1.5, 0.75
#: Corners that fit worse than this point to a shaken or out-of-focus photo, px (good ones: 0.05 to 0.1).
SHAKEN_PX = 0.35


def notices_of(
    photo: Photo, request: Request, seen: CardsSeen, plane: FacePlane, face: FoundFace, measured: Measured
) -> tuple[Note, ...]:
    """Everything the person should know about this survey, the weightiest first."""
    # A board that gives the scale may be the slab itself.
    found = [note for note in face.notes if request.reference is None or note.code != "edge-under-card"]
    if request.reference is None:
        found += _cards(seen, plane, request)
        found += _reach(plane, face, measured)
    else:
        found.append(_at_hand(request.reference, measured))
    if plane.solution.reprojection_px > SHAKEN_PX:
        found.append(
            Note("blurred", "The cards' corners are not sharp; hold the camera still, wipe the lens, take it again.")
        )
    if request.reference is None and not request.print.measured:
        found.append(
            Note(
                "print-not-measured",
                "The prints are taken as true to 0.3 %: measure the two 100 mm bars on a card with a ruler and say what "
                "they are, once, to make every length surer.",
            )
        )
    if request.thickness is None:
        found.append(Note("no-thickness", "Without a thickness there are no board feet: give it, as in 63.5mm."))
    elif request.side is None:
        found.append(
            Note(
                "one-face",
                "Volume and board feet are of this face alone; with both faces surveyed their mean is used (the narrower "
                "face alone says too little, the wider too much).",
            )
        )
    found += photo.notes
    return tuple(found)


def _at_hand(reference, measured: Measured) -> Note:
    length = measured.quantities["length_mm"]
    sure = f"lengths are only sure to {200 * length.u / length.value:.0f} %"
    if isinstance(reference, TwoPoints):
        message = f"The scale comes from two points, as if the camera had looked straight down, so {sure}: use scale cards."
        return Note("scale-from-two-points", message)
    return Note("scale-at-hand", f"The scale comes from one sheet or board on the face, so {sure}: use scale cards.")


def _cards(seen: CardsSeen, plane: FacePlane, request: Request) -> list[Note]:
    problem = plane.solution.problem
    raised = sorted(problem.setup.slab_cards - request.slab_cards) if problem.setup.cards_on == "floor" else []
    out = [
        Note(
            "card-on-slab",
            f"Card {card} lies higher than the others by the slab's thickness and lift, so it is taken to lie on the slab "
            f"(say --slab-card {card} to have it so without asking).",
        )
        for card in raised
    ]
    out += [
        Note("card-not-used", f"Card {card.card} was not used: {card.reason}.")
        for card in (*seen.rejected, *plane.solution.left_out)
    ]
    if len(plane.solution.problem.cards) == 1:
        out.append(
            Note(
                "one-card",
                "One card alone cannot tell the lens nor whether it lies flat, so lengths are only good to about a "
                "percent; lay two to four, best near both ends.",
            )
        )
    return out


def _reach(plane: FacePlane, face: FoundFace, measured: Measured) -> list[Note]:
    """Whether the slab reaches far beyond the rectangle around all cards, across it or along it."""
    outlines = plane.card_outlines_px()
    if len(outlines) < 2:
        return []
    box = smallest_rectangle(np.vstack([plane.to_mm(outline) for outline in outlines.values()]))
    along = np.array([np.cos(box.angle), np.sin(box.angle)])
    off = np.abs((face.wood - box.centre) @ np.column_stack([along, [-along[1], along[0]]])).max(0)
    beyond_ends, beyond_sides = off - [box.length / 2, box.width / 2]
    if beyond_sides <= BEYOND_SIDES * box.width and beyond_ends <= BEYOND_ENDS * box.length:
        return []
    length = measured.quantities["length_mm"]
    return [
        Note(
            "cards-on-one-line",
            f"The slab reaches {max(beyond_ends, beyond_sides) / 1000:.1f} m beyond the cards, which lie close together or "
            f"on one line, so its length is only sure to {200 * length.u / length.value:.1f} %: spread the cards to both "
            "sides, or to both ends on the face.",
        )
    ]
