"""Find the tags of slabs in a photo: one quick pass for markers at full resolution, then the QR code of each.

A thousand patterns of 25 bits come up by chance in gravel, grass and grain far more often than the hundred of the scale
cards. So no bit may be corrected, the border must be whole, and what was found must look like print on white: the
straightened marker is compared with its drawing.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from grainlog.scale import tag as slab_tag
from grainlog.scale.tag import TagText
from grainlog.scale.tag_code import AROUND_MODULES, MODULE_PX, SIDE_PX, read_code

#: Smallest marker side that is looked for, px: two and a half pixels a cell. Smaller ones are hardly ever read and cost time.
LEAST_MARKER_PX = 18.0
#: Local threshold: its window, px, and how much darker than its surroundings ink must be, levels of 255. OpenCV's own 7 makes
#: outlines of all grass and gravel and takes three times as long; print is darker than the paper around it by 60 and more.
WINDOW_PX, DARKER = 23, 18
#: Correlation of the straightened marker with its drawing, both with the white around it; by chance it is below 0.6.
LEAST_LIKENESS = 0.75
#: The straightened marker, px a cell.
CELL_PX = 6


@dataclass(frozen=True)
class SeenTag:
    """One tag as the photo shows it.

    marker : int
        0..999; stands for the numbers that end in its three figures (see `tag.marker_of`).
    corners_px : (4, 2) float64
        The marker's corners, from its own top left clockwise; upright photo, centre of the first pixel at (0, 0).
    text : TagText or None
        What its QR code says, where it could be read.
    code : (SIDE_PX, SIDE_PX) uint8
        The QR code straightened, with a rim around it: too coarse to be read, it can still be compared (`tag_code.code_likeness`).
    """

    marker: int
    corners_px: np.ndarray
    text: TagText | None
    code: np.ndarray

    def to_px(self, tag_mm: np.ndarray) -> np.ndarray:
        """(n, 2) photo px of points (n, 2) of the tag, mm, taken as flat."""
        points = np.asarray(tag_mm, np.float64).reshape(-1, 1, 2)
        return cv2.perspectiveTransform(points, _homography(self.corners_px)).reshape(
            -1, 2
        )

    @property
    def outline_px(self) -> np.ndarray:
        """(4, 2) the corners of the whole tag, photo px."""
        return self.to_px(slab_tag.outline())

    @property
    def side_px(self) -> float:
        """Mean side of the marker, px."""
        return float(
            np.linalg.norm(
                np.roll(self.corners_px, -1, 0) - self.corners_px, axis=1
            ).mean()
        )


def find_tags(rgb: np.ndarray) -> tuple[SeenTag, ...]:
    """Find the tags in an upright photo (h, w, 3) uint8, those of the lowest marker number first.

    The same marker twice is two tags. Markers: `cv2.aruco.ArucoDetector` (Garrido-Jurado et al., Pattern Recognition 47, 2014).
    """
    grey = cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY)
    corners, ids, _ = cv2.aruco.ArucoDetector(
        slab_tag.dictionary(), _parameters(grey.shape)
    ).detectMarkers(grey)
    found = []
    for marker, four in zip(() if ids is None else np.ravel(ids), corners):
        four = four.reshape(4, 2).astype(np.float64)
        if likeness(grey, int(marker), four) >= LEAST_LIKENESS:
            code = _code(grey, four)
            text = read_code(code)
            mine = (
                text is not None
                and slab_tag.marker_of(slab_tag.number_behind(text.tag)) == marker
            )
            found.append(SeenTag(int(marker), four, text if mine else None, code))
    return tuple(sorted(found, key=lambda tag: (tag.marker, *tag.corners_px[0])))


def likeness(grey: np.ndarray, marker: int, corners_px: np.ndarray) -> float:
    """Correlation, -1 to 1, of a marker in a photo, straightened and with the white around it, with its drawing."""
    drawn = np.pad(~slab_tag.marker_cells(marker), 1, constant_values=True).astype(
        np.float32
    )
    drawn = drawn.repeat(CELL_PX, 0).repeat(CELL_PX, 1)
    left, top = (
        slab_tag.MARKER_X_MM - slab_tag.CELL_MM,
        slab_tag.MARKER_Y_MM - slab_tag.CELL_MM,
    )
    seen = _straightened(
        grey, corners_px, left, top, slab_tag.CELL_MM / CELL_PX, len(drawn)
    )
    # Half of the white around it: farther out another thing may lie on the tag's rim.
    inner = slice(CELL_PX // 2, len(drawn) - CELL_PX // 2)
    return float(
        np.corrcoef(seen[inner, inner].ravel(), drawn[inner, inner].ravel())[0, 1]
    )


def _parameters(shape: tuple[int, int]) -> cv2.aruco.DetectorParameters:
    parameters = cv2.aruco.DetectorParameters()
    # OpenCV compares with the number of contour points, of which a marker turned by 45 degrees has a third fewer.
    parameters.minMarkerPerimeterRate = 4 * LEAST_MARKER_PX / np.sqrt(2) / max(shape)
    parameters.adaptiveThreshWinSizeMin = parameters.adaptiveThreshWinSizeMax = (
        WINDOW_PX
    )
    parameters.adaptiveThreshConstant = DARKER
    # As for scale cards (`detect`): small and slanting markers are read.
    parameters.polygonalApproxAccuracyRate = 0.06
    parameters.perspectiveRemovePixelPerCell = 8
    parameters.perspectiveRemoveIgnoredMarginPerCell = 0.25
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    parameters.errorCorrectionRate = 0.0
    parameters.maxErroneousBitsInBorderRate = 0.1
    return parameters


def _homography(corners_px: np.ndarray) -> np.ndarray:
    """(3, 3): from the tag, mm, to photo px."""
    return cv2.getPerspectiveTransform(
        slab_tag.marker_corners().astype(np.float32), corners_px.astype(np.float32)
    )


def _straightened(
    grey: np.ndarray,
    corners_px: np.ndarray,
    left: float,
    top: float,
    mm_per_px: float,
    side: int,
) -> np.ndarray:
    """(side, side) uint8: the tag square-on from `left`, `top` mm, the centre of the first pixel half a pixel further in."""
    to_mm = np.array(
        [
            [mm_per_px, 0, left + mm_per_px / 2],
            [0, mm_per_px, top + mm_per_px / 2],
            [0, 0, 1],
        ]
    )
    place = _homography(corners_px) @ to_mm
    return cv2.warpPerspective(
        grey,
        place,
        (side, side),
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )


def _code(grey: np.ndarray, corners_px: np.ndarray) -> np.ndarray:
    around = AROUND_MODULES * slab_tag.QR_MODULE_MM
    left, top = slab_tag.QR_X_MM - around, slab_tag.QR_Y_MM - around
    return _straightened(
        grey, corners_px, left, top, slab_tag.QR_MODULE_MM / MODULE_PX, SIDE_PX
    )
