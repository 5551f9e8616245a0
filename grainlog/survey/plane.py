"""The plane of a photo's face: by its scale cards, or by what was at hand when there was none."""

import numpy as np

from grainlog.photo import Photo
from grainlog.scale.at_hand import (
    FOUND_PX,
    HandPlane,
    KnownRectangle,
    TwoPoints,
    known_rectangle,
    solve_at_hand,
)
from grainlog.scale.detect import CardsSeen
from grainlog.scale.errors import NoCardError
from grainlog.scale.model import View
from grainlog.scale.paper import find_sheet
from grainlog.scale.plane import FacePlane
from grainlog.scale.priors import Lens
from grainlog.scale.rectangle import Rectangle
from grainlog.scale.shipped import camera_of
from grainlog.scale.solve import solve
from grainlog.survey.errors import SurveyError
from grainlog.survey.request import Request

#: A photo without cards whose lightest tenth is darker than the first, or of which half is lighter than the second, shows why
#: (8 bit; by eye on rendered photos made darker and lighter).
DARK, BURNT_OUT = 45, 246


def plane_of(photo: Photo, seen: CardsSeen, request: Request) -> FacePlane:
    """Solve the plane of the face.

    Raises
    ------
    NoCardError
        No card can be used and nothing else was named.
    ScaleError
        Cards, or corners and size of a reference, contradict each other.
    SurveyError
        A sheet that was to be found cannot be.
    """
    if request.reference is not None:
        return _by_reference(photo, request.reference, request)
    if not seen.cards:
        raise NoCardError(_no_card_sentence(photo, seen))
    return FacePlane(solve([view_of(photo, seen, request)], request.setup()))


def view_of(photo: Photo, seen: CardsSeen, request: Request) -> View:
    """A photo's share in the joint problem."""
    return View(seen.cards, (photo.width, photo.height), _lens(photo, request))


def _by_reference(photo: Photo, reference: KnownRectangle | TwoPoints | Rectangle, request: Request) -> FacePlane:
    if isinstance(reference, Rectangle):
        corners = find_sheet(photo.pixels)
        if corners is None:
            raise SurveyError(
                "No white sheet can be told apart in this photo: give its four corners in pixels (--corners), or lay a scale "
                "card and take the photo again."
            )
        reference = known_rectangle(corners, reference, FOUND_PX)
    thickness = request.thickness
    told = (thickness.mean_mm, thickness.u_mm) if thickness else (None, 1.0)
    return HandPlane(solve_at_hand((photo.width, photo.height), _lens(photo, request), reference, *told))


def _lens(photo: Photo, request: Request) -> Lens:
    """What is believed of the photo's lens: its camera's profile, else its metadata, else next to nothing."""
    known = camera_of(photo, request.cameras)
    if known is None:
        return Lens.from_metadata(photo.focal_35mm_mm)
    return Lens.from_profile(known.profile, (photo.width, photo.height))


def _no_card_sentence(photo: Photo, seen: CardsSeen) -> str:
    if seen.rejected:
        reasons = "; ".join(f"card {card.card}: {card.reason}" for card in seen.rejected)
        return f"No scale card can be used ({reasons}): lay the cards flat and wholly in the photo, and take it again."
    if (light := _bad_light(photo)) is not None:
        return f"The photo is {light}, and no scale card was found in it: take it again in even light, cards and slab wholly in the photo."
    return (
        "No scale card was found: lay two to four printed cards flat beside or on the slab, each wholly in the photo "
        "and in even light, and take it again; or name what is at hand (--sheet, --between)."
    )


def _bad_light(photo: Photo) -> str | None:
    """What is wrong with the light of a photo as a whole, by every eighth pixel; None where nothing is."""
    some = photo.pixels[::8, ::8].max(-1)
    if np.quantile(some, 0.9) < DARK:
        return "too dark"
    return "burnt out" if np.median(some) > BURNT_OUT else None


def reference_outline_px(plane: FacePlane) -> np.ndarray | None:
    """(n, 2) px outline of a sheet or board that gave the scale; None where cards or two points did."""
    outlines = plane.card_outlines_px() if isinstance(plane, HandPlane) else {}
    return next(iter(outlines.values()), None)
