"""A survey as plain data: the JSON that commands print and the yard keeps."""

import numpy as np

from grainlog import __version__
from grainlog.checks.record import record_of_checks, record_of_summary
from grainlog.checks.summary import summarise
from grainlog.photo import Photo
from grainlog.scale.plane import FacePlane
from grainlog.scale.shipped import camera_of
from grainlog.survey.drawn import Drawing, moved
from grainlog.survey.plane import reference_outline_px
from grainlog.survey.said import by_hand_data, reference_data
from grainlog.survey.survey import Survey
from grainlog.survey.tags import tags_data

#: Decimals kept: a hundredth of a millimetre, a hundredth of a pixel.
DECIMALS = 2


def record_of(survey: Survey) -> dict:
    """The record of a survey: only dicts, lists, strings, numbers and None.

    Lengths in mm, areas in mm2, volumes in mm3; every measure is {"value", "u", "budget"} with u the standard
    uncertainty (k = 1). Slab frame: x along the longer side of the smallest rectangle around the wood, origin at the
    middle of one end, right-handed seen from above. Pixels: upright photo, centre of the first pixel at (0, 0).

    Of a slab in several photos, "photo" and all pixels are the joined picture's, which is the flat view as well; "photos"
    names the photos, each with its place among them as they were given, and how they agree where they overlap. What was
    drawn is kept in "by_hand" on the photos (see `drawn`), and shown in "by_hand_shown" on the joined picture.
    """
    return {
        "grainlog": __version__,
        "photo": _photo(survey.photo),
        **({"photos": _parts(survey)} if survey.parts else {}),
        "scale": _scale(survey),
        "face": _face(survey),
        "outline": _outline(survey),
        **_by_hand(survey),
        **_checks(survey),
        "tags": tags_data(survey.tags, survey.frame.to_slab),
        "warnings": [{"code": notice.code, "message": notice.message} for notice in survey.notices],
    }


def _photo(photo: Photo) -> dict:
    return {
        "name": photo.name,
        "sha256": photo.sha256,
        "width_px": photo.width,
        "height_px": photo.height,
        "taken": photo.taken.isoformat() if photo.taken else None,
        "make": photo.make,
        "model": photo.model,
        "focal_35mm_mm": photo.focal_35mm_mm,
    }


def _parts(survey: Survey) -> dict:
    plane = survey.plane
    cards = [sorted(seen.card for seen in view.cards) for view in plane.solution.problem.views]
    return {
        "mm_per_px": plane.sheet.mm_per_px,
        "joined": [
            {
                **_photo(photo),
                "given": survey.order.index(place) + 1,
                "cards": seen,
                "camera": _camera(own, photo, survey),
                "camera_height_mm": own.camera_height_mm,
            }
            for place, (photo, seen, own) in enumerate(zip(survey.parts, cards, plane.planes))
        ],
        "overlaps": [
            {
                "photos": list(agreement.photos),
                "apart_mm": {"value": agreement.apart_mm, "u": agreement.u_mm},
                "alike": agreement.alike,
                "shared_mm2": agreement.shared_mm2,
            }
            for agreement in survey.agreements
        ],
    }


def _camera(plane: FacePlane, photo: Photo, survey: Survey) -> dict:
    """The lens as it was solved, and the profile that it was believed to be like beforehand, or None."""
    camera, known = plane.camera, camera_of(photo, survey.request.cameras)
    solved = {"focal_px": camera.focal_px, "centre_px": list(camera.centre_px), "k1": camera.k1, "k2": camera.k2}
    return {**solved, "profile": known and known.as_dict()}


def _scale(survey: Survey) -> dict:
    plane, solution = survey.plane, survey.plane.solution
    setup = solution.problem.setup
    reference = reference_outline_px(plane)
    at_hand = survey.request.reference is not None
    outlines = {} if at_hand else plane.card_outlines_px()
    return {
        "cards": sorted(outlines),
        "reference_px": None if reference is None else _points(reference[:: len(reference) // 4]),
        "reference": reference_data(survey.request.reference),
        "left_out": [{"card": card.card, "reason": card.reason} for card in solution.left_out],
        "reprojection_px": solution.reprojection_px,
        "mm_per_px": plane.mm_per_px(survey.middle_mm),
        "camera_height_mm": plane.camera_height_mm,
        "slant_deg": float(np.degrees(plane.slant(survey.middle_mm))),
        "camera": _camera(plane, survey.parts[plane.view] if survey.parts else survey.photo, survey),
        "cards_on": setup.cards_on,
        "slab_cards": sorted(setup.slab_cards),
        "lift_mm": survey.request.lift_mm,
        "ground": solution.problem.ground.name,
        "ground_judged": solution.ground_judged,
        "print": {"across_mm": setup.print.across_mm, "down_mm": setup.print.down_mm, "measured": setup.print.measured},
        "cards_px": {str(card): _points(outline[:: len(outline) // 4]) for card, outline in outlines.items()},
    }


def _face(survey: Survey) -> dict:
    measured, thickness = survey.measured, survey.request.thickness
    quantities = {name: quantity.as_dict() for name, quantity in measured.quantities.items()}
    for name in ("bark_area_mm2", "volume_mm3", "board_feet", "board_feet_three_width"):
        quantities.setdefault(name, None)
    return {
        "side": survey.request.side,
        "butt": survey.request.butt,
        "cup_mm": survey.request.cup_mm,
        **quantities,
        "cubic_metres": _scaled(quantities["volume_mm3"], 1e-9),
        "thickness_mm": None if thickness is None else thickness.mean_mm,
        "thickness": None
        if thickness is None
        else {
            "value": thickness.mean_mm,
            "u": thickness.u_mm,
            "least": thickness.least_mm,
            "greatest": thickness.greatest_mm,
            "readings_mm": list(thickness.readings),
        },
        "confidence": survey.face.confidence,
        "widths": {
            "step_mm": 25.0,
            "x_mm": np.round(measured.station_x_mm, DECIMALS).tolist(),
            "width_mm": np.round(measured.station_width_mm, DECIMALS).tolist(),
            "u_mm": np.round(measured.station_u_mm, DECIMALS).tolist(),
            "ends_px": np.round(measured.station_ends_px, DECIMALS).tolist(),
        },
    }


def _outline(survey: Survey) -> dict:
    face, frame, plane = survey.face, survey.frame, survey.plane
    rings = {"wood": face.wood, "bark": face.bark, "silhouette": face.silhouette}
    out = {f"{name}_mm": _points(frame.to_slab(ring)) for name, ring in rings.items()}
    out |= {f"{name}_px": _points(plane.to_px(ring)) for name, ring in rings.items()}
    out["wood_holes_mm"] = [_points(frame.to_slab(ring)) for ring in face.holes]
    out["wood_holes_px"] = [_points(plane.to_px(ring)) for ring in face.holes]
    return out


def _by_hand(survey: Survey) -> dict:
    kept = by_hand_data(survey.request)
    if not kept or not survey.parts:
        return {"by_hand": kept} if kept else {}
    shown = moved(survey.request, Drawing(survey.plane, survey.order).on_joined)
    return {"by_hand": kept, "by_hand_shown": by_hand_data(shown)}


def _checks(survey: Survey) -> dict:
    """The list of checks, and their sums where they were looked for; a list alone says that nobody looked."""
    if survey.checks is None:
        return {"checks": []}
    frame, plane, quantities = survey.frame, survey.plane, survey.measured.quantities
    length = quantities["length_mm"]
    sums = summarise(survey.checks, length.value, quantities["area_mm2"].value, length.u)
    listed = record_of_checks(survey.checks, length.value, lambda path: plane.to_px(frame.to_plane(path)))
    return {"checks": listed, "check_summary": record_of_summary(sums, survey.checks)}


def _scaled(quantity: dict | None, factor: float) -> dict | None:
    return quantity and {name: quantity[name] * factor for name in ("value", "u")}


def _points(points: np.ndarray) -> list:
    return np.round(points, DECIMALS).tolist()
