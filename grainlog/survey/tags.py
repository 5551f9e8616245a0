"""The tags in a photo against the face that was measured: which of them lies on the slab, touches it, or lies apart."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
import shapely

from grainlog.face import FoundFace
from grainlog.face.dabs import Dabs
from grainlog.face.find import Rough
from grainlog.notes import Note
from grainlog.scale.mosaic_view import MosaicViewer
from grainlog.scale.plane import FaceViewer
from grainlog.scale.tag_find import SeenTag
from grainlog.scale.tag_paint import paint_over

#: A tag this near to the slab, as the photo shows both, touches it, mm: the ground beside a slab is seen farther out.
TOUCHING_MM = 30.0
#: Wood is looked for this far around a tag that says which slab is meant, mm, and must be as sure as this, nats.
LOOKED_MM, SURE_NATS = 60.0, 1.0

ON, TOUCHING, APART = "on", "touching", "apart"


@dataclass(frozen=True)
class PlacedTag:
    """A tag and where it lies.

    seen : SeenTag
    outline_mm : (4, 2) float64
        The corners of the whole tag as they appear in the plane of the face, plane frame, mm.
    place : {"on", "touching", "apart"}
        Its middle is on the wood; it lies on the edge or within `TOUCHING_MM` of the slab; it lies farther off.
    apart_mm : float
        How far the slab's silhouette is from it; 0 where they meet.
    """

    seen: SeenTag
    outline_mm: np.ndarray
    place: str
    apart_mm: float

    @property
    def middle_mm(self) -> np.ndarray:
        """(2,) middle of the tag, plane frame, mm."""
        return self.outline_mm.mean(0)

    @property
    def belongs(self) -> bool:
        """Whether it is taken to be this slab's."""
        return self.place != APART


def placed_tags(
    viewer: FaceViewer | MosaicViewer, tags: Sequence[SeenTag], face: FoundFace
) -> tuple[PlacedTag, ...]:
    """Where each tag lies, those on the slab first."""
    wood, silhouette = (
        shapely.make_valid(shapely.Polygon(ring))
        for ring in (face.wood, face.silhouette)
    )
    found = []
    for tag in tags:
        outline = viewer.plane.to_mm(tag.outline_px)
        apart = float(silhouette.union(wood).distance(shapely.Polygon(outline)))
        on = wood.contains(shapely.Point(outline.mean(0)))
        found.append(
            PlacedTag(
                tag,
                outline,
                ON if on else TOUCHING if apart <= TOUCHING_MM else APART,
                apart,
            )
        )
    return tuple(
        sorted(
            found,
            key=lambda placed: (
                (ON, TOUCHING, APART).index(placed.place),
                placed.apart_mm,
            ),
        )
    )


def without_tags(
    viewer: FaceViewer | MosaicViewer, tags: Sequence[SeenTag]
) -> FaceViewer | MosaicViewer:
    """The viewer of the same photo with its tags painted over; itself where there are none."""
    if not tags:
        return viewer
    if isinstance(viewer, FaceViewer):
        return replace(
            viewer, rgb=paint_over(viewer.rgb, [tag.outline_px for tag in tags])
        )
    outlines = [viewer.plane.to_mm(tag.outline_px) for tag in tags]
    painted = tuple(
        paint_over(
            photo,
            [
                plane.to_px(outline)
                for outline in outlines
                if plane.inside_px(outline).max() > 0
            ],
        )
        for photo, plane in zip(viewer.photos, viewer.plane.planes)
    )
    return replace(viewer, photos=painted)


def meant_tag(tags: Sequence[SeenTag], marker: int | None) -> SeenTag | None:
    """The tag that says which slab is meant: the one with the marker asked for, else the only one there is."""
    some = [tag for tag in tags if marker is None or tag.marker == marker]
    return some[0] if len(some) == 1 else None


def wood_beside(viewer: FaceViewer | MosaicViewer, tag: SeenTag) -> Dabs:
    """A dab on the surest wood at a tag, plane frame, mm; none where there is no wood.

    viewer : the photo without its tags.
    """
    rough = Rough.of(viewer)
    view = rough.looks.view
    outline = shapely.Polygon(viewer.plane.to_mm(tag.outline_px)).buffer(LOOKED_MM)
    mask = np.zeros(view.seen.shape, np.uint8)
    cv2.fillPoly(
        mask,
        [
            np.round(view.to_px(shapely.get_coordinates(outline.exterior))).astype(
                np.int32
            )
        ],
        1,
    )
    odds = cv2.GaussianBlur(rough.learned, (0, 0), 12.0 / view.mm_per_px)
    odds = np.where((mask > 0) & view.seen, odds, -np.inf)
    row, column = np.unravel_index(np.argmax(odds), odds.shape)
    if odds[row, column] < SURE_NATS:
        return Dabs()
    return Dabs((view.to_mm(np.array([[column, row]], float)),))


def chosen_by_tag(face: FoundFace) -> FoundFace:
    """A face that was found by a dab beside a tag says so, not that a person mended it."""
    said = Note(
        "chosen-by-tag",
        "Of several slabs in the photo the one with the tag was measured.",
    )
    return replace(
        face,
        notes=tuple(said if note.code == "dabbed" else note for note in face.notes),
    )


def tag_notices(placed: Sequence[PlacedTag], face: FoundFace) -> tuple[Note, ...]:
    """What should be known of the tags."""
    edge = shapely.LinearRing(face.wood)
    if any(shapely.Polygon(tag.outline_mm).intersects(edge) for tag in placed):
        return (
            Note(
                "tag-on-edge",
                "A tag covers the wood edge, which is taken to go on under it as beside it: staple it farther in next time.",
            ),
        )
    return ()


def tags_data(placed: Sequence[PlacedTag], to_slab) -> list[dict]:
    """The tags as plain data; `to_slab` puts plane-frame points (n, 2) into the slab frame."""
    return [
        {
            "marker": tag.seen.marker,
            "yard": tag.seen.text and tag.seen.text.yard,
            "tag": tag.seen.text and tag.seen.text.tag,
            "corners_px": np.round(tag.seen.corners_px, 2).tolist(),
            "middle_mm": np.round(to_slab(tag.middle_mm[None])[0], 2).tolist(),
            "place": tag.place,
            "apart_mm": round(tag.apart_mm, 1),
        }
        for tag in placed
    ]
