"""One photo, one survey: the record that the yard keeps, and what pictures are drawn from."""

from dataclasses import dataclass

import numpy as np

from grainlog.checks import FoundChecks
from grainlog.face import FoundFace
from grainlog.face.frame import SlabFrame
from grainlog.notes import Note
from grainlog.photo import Photo
from grainlog.scale.flat import FlatView
from grainlog.scale.mosaic_view import MosaicViewer
from grainlog.scale.plane import FacePlane, FaceViewer
from grainlog.survey.overlap import Agreement
from grainlog.survey.request import Request
from grainlog.survey.tags import PlacedTag
from grainlog.survey.uncertainty import Measured

#: A flat view that is kept is never finer than this, mm per px.
FINEST_MM_PER_PX = 0.5
#: The flat view shows this much around the outline, mm.
FLAT_MARGIN_MM = 60.0


@dataclass(frozen=True)
class Survey:
    """All that one photo, or several joined, say about one face of a slab.

    photo : Photo
        Where several are joined: the joined picture, which is the flat view too, with the first photo's facts.
    viewer : FaceViewer or MosaicViewer
        Shows the face square-on from the photos' own pixels.
    parts : tuple of Photo
        The photos that were joined, as they were solved; none where there is one.
    order : tuple of int
        For each of them as it was given its place in `parts`.
    agreements : tuple of Agreement
        How well those photos agree where both show the wood.
    checks : FoundChecks or None
        None where they were not looked for.
    tags : tuple of PlacedTag
        The tags in the photo, those on the slab first.
    """

    photo: Photo
    request: Request
    viewer: FaceViewer | MosaicViewer
    face: FoundFace
    frame: SlabFrame
    measured: Measured
    notices: tuple[Note, ...]
    parts: tuple[Photo, ...] = ()
    order: tuple[int, ...] = ()
    agreements: tuple[Agreement, ...] = ()
    checks: FoundChecks | None = None
    tags: tuple[PlacedTag, ...] = ()

    @property
    def plane(self) -> FacePlane:
        """The face's plane, from pixels of `photo` to mm."""
        return self.viewer.plane

    def flat_view(self, mm_per_px: float | None = None) -> FlatView:
        """The face square-on with a margin; default: the photo's own resolution there, never finer than 0.5 mm/px.

        Several photos: by default the joined picture as it is, so that its pixels are those of the record.
        """
        if self.parts and mm_per_px is None:
            return self.viewer.picture
        everything = np.vstack([self.face.wood, self.face.silhouette])
        left, bottom = everything.min(0) - FLAT_MARGIN_MM
        right, top = everything.max(0) + FLAT_MARGIN_MM
        if mm_per_px is None:
            mm_per_px = max(FINEST_MM_PER_PX, self.plane.mm_per_px(self.middle_mm))
        return self.viewer.flat_view(mm_per_px, (left, bottom, right, top))

    @property
    def middle_mm(self) -> np.ndarray:
        """(2,) middle of the smallest rectangle around the wood, plane frame, mm."""
        return self.frame.to_plane(np.array([[self.frame.length / 2, 0.0]]))[0]
