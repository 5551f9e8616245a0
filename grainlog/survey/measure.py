"""The one pipeline from a photo to a survey; the command line, the page and the yard all call it."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from os import PathLike

import numpy as np
import shapely

from grainlog.face import FoundFace, confidence, find_face, refine_outline
from grainlog.face.find import joined
from grainlog.face.frame import align_to, slab_frame
from grainlog.notes import Note
from grainlog.photo import Photo, read_photo
from grainlog.scale.at_hand import HandPlane
from grainlog.scale.detect import CardsSeen, find_cards
from grainlog.scale.errors import ObliqueError
from grainlog.scale.plane import FacePlane, FaceViewer
from grainlog.scale.tag_find import SeenTag, find_tags
from grainlog.survey.checking import checks_on
from grainlog.survey.drawn import on_one_photo
from grainlog.survey.errors import SurveyError
from grainlog.survey.notices import notices_of
from grainlog.survey.plane import plane_of
from grainlog.survey.request import Request
from grainlog.survey.survey import Survey
from grainlog.survey.tags import (
    PlacedTag,
    chosen_by_tag,
    meant_tag,
    placed_tags,
    tag_notices,
    without_tags,
    wood_beside,
)
from grainlog.survey.uncertainty import EdgeDoubt, measure_face

#: Seen flatter than this, a face is not measured.
STEEPEST_DEG = 55.0
#: An outline this close to the frame of the photo is cut off by it, px.
FRAME_PX = 3.0

#: A drawn outline is moved to the clearest edge within this distance, mm.
REFINED_WITHIN_MM = 6.0
#: A card covers the edge when more than a thirtieth of it lies farther than this beyond the found edge, mm: the edge
#: itself is found to a few millimetres.
EDGE_SLACK_MM, LEAST_ON_WOOD = 4.0, 0.97
#: Below this overlap with the first survey's outline a notice asks whether it is the same slab.
LEAST_OVERLAP = 0.85

STEPS = ("reading the photo", "finding cards", "solving the scale", "finding the wood", "measuring", "looking for checks")


def measure_photo(
    path: str | PathLike | Photo,
    request: Request,
    progress: Callable[[str], None] = lambda step: None,
    tags: Sequence[SeenTag] | None = None,
) -> Survey:
    """Measure the slab in one photo.

    Parameters
    ----------
    path : path or Photo
    request : Request
        What the person says: how cards and slab lie, thickness, lift.
    progress : callable, optional
        Called with each of `STEPS` as it begins.
    tags : sequence of SeenTag, optional
        The tags in the photo, where they were looked for already.

    Returns
    -------
    Survey

    Raises
    ------
    PhotoError
        The file cannot be used as a photo.
    ScaleError
        No card, cards that contradict each other, camera too oblique.
    SurveyError
        The slab is not wholly in the photo, or no slab is found.
    WrongUse
        The request lacks what it needs.
    """
    request.setup()  # what it lacks is told before the photo is read
    request = on_one_photo(request)
    progress(STEPS[0])
    photo = path if isinstance(path, Photo) else read_photo(path)
    progress(STEPS[1])
    seen = find_cards(photo.pixels) if request.reference is None else CardsSeen((), ())
    progress(STEPS[2])
    plane = plane_of(photo, seen, request)
    require_seen_from_above(plane, plane.to_mm(np.array([[photo.width / 2, photo.height / 2]]))[0])
    return survey_of(photo, seen, FaceViewer(plane, photo.pixels), request, progress, tags)


def survey_of(
    photo: Photo,
    seen: CardsSeen,
    viewer: FaceViewer,
    request: Request,
    progress: Callable[[str], None],
    tags: Sequence[SeenTag] | None = None,
) -> Survey:
    """The survey of a photo whose plane is solved, or of several joined in one picture; raises as `measure_photo`."""
    plane = viewer.plane
    progress(STEPS[3])
    tags = find_tags(photo.pixels) if tags is None else tags
    bare = without_tags(viewer, tags)
    face, placed = _face_with_tag(bare, request, tags)
    _require_whole(face, plane)
    _require_cards_where_said(face, plane)
    progress(STEPS[4])
    butt, doubtful = _butt(face.wood, request)
    frame = slab_frame(face.wood, butt)
    doubt = EdgeDoubt(
        face.edge_u_mm.systematic, face.edge_u_mm.random, face.end_u_mm.systematic, face.end_u_mm.random
    )
    measured = measure_face(plane, face.wood, face.holes, face.bark, doubt, butt, request.cup_mm)
    middle = frame.to_plane(np.array([[frame.length / 2, 0.0]]))[0]
    require_seen_from_above(plane, middle)
    notices = (*doubtful, *notices_of(photo, request, seen, plane, face, measured), *tag_notices(placed, face))
    checks = None
    if request.checks:
        progress(STEPS[5])
        checks = checks_on(bare, face, frame, plane.mm_per_px(middle), [tag.outline_mm for tag in placed])
    return Survey(photo, request, viewer, face, frame, measured, notices, checks=checks, tags=placed)


def _butt(wood_mm: np.ndarray, request: Request) -> tuple[str | None, tuple[Note, ...]]:
    """Which end of the photo is x = 0: as the person says, else as the first survey of this slab has it."""
    if request.first is None or request.butt is not None:
        return request.butt, ()
    frame = slab_frame(wood_mm)
    same_face = request.side is None or request.first.side is None or request.side == request.first.side
    alignment = align_to(request.first.wood_mm, frame.to_slab(wood_mm), same_face)
    doubtful = ()
    if alignment.iou < LEAST_OVERLAP:
        doubtful = (
            Note(
                "another-slab",
                f"This outline covers only {100 * alignment.iou:.0f} % of the slab's first one: check that it is the same "
                "slab and the right face.",
            ),
        )
    elif alignment.ambiguous:
        doubtful = (
            Note("which-end", "The outline fits the first survey either way round: say where the butt end is (--butt)."),
        )
    if not alignment.rotate:
        return None, doubtful
    upright = abs(np.cos(frame.angle)) < 1e-9
    return ("top" if upright else "right"), doubtful


def _face_with_tag(
    viewer: FaceViewer, request: Request, tags: Sequence[SeenTag]
) -> tuple[FoundFace, tuple[PlacedTag, ...]]:
    """The face and where the tags lie; of several slabs the one with the tag that is meant, unless a person points at one."""
    thickness = request.setup().thickness_mm
    face = _face(viewer, request, thickness)
    placed = placed_tags(viewer, tags, face)
    meant = meant_tag(tags, request.marker)
    if meant is None or request.outline is not None or request.dabs:
        return face, placed
    if any(tag.seen is meant and tag.belongs for tag in placed):
        return face, placed
    dab = wood_beside(viewer, meant)
    if not dab:
        return face, placed
    other = chosen_by_tag(find_face(viewer, thickness, dabs=dab))
    moved = placed_tags(viewer, tags, other)
    return (other, moved) if any(tag.seen is meant and tag.belongs for tag in moved) else (face, placed)


def _face(viewer: FaceViewer, request: Request, thickness_mm: float | None) -> FoundFace:
    drawn = request.outline
    if drawn is None:
        return find_face(viewer, thickness_mm, dabs=request.dabs.moved(viewer.plane.to_mm))
    wood = viewer.plane.to_mm(drawn.wood_px)
    holes = tuple(viewer.plane.to_mm(hole) for hole in drawn.holes_px)
    found = refine_outline(viewer, wood, within_mm=0.0 if drawn.as_drawn else REFINED_WITHIN_MM)
    around = {
        name: joined(found.wood, viewer.plane.to_mm(ring))
        for name, ring in (("bark", drawn.bark_px), ("silhouette", drawn.silhouette_px))
        if ring is not None
    }
    return replace(found, holes=holes, **around)


def require_seen_from_above(plane: FacePlane, middle_mm: np.ndarray) -> None:
    """Raise ObliqueError where a plane-frame point (2,) is seen too much from the side."""
    slant = np.degrees(plane.slant(middle_mm)) if plane.camera_mm[2] > 0 else 90.0
    if slant > STEEPEST_DEG:
        raise ObliqueError(
            f"The face is seen {slant:.0f} degrees from straight above, more than {STEEPEST_DEG:.0f}: take the photo from "
            "higher up or nearer to the slab."
        )


def _require_whole(face: FoundFace, plane: FacePlane) -> None:
    if plane.inside_px(face.wood).min() < FRAME_PX:
        if face.confidence < confidence.LOST_BELOW:
            # A path or a lawn may have been taken for wood, which a slab that is whole in the frame should not pay for.
            raise SurveyError(
                "The slab runs out of the photo, or something else was taken for wood: step back or up until all of it is in the "
                "frame with a margin, or take photos that overlap and show a card in common (--and); if it is whole in the "
                "frame, dab what is wood and what is not (--dabs) or draw its edge (--outline)."
            )
        raise SurveyError(
            "The slab runs out of the photo: step back or up until all of it is in the frame with a margin, or take photos "
            "that overlap and show a card in common (--and)."
        )


def _require_cards_where_said(face: FoundFace, plane: FacePlane) -> None:
    """A card on the slab stands for the wood under it; over the edge it hides the edge, elsewhere its height is wrong."""
    wood = shapely.Polygon(face.wood).buffer(0)
    for card, outline in ({} if isinstance(plane, HandPlane) else plane.card_outlines_px()).items():
        paper = shapely.Polygon(plane.to_mm(outline))
        on_wood = paper.intersection(wood).area / paper.area
        if plane.solution.problem.setup.on_slab(card):
            if on_wood < 0.05:
                raise SurveyError(
                    f"Card {card} is said to lie on the slab but lies beside it: say where the cards lie (--cards-on floor, "
                    "with thickness and lift), or move it."
                )
            if paper.intersection(wood.buffer(EDGE_SLACK_MM)).area < LEAST_ON_WOOD * paper.area:
                raise SurveyError(f"Card {card} covers the wood edge: move it inwards and take the photo again.")
        elif on_wood > 0.95:
            raise SurveyError(
                f"Card {card} is said to lie on the floor but lies on the slab: say --slab-card {card}, or --cards-on slab "
                "when all of them do."
            )


