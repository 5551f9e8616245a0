"""Find every scale card in a photo by its ChArUco corners, with one marker pass for all cards.

Marker corners are only good to about half a pixel, the saddle points between the squares to a few hundredths, so
markers say which card it is and roughly where, and only the inner corners are measured.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from grainlog.scale import card as scale_card
from grainlog.scale.refine import misfit_px, px_per_mm, register_corners

#: Smallest marker side that is still read, px. OpenCV's default of 3 % of the longer side drops 30 px markers at 12 MP.
LEAST_MARKER_PX = 12.0
#: Below this the corners of a card are not trusted, px.
TRUSTED_MARKER_PX = 14.0
#: Local threshold windows (least, greatest, step), px: the quick pass over the whole photo, and the thorough one where
#: a card was seen in part (a third of the time on gravel, and the same cards).
QUICK_WINDOWS, THOROUGH_WINDOWS = (7, 21, 14), (5, 33, 7)
#: A marker belongs to a card when it lies this near to where another marker of the card says, in marker sides.
FARTHEST_MARKER = 1.0
#: A card reaches at most this many squares beyond any of its markers.
ROWS_AND_A_BIT = scale_card.ROWS + 0.5
#: A card counts when at least this many of its twelve corners are measured (8 parameters of a homography and a margin).
LEAST_CORNERS = 6
#: A corner farther than this from its own card's homography is a wrong corner, px (good ones: 0.05 to 0.2).
WRONG_CORNER_PX = 1.5


Marker = tuple[int, np.ndarray]


@dataclass(frozen=True)
class SeenCard:
    """One scale card as the photo shows it.

    card : int
        Card number, 0..9.
    corner_ids : (n,) int64
        Which of the twelve inner corners (order of `card.inner_corners`).
    corners_px : (n, 2) float64
        Where they are; upright photo, centre of the first pixel at (0, 0).
    marker_px : float
        Mean marker side, px.
    """

    card: int
    corner_ids: np.ndarray
    corners_px: np.ndarray
    marker_px: float

    @property
    def corners_mm(self) -> np.ndarray:
        """(n, 2) the same corners on the print, card frame, mm."""
        return scale_card.inner_corners()[self.corner_ids]


@dataclass(frozen=True)
class RejectedCard:
    """A card that was noticed and cannot be used, with the reason as part of a sentence."""

    card: int
    reason: str


@dataclass(frozen=True)
class CardsSeen:
    """All cards of one photo: the usable ones, by number, and the others with the reason."""

    cards: tuple[SeenCard, ...]
    rejected: tuple[RejectedCard, ...]


def find_cards(rgb: np.ndarray) -> CardsSeen:
    """Find all scale cards in an upright photo.

    Parameters
    ----------
    rgb : (h, w, 3) uint8

    Returns
    -------
    CardsSeen
        Each card number at most once; two prints of one number in one photo are both rejected.

    Notes
    -----
    Markers: `cv2.aruco.ArucoDetector` (Garrido-Jurado et al., Pattern Recognition 47, 2014). Corners: interpolated by
    `cv2.aruco.CharucoDetector` from the markers around them, then registered with the card's drawing. In strong perspective
    OpenCV's check that markers and corners agree rejects good cards, so it is left off in a second try.
    """
    grey = cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY)
    markers = _find_markers(grey, QUICK_WINDOWS) or _find_markers(grey, THOROUGH_WINDOWS)
    cards, rejected = [], []
    for number in range(scale_card.CARD_COUNT):
        mine = [marker for marker in markers if marker[0] in scale_card.marker_ids(number)]
        if 0 < len(mine) < scale_card.MARKERS_PER_CARD:
            mine = _look_again(grey, number, mine)
        # A single marker is more often a chance pattern in gravel or grass than a card.
        if len(mine) > 1:
            ids, corners = zip(*mine)
            found = _measure_card(grey, number, list(corners), list(ids))
            if found is not None:
                (cards if isinstance(found, SeenCard) else rejected).append(found)
    return CardsSeen(tuple(cards), tuple(rejected))


def _find_markers(grey: np.ndarray, windows: tuple[int, int, int]) -> list[Marker]:
    """All scale-card markers as (id, (4, 2) float32 corners); windows: least, greatest, step of the local threshold."""
    parameters = cv2.aruco.DetectorParameters()
    # OpenCV compares with the number of contour points, of which a marker turned by 45 degrees has a third fewer.
    parameters.minMarkerPerimeterRate = 4 * LEAST_MARKER_PX / np.sqrt(2) / max(grey.shape)
    parameters.adaptiveThreshWinSizeMin, parameters.adaptiveThreshWinSizeMax = windows[:2]
    parameters.adaptiveThreshWinSizeStep = windows[2]
    # With these all of 80 markers of 16 px in a 4032 px photo are read; OpenCV's own settings read none to 9 of 10.
    parameters.polygonalApproxAccuracyRate = 0.06
    parameters.perspectiveRemovePixelPerCell = 8
    parameters.perspectiveRemoveIgnoredMarginPerCell = 0.25
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    corners, ids, _ = cv2.aruco.ArucoDetector(scale_card.dictionary(), parameters).detectMarkers(grey)
    if ids is None:
        return []
    return [(int(marker), found.reshape(4, 2)) for marker, found in zip(np.ravel(ids), corners)]


def _look_again(grey: np.ndarray, number: int, markers: list[Marker]) -> list[Marker]:
    """All markers of a card that the quick pass saw in part, by a thorough pass around it."""
    mine, _ = _belonging_together(number, [corners for _, corners in markers], [marker for marker, _ in markers])
    everything = np.vstack([markers[i][1] for i in mine])
    side = max(np.ptp(markers[i][1], axis=0).max() for i in mine)
    reach = ROWS_AND_A_BIT * scale_card.SQUARE_MM / scale_card.MARKER_MM * side
    left, top = np.maximum(np.floor(everything.min(0) - reach).astype(int), 0)
    right, bottom = np.ceil(everything.max(0) + reach).astype(int)
    window = np.ascontiguousarray(grey[top:bottom, left:right])
    again = [
        (marker, corners + np.float32([left, top]))
        for marker, corners in _find_markers(window, THOROUGH_WINDOWS)
        if marker in scale_card.marker_ids(number)
    ]
    return max(again, markers, key=len)


def _measure_card(grey, number: int, marker_corners: list, marker_ids: list) -> SeenCard | RejectedCard | None:
    mine, others = _belonging_together(number, marker_corners, marker_ids)
    if len(_belonging_together(number, [marker_corners[i] for i in others], [marker_ids[i] for i in others])[0]) > 2:
        return RejectedCard(number, "its number is on two prints in this photo")
    if len(mine) < 2:
        return None
    marker_corners, marker_ids = [marker_corners[i] for i in mine], [marker_ids[i] for i in mine]
    best_ids, best_px = np.empty(0, int), np.empty((0, 2))
    for check in (True, False):
        corner_ids, corners_px = _charuco_corners(grey, number, marker_corners, marker_ids, check)
        corner_ids, corners_px = _consistent(corner_ids, corners_px)
        if len(corner_ids) > len(best_ids):
            best_ids, best_px = corner_ids, corners_px
        if len(best_ids) >= LEAST_CORNERS:
            break
    if len(best_ids) < LEAST_CORNERS or _on_one_line(best_ids):
        return RejectedCard(number, f"only {len(best_ids)} of its 12 corners can be seen")
    best_px = register_corners(grey, number, best_ids, best_px)
    # From the measured corners: marker outlines themselves come out a pixel short.
    side = px_per_mm(scale_card.inner_corners()[best_ids], best_px) * scale_card.MARKER_MM
    if side < TRUSTED_MARKER_PX:
        return RejectedCard(number, f"its markers are only {side:.0f} px wide in the photo; go closer or use more pixels")
    return SeenCard(number, best_ids, best_px, side)


def _belonging_together(number: int, marker_corners: list, marker_ids: list) -> tuple[list[int], list[int]]:
    """Split markers into those that lie as on one card, the largest such set, and the rest (indices).

    Grass and grain throw up patterns that read as a marker: each marker predicts where the others of its card lie, and
    the one whose prediction is borne out most often has its way (Fischler and Bolles, CACM 24, 1981, exhaustively).
    """
    layout = {
        int(marker): corners[:, :2].astype(np.float32)
        for marker, corners in zip(np.ravel(scale_card.board(number).getIds()), scale_card.board(number).getObjPoints())
    }
    middles = np.array([corners.mean(0) for corners in marker_corners]).reshape(-1, 2)
    targets = np.array([layout[marker].mean(0) for marker in marker_ids], np.float32).reshape(-1, 1, 2)
    best: list[int] = []
    for marker, corners in zip(marker_ids, marker_corners):
        homography = cv2.getPerspectiveTransform(layout[marker], corners.astype(np.float32))
        predicted = cv2.perspectiveTransform(targets, homography).reshape(-1, 2)
        side = np.linalg.norm(np.roll(corners, 1, 0) - corners, axis=1).mean()
        near = np.flatnonzero(np.linalg.norm(predicted - middles, axis=1) < FARTHEST_MARKER * side)
        if len({marker_ids[i] for i in near}) > len(best):
            best = [int(i) for i in near]
    return best, [i for i in range(len(marker_ids)) if i not in best]


def _charuco_corners(grey, number, marker_corners, marker_ids, check):
    parameters = cv2.aruco.CharucoParameters()
    parameters.checkMarkers = check
    parameters.minMarkers = 1
    detector = cv2.aruco.CharucoDetector(scale_card.board(number), parameters)
    everything = np.vstack(marker_corners)
    left, top = np.maximum(np.floor(everything.min(0)).astype(int) - 40, 0)
    right, bottom = np.ceil(everything.max(0)).astype(int) + 41
    window = np.ascontiguousarray(grey[top:bottom, left:right])
    moved = [(c - [left, top]).astype(np.float32).reshape(1, 4, 2) for c in marker_corners]
    px, ids, _, _ = detector.detectBoard(window, markerCorners=moved, markerIds=np.array(marker_ids, np.int32))
    if ids is None or len(ids) == 0:
        return np.empty(0, int), np.empty((0, 2))
    px = _refine(window, np.asarray(px, np.float32).reshape(-1, 2), moved)
    return np.ravel(ids).astype(int), px + [left, top]


def _refine(grey: np.ndarray, corners: np.ndarray, markers: list) -> np.ndarray:
    """Saddle points to sub-pixel: the window stays inside the white ring (5.5 mm of 33 mm) around the markers."""
    shortest = min(np.linalg.norm(np.roll(m[0], 1, 0) - m[0], axis=1).min() for m in markers)
    ring = shortest * (scale_card.SQUARE_MM - scale_card.MARKER_MM) / 2 / scale_card.MARKER_MM
    half = int(np.clip(np.floor(ring), 2, 9))
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-3)
    refined = cv2.cornerSubPix(grey, corners.reshape(-1, 1, 2).copy(), (half, half), (-1, -1), criteria)
    return refined.reshape(-1, 2).astype(float)


def _consistent(corner_ids: np.ndarray, corners_px: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Drop corners that the homography of the others denies, worst first."""
    while len(corner_ids) >= LEAST_CORNERS:
        off = np.linalg.norm(misfit_px(scale_card.inner_corners()[corner_ids], corners_px), axis=1)
        if off.max() <= WRONG_CORNER_PX:
            break
        keep = np.arange(len(off)) != off.argmax()
        corner_ids, corners_px = corner_ids[keep], corners_px[keep]
    return corner_ids, corners_px


def _on_one_line(corner_ids: np.ndarray) -> bool:
    points = scale_card.inner_corners()[corner_ids]
    return len(set(points[:, 0])) < 2 or len(set(points[:, 1])) < 2
