"""One photo, one survey: the record that the yard keeps, and what pictures are drawn from."""

from dataclasses import dataclass

import numpy as np

from grainlog.face import FoundFace
from grainlog.face.frame import SlabFrame
from grainlog.notes import Note
from grainlog.photo import Photo
from grainlog.scale.flat import FlatView
from grainlog.scale.plane import FacePlane, FaceViewer
from grainlog.survey.request import Request
from grainlog.survey.uncertainty import Measured

#: A flat view that is kept is never finer than this, mm per px.
FINEST_MM_PER_PX = 0.5
#: The flat view shows this much around the outline, mm.
FLAT_MARGIN_MM = 60.0


@dataclass(frozen=True)
class Survey:
    """All that one photo says about one face of a slab."""

    photo: Photo
    request: Request
    plane: FacePlane
    face: FoundFace
    frame: SlabFrame
    measured: Measured
    notices: tuple[Note, ...]

    def flat_view(self, mm_per_px: float | None = None) -> FlatView:
        """The face square-on with a margin; default: the photo's own resolution there, never finer than 0.5 mm/px."""
        everything = np.vstack([self.face.wood, self.face.silhouette])
        left, bottom = everything.min(0) - FLAT_MARGIN_MM
        right, top = everything.max(0) + FLAT_MARGIN_MM
        if mm_per_px is None:
            mm_per_px = max(FINEST_MM_PER_PX, self.plane.mm_per_px(self.middle_mm))
        return FaceViewer(self.plane, self.photo.pixels).flat_view(mm_per_px, (left, bottom, right, top))

    @property
    def middle_mm(self) -> np.ndarray:
        """(2,) middle of the smallest rectangle around the wood, plane frame, mm."""
        return self.frame.to_plane(np.array([[self.frame.length / 2, 0.0]]))[0]
