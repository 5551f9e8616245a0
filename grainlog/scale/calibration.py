"""The lens from views of flat patterns whose corners are known: square pixels, principal point, k1 and k2."""

from dataclasses import dataclass

import cv2
import numpy as np

from grainlog.scale.errors import ScaleError
from grainlog.scale.model import HALF_PATTERN_MM

#: Steps towards the papers' own shape; a third moves the focal length by under 0.01 u (simulated).
ROUNDS = 2
#: However well they fit, corners are not believed better than this, px (drawn cards fit to 0.001, photos never do).
LEAST_RMS_PX = 0.02
_FLAGS = cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3
_STOP = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 60, 1e-9)

ALIKE = (
    "These photos are too alike to tell the lens: take some of the card from straight above and others leaning 30 to "
    "45 degrees to each of its four sides, let it fill much of the photo, and bring it into the corners too."
)


@dataclass(frozen=True)
class Fitted:
    """Intrinsics with their standard uncertainties, as `fit_camera` finds them; px and dimensionless.

    rms_px : float
        Of the corner residuals, per axis.
    turn : float
        Greatest angle between two directions from which the pattern was seen, rad.
    """

    focal_px: float
    focal_u_px: float
    centre_px: tuple[float, float]
    centre_u_px: tuple[float, float]
    k1: float
    k1_u: float
    k2: float
    k2_u: float
    rms_px: float
    turn: float


@dataclass(frozen=True)
class Sheet:
    """What is believed of the paper of one card: standard deviations that the views may overrule.

    lopsided : float
        Stretch of one direction of the print against the other, relative.
    curl_mm : float
        Rise of an edge of the pattern over its middle, along each direction, mm.
    """

    lopsided: float = 0.0
    curl_mm: float = 0.0

    @property
    def spreads(self) -> np.ndarray:
        """(3,) of stretch, curl along x, curl along y."""
        return np.array([self.lopsided, self.curl_mm, self.curl_mm])


@dataclass(frozen=True)
class PatternView:
    """One view of one flat pattern: (n, 2) mm on it, (n, 2) px, and which piece of paper it is on."""

    mm: np.ndarray
    px: np.ndarray
    sheet: int = 0


def fit_camera(views: list[PatternView], size_px: tuple[int, int], paper: Sheet = Sheet()) -> Fitted:
    """Fit square pixels, principal point, k1 and k2 to views of patterns that are flat, or nearly.

    Parameters
    ----------
    views : list of PatternView
        At least three; each has its own pose, also where several are in one photo.
    size_px : (width, height)
    paper : Sheet
        Of every piece of paper. What the views themselves say of its stretch and curl is taken in (turned and leaning
        views can tell them from the lens); what is left open becomes part of the uncertainty.

    Notes
    -----
    `cv2.calibrateCameraExtended` (Zhang, PAMI 22, 2000); its standard deviations come from the residuals. Stretch and
    curl are found around it by Gauss-Newton steps on its residuals. An error of size alone leaves the lens as it is.
    """
    sheets = sorted({view.sheet for view in views})
    spreads = np.tile(paper.spreads, len(sheets))
    unknown = np.flatnonzero(spreads)
    shape = np.zeros(len(spreads))
    extra = np.zeros((5, 5))
    lens, deviations, poses, off = _opencv(views, sheets, shape, size_px)
    for _ in range(ROUNDS if len(unknown) else 0):
        noise = max(_rms(off), LEAST_RMS_PX)
        # At the best lens of each shape the residuals change by what no lens can take up.
        slopes, bends = [], []
        for place in unknown:
            step = np.where(np.arange(len(shape)) == place, spreads, 0.0)
            ahead = _opencv(views, sheets, shape + step, size_px, lens)
            behind = _opencv(views, sheets, shape - step, size_px, lens)
            slopes.append((ahead[3] - behind[3]) / 2 / noise)
            bends.append((ahead[0] - behind[0]) / 2)
        slopes, bends = np.array(slopes).T, np.array(bends).T
        open_still = np.linalg.inv(slopes.T @ slopes + np.eye(len(unknown)))
        now = shape[unknown] / spreads[unknown]
        shape[unknown] += -(open_still @ (slopes.T @ off / noise + now)) * spreads[unknown]
        lens, deviations, poses, off = _opencv(views, sheets, shape, size_px, lens)
        extra = bends @ open_still @ bends.T
    rms = _rms(off)
    u = np.sqrt((deviations * max(1.0, LEAST_RMS_PX / max(rms, 1e-9))) ** 2 + np.diag(extra))
    normals = np.array([cv2.Rodrigues(turn)[0][:, 2] for turn in poses])
    return Fitted(
        float(lens[0]), float(u[0]), (float(lens[1]), float(lens[2])), (float(u[1]), float(u[2])),
        float(lens[3]), float(u[3]), float(lens[4]), float(u[4]),
        rms, float(np.arccos(np.clip((normals @ normals.T).min(), -1, 1))),
    )  # fmt: skip


def _rms(off: np.ndarray) -> float:
    return float(np.sqrt(np.mean(off**2)))


def _solid(view: PatternView, sheets: list[int], shape: np.ndarray) -> np.ndarray:
    """(n, 3) float32 mm: the pattern stretched, and curled as a shallow parabola that keeps the paper's length."""
    stretch, *curl = shape.reshape(-1, 3)[sheets.index(view.sheet)]
    arc = view.mm * [1 + stretch, 1.0]
    flat = arc * (1 - (2 / 3) * (np.array(curl) * arc / HALF_PATTERN_MM**2) ** 2)
    rise = (flat / HALF_PATTERN_MM) ** 2 @ np.array(curl)
    return np.column_stack([flat, rise]).astype(np.float32)


def _opencv(views, sheets, shape, size_px, start=None) -> tuple[np.ndarray, np.ndarray, tuple, np.ndarray]:
    """(5,) focal, centre x, centre y, k1, k2; their standard deviations; each view's rotation; residuals, px."""
    matrix, distortion, flags = np.eye(3), np.zeros(5), _FLAGS
    solid = [_solid(view, sheets, shape) for view in views]
    flat = [np.ascontiguousarray(view.px, np.float32).reshape(-1, 1, 2) for view in views]
    try:
        # The first guess at a lens must come from flat patterns, so a curl enters only from there on.
        if start is None:
            level = [np.ascontiguousarray(points * np.float32([1, 1, 0])) for points in solid]
            _, matrix, distortion, *_ = cv2.calibrateCamera(level, flat, size_px, matrix, distortion, flags=_FLAGS)
        else:
            matrix = np.array([[start[0], 0, start[1]], [0, start[0], start[2]], [0, 0, 1.0]])
            distortion[:2] = start[3:]
        flags |= cv2.CALIB_USE_INTRINSIC_GUESS
        _, matrix, distortion, turns, moves, deviations, _, _ = cv2.calibrateCameraExtended(
            solid, flat, size_px, matrix, distortion, flags=flags, criteria=_STOP
        )
    except cv2.error as failed:
        raise ScaleError(ALIKE) from failed
    found = np.array([matrix[1, 1], matrix[0, 2], matrix[1, 2], *np.ravel(distortion)[:2]])
    spread = np.ravel(deviations)[[1, 2, 3, 4, 5]]
    if not (np.isfinite(found).all() and np.isfinite(spread).all() and found[0] > 0):
        raise ScaleError(ALIKE)
    off = [
        cv2.projectPoints(points.astype(float), turn, move, matrix, distortion)[0].reshape(-1, 2) - view.px
        for points, turn, move, view in zip(solid, turns, moves, views)
    ]
    return found, spread, turns, np.concatenate(off).ravel()
