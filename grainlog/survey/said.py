"""What a person says of a photo as plain data: kept beside a photo that waits, and read back from a survey's record.

The data is a dict of JSON values; what is missing was not said. Lengths in mm, points in px of the upright photo:
`cards_on`, `slab_cards`, `thickness_mm` (readings), `lift_mm`, `ground`, `side`, `butt`, `cup_mm` as in `Request`;
`reference` as `reference_data` writes it; `outline` {"wood_px", "holes_px", "as_drawn", "bark_px", "silhouette_px"}; `dabs` {"wood_px", "not_wood_px"}
(strokes); `checks` {"added_px", "removed_px"} (paths, see `hand_checks`). Of a slab in several photos a point of an outline or a dab is
[x, y, photo] (see `drawn`; 0 is the joined picture), or `outline` and `dabs` have a `photo` that all their [x, y] are on.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from grainlog.errors import WrongUse
from grainlog.face.dabs import Dabs
from grainlog.face.measures import Thickness
from grainlog.scale.at_hand import (
    KnownRectangle,
    TwoPoints,
    known_rectangle,
    two_points,
)
from grainlog.scale.priors import Print
from grainlog.scale.profile import CameraProfile
from grainlog.scale.rectangle import Rectangle
from grainlog.survey.drawn import named
from grainlog.survey.errors import SurveyError
from grainlog.survey.request import FirstFace, HandOutline, Request

#: A drawing of more points or strokes than this is no person's.
MOST_POINTS, MOST_STROKES = 20_000, 1000


def request_of(
    said: Mapping[str, Any],
    prints: Print | None = None,
    cameras: tuple[CameraProfile, ...] = (),
    first: FirstFace | None = None,
) -> Request:
    """The survey's request for what was said; prints, cameras and first face are what a yard knows.

    Raises WrongUse for data that says nothing a person could mean.
    """
    readings = said.get("thickness_mm") or ()
    return Request(
        cards_on=said.get("cards_on") or "floor",
        slab_cards=frozenset(said.get("slab_cards") or ()),
        thickness=Thickness.from_readings(readings) if readings else None,
        lift_mm=said.get("lift_mm"),
        ground=said.get("ground"),
        print=prints or Print(),
        side=said.get("side"),
        butt=said.get("butt"),
        outline=_outline(said.get("outline")),
        dabs=dabs_of(said.get("dabs")),
        cameras=cameras,
        reference=reference_of(said.get("reference")),
        first=first,
        cup_mm=said.get("cup_mm"),
    )


def said_of(record: Mapping[str, Any]) -> dict[str, Any]:
    """What was said when a survey was made, as far as its record tells: all but checks by hand (`said_checks`).

    Raises SurveyError where the scale came from something whose size an old record does not tell.
    """
    scale, face = record["scale"], record["face"]
    reference = scale.get("reference")
    at_hand = {"scale-at-hand", "scale-from-two-points"} & {warning["code"] for warning in record.get("warnings") or ()}
    if at_hand and reference is None:
        raise SurveyError(
            "This survey does not tell what gave it its scale, so it cannot be measured again; add its photo as a new one."
        )
    thickness = face.get("thickness") or {}
    return {
        "cards_on": scale.get("cards_on"),
        "slab_cards": list(scale.get("slab_cards") or ()),
        "thickness_mm": list(thickness.get("readings_mm") or ()),
        "lift_mm": scale.get("lift_mm"),
        "ground": None
        if scale.get("ground_judged") or scale.get("ground") not in ("hard", "soft")
        else scale["ground"],
        "side": face.get("side"),
        "butt": face.get("butt"),
        "cup_mm": face.get("cup_mm"),
        "reference": reference,
        **(record.get("by_hand") or {}),
    }


def reference_data(
    reference: KnownRectangle | TwoPoints | Rectangle | None,
) -> dict[str, Any] | None:
    """What gave a scale without cards, as plain data."""
    if reference is None:
        return None
    if isinstance(reference, TwoPoints):
        return {
            "kind": "points",
            "points_px": reference.points_px.tolist(),
            "distance_mm": reference.distance_mm,
            "distance_u_mm": reference.distance_u_mm,
        }
    rectangle = reference if isinstance(reference, Rectangle) else reference.rectangle
    corners = None if isinstance(reference, Rectangle) else reference.corners_px.tolist()
    ordered = not isinstance(reference, Rectangle) and reference.ordered
    return {
        "kind": "rectangle",
        **vars(rectangle),
        "corners_px": corners,
        "ordered": ordered,
    }


def reference_of(
    data: Mapping[str, Any] | None,
) -> KnownRectangle | TwoPoints | Rectangle | None:
    """The reference that `reference_data` wrote. Raises WrongUse."""
    if data is None:
        return None
    if data.get("kind") == "points":
        points = _points(data.get("points_px"))
        return two_points(points, float(data["distance_mm"]), float(data.get("distance_u_mm") or 1.0))
    sizes = {name: data[name] for name in Rectangle.__dataclass_fields__ if name in data}
    rectangle = Rectangle(**sizes)
    if data.get("corners_px") is None:
        return rectangle
    return known_rectangle(_points(data["corners_px"]), rectangle, ordered=bool(data.get("ordered")))


def dabs_of(data: Mapping[str, Any] | None) -> Dabs:
    """Dabs from {"wood_px": strokes, "not_wood_px": strokes}. Raises WrongUse."""
    kinds = [(data or {}).get(name) or [] for name in ("wood_px", "not_wood_px")]
    if any(not isinstance(kind, list) or len(kind) > MOST_STROKES for kind in kinds):
        raise WrongUse("These dabs cannot be read; take the last ones back and dab again.")
    photo = (data or {}).get("photo")
    return Dabs(*(tuple(_drawn(stroke, photo) for stroke in kind) for kind in kinds))


def by_hand_data(request: Request) -> dict[str, Any]:
    """What a person drew or dabbed for a request, as plain data; empty where they did not."""
    data: dict[str, Any] = {}
    if (drawn := request.outline) is not None:
        rings = {"bark_px": drawn.bark_px, "silhouette_px": drawn.silhouette_px}
        data["outline"] = {
            "wood_px": _plain(drawn.wood_px),
            "holes_px": [_plain(hole) for hole in drawn.holes_px],
            "as_drawn": drawn.as_drawn,
            **{name: None if ring is None else _plain(ring) for name, ring in rings.items()},
        }
    if request.dabs:
        kinds = {"wood_px": request.dabs.wood, "not_wood_px": request.dabs.other}
        data["dabs"] = {name: [_plain(np.atleast_2d(stroke)) for stroke in kind] for name, kind in kinds.items()}
    return data


def paths_of(data: Any) -> tuple[np.ndarray, ...]:
    """Paths of checks, each of two points or more. Raises WrongUse."""
    if not isinstance(data or [], list) or len(data or []) > MOST_STROKES:
        raise WrongUse("These checks cannot be read; take the last ones back and draw them again.")
    paths = tuple(_points(path) for path in data or [])
    if any(len(path) < 2 for path in paths):
        raise WrongUse("A check needs two points or more; draw it along its length.")
    return paths


def _outline(data: Mapping[str, Any] | None) -> HandOutline | None:
    if data is None:
        return None
    photo = data.get("photo")
    wood = _drawn(data.get("wood_px"), photo)
    if len(wood) < 3:
        raise WrongUse("An outline needs three points or more; draw it around the wood.")
    holes = tuple(_drawn(hole, photo) for hole in data.get("holes_px") or ())
    bark, silhouette = (None if data.get(name) is None else _drawn(data[name], photo) for name in ("bark_px", "silhouette_px"))
    return HandOutline(wood, holes, bool(data.get("as_drawn")), bark, silhouette)


def _plain(points: np.ndarray) -> list:
    return np.round(points, 2).tolist()


def _drawn(data: Any, photo: Any) -> np.ndarray:
    """Points of which each may name its photo; those that don't are on `photo`, where that is said."""
    if photo is not None and (isinstance(photo, bool) or not isinstance(photo, int)):
        raise WrongUse("What was drawn does not say on which photo; draw it again.")
    points = _points(data, (2, 3))
    return points if photo is None else named(points, photo)


def _points(data: Any, columns: tuple[int, ...] = (2,)) -> np.ndarray:
    try:
        points = np.asarray(data, np.float64)
    except (TypeError, ValueError):
        points = np.empty(0)
    sound = points.ndim == 2 and points.shape[1] in columns and 1 <= len(points) <= MOST_POINTS
    if not sound or not np.isfinite(points).all():
        raise WrongUse("What was drawn cannot be read; draw it again.")
    return points
