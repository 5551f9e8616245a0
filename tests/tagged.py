"""Photos with a tag in them: the tag as it is printed, laid onto a committed sample photo by a homography."""

from collections.abc import Sequence
from functools import cache

import cv2
import numpy as np
import pypdfium2

from grainlog.scale import tag as slab_tag
from grainlog.scale.tag import TagText
from grainlog.sheets.paper import PAPERS
from grainlog.sheets.tag_face import TagLabel
from grainlog.sheets.tag_layout import plain_layout
from grainlog.sheets.tag_pdf import tag_sheet

PX_PER_MM = 8
YARD = "K7QM9X"
#: Paper is not white and ink not black in a photo, levels of 255.
INK, PAPER = 28, 205


def rendered_page(pdf: bytes, px_per_mm: float, page: int = 0) -> np.ndarray:
    """A page of a PDF as PDFium shows it, (h, w) uint8."""
    # A hair under the scale: pypdfium2 rounds the size up, and a page of 1188.0000001 px would become 1189.
    image = (
        pypdfium2.PdfDocument(pdf)[page]
        .render(scale=px_per_mm * 25.4 / 72 * (1 - 1e-7), grayscale=True)
        .to_numpy()
    )
    return np.ascontiguousarray(image.reshape(image.shape[:2]))


@cache
def printed(text: TagText) -> np.ndarray:
    """The tag with this text as it is printed, (480, 760) uint8, 8 px per mm."""
    paper = PAPERS["a4"]
    page = rendered_page(
        tag_sheet([TagLabel(text, "driveway elm", 3)], paper), PX_PER_MM
    )
    left, top = (round(mm * PX_PER_MM) for mm in plain_layout(paper).corner(0))
    return page[
        top : top + round(slab_tag.HEIGHT_MM * PX_PER_MM),
        left : left + round(slab_tag.WIDTH_MM * PX_PER_MM),
    ]


def laid(rgb: np.ndarray, text: TagText, corners_px: Sequence) -> np.ndarray:
    """A copy of a photo (h, w, 3) with a tag whose four corners (from its top left clockwise) lie at `corners_px`."""
    tag = INK + printed(text).astype(np.float32) / 255 * (PAPER - INK)
    corners = np.asarray(corners_px, np.float32)
    onto = cv2.getPerspectiveTransform(
        slab_tag.outline().astype(np.float32), corners
    ).astype(np.float64)
    texture = np.array(
        [
            [1 / PX_PER_MM, 0, 0.5 / PX_PER_MM],
            [0, 1 / PX_PER_MM, 0.5 / PX_PER_MM],
            [0, 0, 1],
        ]
    )
    low, high = (
        np.floor(corners.min(0)).astype(int) - 3,
        np.ceil(corners.max(0)).astype(int) + 4,
    )
    fine = 4  # samples per photo pixel and direction, averaged: a camera's pixel has an area
    window = np.array(
        [
            [fine, 0, (fine - 1) / 2 - fine * low[0]],
            [0, fine, (fine - 1) / 2 - fine * low[1]],
            [0, 0, 1.0],
        ]
    )
    size = tuple(int(side) for side in (high - low) * fine)
    seen, share = (
        cv2.resize(
            cv2.warpPerspective(part, window @ onto @ texture, size),
            tuple(map(int, high - low)),
            interpolation=cv2.INTER_AREA,
        )
        for part in (tag, np.ones_like(tag))
    )
    out = rgb.copy()
    place = out[low[1] : high[1], low[0] : high[0]]
    place[:] = np.clip(place * (1 - share[..., None]) + seen[..., None] + 0.5, 0, 255)
    return out


def turned(
    middle: Sequence[float], degrees: float = 0.0, mirrored: bool = True
) -> np.ndarray:
    """(4, 2) mm: a tag's corners about a middle, turned; mirrored for a frame whose y runs up."""
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    centred = slab_tag.outline() - slab_tag.outline().mean(0)
    return (centred * [1, -1 if mirrored else 1]) @ turn.T + middle


def seen_from(
    mm_per_px: float, tilt_deg: float, turn_deg: float, middle_px: Sequence[float]
) -> np.ndarray:
    """(4, 2) px: a tag's corners as a camera of 3000 px focal length sees them at `mm_per_px` in its middle."""
    focal, tilt = 3000.0, np.radians(tilt_deg)
    flat = np.column_stack([turned((0, 0), turn_deg, mirrored=False), np.zeros(4)])
    lean = np.array(
        [[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]]
    )
    x, y, z = (flat @ lean.T + [0, 0, focal * mm_per_px]).T
    return np.column_stack([focal * x / z, focal * y / z]) + middle_px
