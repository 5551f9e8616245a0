"""The face of a survey that was filed, square-on in its own slab frame: from the original photo and the record alone.

The record keeps the outline both in photo pixels and in mm, and the lens; so the way from mm to pixels is the homography
that takes one outline to the other (of several photos joined: a similarity onto the kept flat view).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from grainlog.checks.register import Look, look_at
from grainlog.errors import GrainlogError
from grainlog.face.frame import SlabFrame
from grainlog.photo import read_photo
from grainlog.scale.camera import Camera
from grainlog.scale.flat import FlatView
from grainlog.yard.entry import SurveyEntry

#: Compared and drawn at this size, mm per px; around the wood this much ground is shown, mm.
MM_PER_PX, MARGIN_MM = 0.8, 12.0
#: Outlines in pixels and in mm that disagree by more than this are not of one survey, mm.
_FIT_MM = 1.5
AS_IT_LIES = SlabFrame(np.zeros(2), 0.0, False, 0.0, 0.0)


class NoView(GrainlogError):
    """The face of a survey cannot be shown again; the message says why."""


@dataclass(frozen=True)
class Mapped:
    """The way between the slab frame of a survey and the pixels of its photo.

    homography : (3, 3) float64, slab-frame mm to rays (at z = 1) or, without a camera, to px
    """

    homography: np.ndarray
    camera: Camera | None

    def to_px(self, mm: np.ndarray) -> np.ndarray:
        """(n, 2) slab-frame mm to photo px."""
        rays = _projected(self.homography, mm)
        return rays if self.camera is None else self.camera.project(np.column_stack([rays, np.ones(len(rays))]))

    def to_mm(self, px: np.ndarray) -> np.ndarray:
        """(n, 2) photo px to slab-frame mm."""
        rays = np.asarray(px, float) if self.camera is None else self.camera.rays(px)[:, :2]
        return _projected(np.linalg.inv(self.homography), rays)


def mapped(record: Mapping[str, Any]) -> Mapped:
    """The way from mm to pixels of a record. Raises NoView."""
    outline = record.get("outline") or {}
    mm, px = (np.array(outline.get(f"wood_{unit}") or [], float).reshape(-1, 2) for unit in ("mm", "px"))
    if len(mm) < 8 or len(mm) != len(px):
        raise NoView("its outline was worked out after a cut and no photo shows it")
    camera = None
    if not record.get("photos"):
        told = record["scale"]["camera"]
        camera = Camera(told["focal_px"], tuple(told["centre_px"]), told["k1"], told["k2"])
    seen = px if camera is None else camera.rays(px)[:, :2]
    # Scaled to like numbers, which a homography is best solved from.
    size = np.ptp(seen, axis=0).max()
    homography, _ = cv2.findHomography(mm, seen / size * 1000)
    if homography is None:
        raise NoView("its outline is no outline")
    homography = np.diag([size / 1000, size / 1000, 1.0]) @ homography
    found = Mapped(homography, camera)
    if np.abs(found.to_mm(px) - mm).max() > _FIT_MM:
        raise NoView("its outline in the photo and in millimetres are not the same")
    return found


def view_of(survey: SurveyEntry, mm_per_px: float = MM_PER_PX) -> FlatView:
    """The face of a survey square-on, x along the slab to the right, y up. Raises NoView, PhotoError."""
    way = mapped(survey.record)
    wood = np.array(survey.record["outline"]["wood_mm"], float)
    box = (*(wood.min(0) - MARGIN_MM), *(wood.max(0) + MARGIN_MM))
    rgb, seen, origin = square_on(read_photo(_picture(survey)).pixels, way, box, mm_per_px)
    cards = [np.array(px, float) for px in (survey.record["scale"].get("cards_px") or {}).values()]
    on_face = set(survey.record["scale"].get("slab_cards") or ())
    return FlatView(
        rgb, seen, mm_per_px, origin, tuple(way.to_mm(card) for card in cards), tuple(False for _ in cards) if not on_face
        else tuple(int(card) in on_face for card in survey.record["scale"]["cards_px"]), np.array([0.0, 0.0, 2000.0]),
    )  # fmt: skip


def square_on(
    picture: np.ndarray, way: Mapped, box: tuple[float, float, float, float], mm_per_px: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A part of a face square-on, x along the slab to the right, y up.

    picture : (height, width, 3) uint8, whose pixels `way` speaks of. box : left, bottom, right, top, slab frame, mm.

    Returns the pixels, (rows, columns) bool where the picture shows them, and the (2,) mm at the middle of the first.
    """
    left, bottom, right, top = box
    columns, rows = (int(np.ceil(side / mm_per_px)) for side in (right - left, top - bottom))
    origin = np.array([left + mm_per_px / 2, top - mm_per_px / 2])
    at = np.stack(np.meshgrid(np.arange(columns), np.arange(rows)), -1).reshape(-1, 2) * [mm_per_px, -mm_per_px] + origin
    places = way.to_px(at).astype(np.float32).reshape(rows, columns, 2)
    rgb = cv2.remap(picture, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    high, wide = picture.shape[:2]
    seen = ((places >= 0) & (places <= np.array([wide - 1, high - 1]))).all(-1)
    return rgb, seen, origin


def look_at_survey(survey: SurveyEntry) -> Look:
    """The face of a survey as it is compared with others. Raises NoView, PhotoError."""
    outline = survey.record["outline"]
    holes = tuple(np.array(hole, float) for hole in outline.get("wood_holes_mm") or ())
    return look_at(view_of(survey), np.array(outline["wood_mm"], float), holes, AS_IT_LIES)


def _picture(survey: SurveyEntry) -> Path:
    """The file whose pixels are those of the record."""
    if not survey.record.get("photos"):
        return survey.original
    if survey.flat is None:
        raise NoView("the picture joined from its photos was not kept")
    return survey.flat


def _projected(homography: np.ndarray, points: np.ndarray) -> np.ndarray:
    points = np.asarray(points, float)
    out = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return out[:, :2] / out[:, 2:]
