"""The plane of the slab's upper face: pixel <-> millimetre, and how sure anything computed from it is."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np

from grainlog.scale import card as scale_card
from grainlog.scale.camera import Camera
from grainlog.scale.flat import FlatView
from grainlog.scale.solve import Solution

#: The flat view's map is computed this far apart at most, mm, and interpolated: off by 0.03 px at most 35 degrees from
#: straight above (tested). A power of two of pixels, because `cv2.remap` counts in thirty-seconds.
MAP_NODES_MM, MAP_STEPS = 8.0, (16, 8, 4, 2, 1)
#: A photo is of no use where it sees the plane flatter than this, degrees from straight down.
MOST_SLANT_DEG = 70.0


@dataclass(frozen=True)
class FacePlane:
    """The upper face of the slab in one photo.

    solution : Solution
    view : int
        Which of the solved photos.
    vector : (n,) float64
        The unknowns to stand on; `solution.vector` unless an uncertainty is being traced.

    The plane frame: mm on the face, origin where the world's origin meets the face, x and y as the world's, z towards
    the camera.
    """

    solution: Solution
    view: int = 0
    vector: np.ndarray | None = None

    @cached_property
    def _unknowns(self) -> np.ndarray:
        return self.solution.vector if self.vector is None else self.vector

    @cached_property
    def camera(self) -> Camera:
        """The camera of this photo."""
        solved = self.solution.problem.camera(self._unknowns, self.view)
        return Camera(float(solved.focal_px), tuple(map(float, solved.centre_px)), float(solved.k1), float(solved.k2))

    @cached_property
    def _pose(self) -> tuple[np.ndarray, np.ndarray]:
        return self.solution.problem.pose(self._unknowns, self.view)

    @cached_property
    def _frame(self) -> tuple[np.ndarray, np.ndarray]:
        """Origin (3,) and axes (3, 3; columns x, y, z) of the plane frame, world mm."""
        height, slope_x, slope_y = map(float, self.solution.problem.face(self._unknowns))
        across = np.array([1.0, 0.0, slope_x]) / np.hypot(1.0, slope_x)
        normal = np.array([-slope_x, -slope_y, 1.0]) / np.sqrt(1 + slope_x**2 + slope_y**2)
        return np.array([0.0, 0.0, height]), np.column_stack([across, np.cross(normal, across), normal])

    @cached_property
    def _camera_world(self) -> np.ndarray:
        rotation, move = self._pose
        return -rotation.T @ move

    @property
    def camera_mm(self) -> np.ndarray:
        """(3,) the camera in the plane frame: foot point and height above the face, mm."""
        origin, axes = self._frame
        return (self._camera_world - origin) @ axes

    @property
    def camera_height_mm(self) -> float:
        """Height of the camera above the plane of the cards' prints, mm."""
        return float(self._camera_world[2])

    @property
    def thickness_mm(self) -> float | None:
        """Thickness of the slab, mm; None where the person did not say."""
        problem = self.solution.problem
        return None if problem.setup.thickness_mm is None else float(problem.thickness(self._unknowns))

    def to_mm(self, px: np.ndarray) -> np.ndarray:
        """(n, 2) photo px to (n, 2) plane-frame mm."""
        rotation, _ = self._pose
        origin, axes = self._frame
        rays = self.camera.rays(px) @ (rotation @ axes)
        eye = (self._camera_world - origin) @ axes
        return eye[:2] + rays[..., :2] * (-eye[2] / rays[..., 2:])

    def to_px(self, mm: np.ndarray) -> np.ndarray:
        """(n, 2) plane-frame mm to (n, 2) photo px."""
        return self.camera.project(self._to_camera(np.asarray(mm, float)))

    def _to_camera(self, mm: np.ndarray) -> np.ndarray:
        rotation, move = self._pose
        origin, axes = self._frame
        onto = rotation @ axes
        return mm @ onto[:, :2].T + (rotation @ origin + move)

    def mm_per_px(self, mm: np.ndarray) -> float:
        """Size of a photo pixel at a plane-frame point (2,): square root of its area on the face, mm."""
        around = self.to_px(np.asarray(mm) + np.array([[-5.0, 0], [5, 0], [0, -5], [0, 5]]))
        jacobian = np.stack([around[1] - around[0], around[3] - around[2]]) / 10
        return float(1 / np.sqrt(abs(np.linalg.det(jacobian))))

    def slant(self, mm: np.ndarray) -> float:
        """Angle (rad) between the line of sight to a plane-frame point (2,) and straight down on the face."""
        sight = self.camera_mm - [*mm, 0.0]
        return float(np.arccos(sight[2] / np.linalg.norm(sight)))

    def inside_px(self, mm: np.ndarray) -> np.ndarray:
        """(n,) how far inside the photo's frame plane-frame points (n, 2) are seen, px; negative outside."""
        px = self.to_px(mm)
        return np.minimum(px, np.array(self.solution.problem.views[self.view].size_px) - 1 - px).min(1)

    def card_outlines_px(self) -> dict[int, np.ndarray]:
        """Outline of each solved card's paper in this photo, {card: (n, 2) px}."""
        problem = self.solution.problem
        seen = {card.card for card in problem.views[self.view].cards}
        return {card: self.card_outline_px(card) for card in problem.cards if card in seen}

    def card_outline_px(self, card: int) -> np.ndarray:
        """(n, 2) px: where this photo shows, or would show, the outline of a solved card's paper."""
        problem = self.solution.problem
        rotation, move = self._pose
        edge = np.vstack([np.linspace(a, b, 8, endpoint=False) for a, b in _sides(scale_card.outline())])
        world = problem.world(self._unknowns, np.full(len(edge), problem.cards.index(card)), edge)
        return self.camera.project(world @ rotation.T + move)

    def shown_bounds(self, most_slant_deg: float) -> tuple[float, float, float, float]:
        """Bounds of the part of the plane that the photo shows, mm, no farther than so many degrees from straight down."""
        w, h = self.solution.problem.views[self.view].size_px
        border = np.array([[0, 0], [w - 1, 0], [w - 1, h - 1], [0, h - 1]], float)
        edge = np.vstack([np.linspace(a, b, 20, endpoint=False) for a, b in _sides(border)])
        camera = self.camera_mm
        mm = self.to_mm(edge)
        direction = mm - camera[:2]
        # Above the horizon a ray meets the plane behind the camera; both cases are capped.
        reach = np.linalg.norm(direction, axis=1)
        rays = self._looks_down(edge)
        limit = camera[2] * np.tan(np.radians(most_slant_deg))
        mm = np.where((rays & (reach < limit))[:, None], mm, np.nan)
        if np.isnan(mm).any():
            mm = np.vstack([mm, camera[:2] + direction[rays] / reach[rays, None] * np.minimum(reach[rays], limit)[:, None]])
        least, greatest = np.nanmin(mm, 0), np.nanmax(mm, 0)
        return float(least[0]), float(least[1]), float(greatest[0]), float(greatest[1])

    def _looks_down(self, px: np.ndarray) -> np.ndarray:
        rotation, _ = self._pose
        _, axes = self._frame
        return (self.camera.rays(px) @ (rotation @ axes))[:, 2] < -0.05

    # How sure ----------------------------------------------------------------------------------------------------

    def spread(
        self, measure: Callable[["FacePlane"], np.ndarray]
    ) -> tuple[np.ndarray, dict[str, np.ndarray]]:
        """Standard uncertainty of whatever `measure` computes from a plane, and its budget.

        Parameters
        ----------
        measure : callable
            FacePlane -> (k,) float64. Called about twice per unknown; what it holds fixed is pixels.

        Returns
        -------
        u : (k,) float64
            From corners and priors together (what the corners cannot see of the outline is not in it).
        budget : dict of str to (k,) float64
            By source; the squares add up to u squared.

        Notes
        -----
        JCGM 100:2008, 5.1.3 and note 2 (change each input by its standard uncertainty) along the principal axes of the
        covariance, so that small steps of a measure that takes a maximum do not count.
        """
        covariance = self.solution.covariance
        variances, axes = np.linalg.eigh(covariance)
        keep = variances > 1e-9 * variances.max()
        variances, axes = variances[keep], axes[:, keep]
        changes = []
        for variance, axis in zip(variances, axes.T):
            step = axis * np.sqrt(variance)
            ahead = measure(replace(self, vector=self._unknowns + step))
            behind = measure(replace(self, vector=self._unknowns - step))
            changes.append((np.asarray(ahead) - behind) / 2)
        gradient = axes @ (np.array(changes) / np.sqrt(variances)[:, None])
        budget = {
            source: np.sqrt(np.maximum(np.einsum("ik,ij,jk->k", gradient, share, gradient), 0))
            for source, share in self.solution.shares.items()
        }
        return np.sqrt(sum(part**2 for part in budget.values())), budget


@dataclass(frozen=True)
class FaceViewer:
    """A photo and its solved plane: shows the face square-on (see `flat.Viewer`).

    rgb : (h, w, 3) uint8
        The upright photo.
    """

    plane: FacePlane
    rgb: np.ndarray

    def flat_view(self, mm_per_px: float, bounds_mm: tuple[float, float, float, float] | None = None) -> FlatView:
        """The face square-on at `mm_per_px`; bounds (least x, least y, greatest x, greatest y), None: all that is seen.

        Resampled with `cv2.remap`: area-averaged first where the view is much coarser than the photo.
        """
        left, bottom, right, top = bounds_mm or self.seen_bounds()
        width = max(1, int(np.ceil((right - left) / mm_per_px)))
        height = max(1, int(np.ceil((top - bottom) / mm_per_px)))
        origin = np.array([left + mm_per_px / 2, top - mm_per_px / 2])
        middle = np.array([(left + right) / 2, (bottom + top) / 2])
        rgb, seen = self.sample(self.map_px(origin, width, height, mm_per_px), mm_per_px, middle)
        outlines = self.plane.card_outlines_px()
        setup = self.plane.solution.problem.setup
        return FlatView(
            rgb,
            seen,
            mm_per_px,
            origin,
            tuple(self.plane.to_mm(outline) for outline in outlines.values()),
            tuple(setup.on_slab(card) for card in outlines),
            self.plane.camera_mm,
        )

    def sample(self, map_px: np.ndarray, mm_per_px: float, middle_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(h, w, 3) uint8 and (h, w) bool: the photo at `map_px` (see `map_px`) for a view about `middle_mm`, and where
        the photo shows anything."""
        source, shrink = self._source(mm_per_px, middle_mm)
        map_x, map_y = np.moveaxis((map_px + 0.5) / shrink - 0.5, -1, 0)
        map_x, map_y = np.ascontiguousarray(map_x), np.ascontiguousarray(map_y)
        rgb = cv2.remap(source, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        h, w = source.shape[:2]
        return rgb, (map_x >= -0.5) & (map_y >= -0.5) & (map_x <= w - 0.5) & (map_y <= h - 0.5)

    def map_px(self, origin_mm: np.ndarray, width: int, height: int, mm_per_px: float) -> np.ndarray:
        """(height, width, 2) float32: the photo px of each pixel of a flat view whose first pixel lies at `origin_mm`."""
        step = next((step for step in MAP_STEPS if step * mm_per_px <= MAP_NODES_MM), 1)
        columns, rows = np.arange(0, width + step, step), np.arange(0, height + step, step)
        grid = np.stack(np.meshgrid(origin_mm[0] + columns * mm_per_px, origin_mm[1] - rows * mm_per_px), -1)
        nodes = self.plane.to_px(grid.reshape(-1, 2)).reshape(grid.shape).astype(np.float32)
        x = np.broadcast_to(np.arange(width, dtype=np.float32) / step, (height, width))
        y = np.broadcast_to((np.arange(height, dtype=np.float32) / step)[:, None], (height, width))
        return cv2.remap(nodes, np.ascontiguousarray(x), np.ascontiguousarray(y), cv2.INTER_LINEAR)

    def seen_bounds(self) -> tuple[float, float, float, float]:
        """Bounds of the part of the plane that the photo shows, mm, cut off where pixels grow beyond all use."""
        return self.plane.shown_bounds(MOST_SLANT_DEG)

    def _source(self, mm_per_px: float, middle: np.ndarray) -> tuple[np.ndarray, int]:
        """The photo, area-averaged by a whole factor where the view needs no more (prevents aliasing)."""
        shrink = int(mm_per_px / self.plane.mm_per_px(middle))
        if shrink < 2:
            return self.rgb, 1
        h, w = (side // shrink * shrink for side in self.rgb.shape[:2])
        small = cv2.resize(self.rgb[:h, :w], (w // shrink, h // shrink), interpolation=cv2.INTER_AREA)
        return small, shrink


def _sides(polygon: np.ndarray):
    return zip(polygon, np.roll(polygon, -1, axis=0))
