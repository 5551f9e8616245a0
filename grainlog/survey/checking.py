"""The checks step of the pipeline: looks for drying checks on the face that was found."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from grainlog.checks import FoundChecks
from grainlog.checks.find import check_view, find_checks
from grainlog.face import FoundFace
from grainlog.face.frame import SlabFrame
from grainlog.scale.mosaic_view import MosaicViewer
from grainlog.scale.plane import FaceViewer


def checks_on(
    viewer: FaceViewer | MosaicViewer,
    face: FoundFace,
    frame: SlabFrame,
    mm_per_px: float,
    tags_mm: Sequence[np.ndarray] = (),
) -> FoundChecks:
    """The checks of a face, in its slab frame; `mm_per_px` is the size of a photo pixel in the middle of it.

    tags_mm : sequence of (4, 2) float64, mm, plane frame
        Outlines of tags: like cards they hide the wood.

    However the outline came about, found, dabbed or drawn, the wood inside it is looked at in the same way.
    """
    view = check_view(viewer, mm_per_px, face.wood)
    view = replace(view, cards=(*view.cards, *tags_mm), cards_on_face=(*view.cards_on_face, *(True for _ in tags_mm)))
    return find_checks(view, face.wood, face.holes, frame, mm_per_px)
