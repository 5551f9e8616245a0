"""A rendered photo in which something is wrong, made from one with known truth: what a person would send by mistake.

Each fault takes the photo (h, w, 3) uint8 and its truth, and gives a new picture; the truth's pixels stay, except in
`runs_out`, which turns the camera.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from shapely import affinity

#: About so large are a person's feet and body seen from above, mm (no source).
SHOE_MM, BODY_MM = (290.0, 105.0), (520.0, 330.0)


@dataclass(frozen=True)
class Slab:
    """Where a photo shows its slab, from the truth: px.

    wood, silhouette : polygons
    along, across : (2,) unit vectors
    mm_px : px of a millimetre, about
    """

    wood: shapely.Polygon
    silhouette: shapely.Polygon
    along: np.ndarray
    across: np.ndarray
    px_per_mm: float

    @classmethod
    def of(cls, truth: dict) -> "Slab":
        wood, silhouette = (
            shapely.Polygon(truth["outline"][f"{name}_px"]).buffer(0) for name in ("wood", "silhouette")
        )
        corners = np.array(wood.minimum_rotated_rectangle.exterior.coords)
        sides = np.diff(corners, axis=0)[:2]
        along, across = sorted(sides, key=lambda side: -np.linalg.norm(side))
        size = np.linalg.norm(along) / truth["measures"]["length_mm"]
        return cls(wood, silhouette, along / np.linalg.norm(along), across / np.linalg.norm(across), float(size))

    @property
    def middle(self) -> np.ndarray:
        """(2,) px."""
        return np.array(self.wood.centroid.coords[0])

    def on_side(self, share: float) -> np.ndarray:
        """(2,) px on a long edge, `share` of the way along."""
        at = self.middle + (share - 0.5) * self.length * self.along
        line = shapely.LineString([at, at + 4 * self.width * self.across]).intersection(self.wood.exterior)
        points = np.array(
            [point.coords[0] for point in shapely.get_parts(shapely.MultiPoint(shapely.get_coordinates(line)))]
        )
        return points[np.argmax(np.linalg.norm(points - at, axis=1))]

    @property
    def corner(self) -> np.ndarray:
        """(2,) px: where an end meets a long edge."""
        ring = np.array(self.wood.exterior.coords)
        return ring[np.argmax((ring - self.middle) @ self.along + (ring - self.middle) @ self.across)]

    @property
    def end(self) -> np.ndarray:
        """(2,) px: the middle of an end."""
        line = shapely.LineString([self.middle, self.middle + self.length * self.along]).intersection(self.wood.exterior)
        points = shapely.get_coordinates(line)
        return points[np.argmax(np.linalg.norm(points - self.middle, axis=1))]

    @property
    def length(self) -> float:
        """px, along."""
        return float(np.ptp(np.array(self.wood.exterior.coords) @ self.along))

    @property
    def width(self) -> float:
        """px, across."""
        return float(np.ptp(np.array(self.wood.exterior.coords) @ self.across))


def runs_out(rgb: np.ndarray, truth: dict, share: float = 0.06) -> np.ndarray:
    """The camera turned a little, so that `share` of the slab's length leaves the frame."""
    slab, camera = Slab.of(truth), truth["camera"]
    ring = np.array(slab.wood.exterior.coords)
    h, w = rgb.shape[:2]
    matrix = np.array([[camera["f_px"], 0, camera["cx"]], [0, camera["f_px"], camera["cy"]], [0, 0, 1.0]])
    axis = np.array([-slab.along[1], slab.along[0], 0.0])
    for turn in np.radians(np.arange(1.0, 30.0, 0.5)):
        onto = matrix @ cv2.Rodrigues(axis * turn)[0] @ np.linalg.inv(matrix)
        seen = cv2.perspectiveTransform(ring[:, None], onto)[:, 0]
        out = (seen < 0).any(1) | (seen > [w - 1, h - 1]).any(1)
        if (
            shapely.Polygon(ring).length
            and np.ptp((ring[out] @ slab.along) if out.any() else [0.0]) > share * slab.length
        ):
            return cv2.warpPerspective(rgb, onto, (w, h), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    raise ValueError("the slab does not leave the frame")


def person(rgb: np.ndarray, truth: dict, at: np.ndarray, dark: bool = True, seed: int = 0) -> np.ndarray:
    """Somebody in trousers and shoes who stands over the place `at`, px, seen from above."""
    slab, rng = Slab.of(truth), np.random.default_rng(seed)
    turn = float(rng.uniform(0, np.pi))
    size = slab.px_per_mm
    body = affinity.scale(shapely.Point(0, 0).buffer(1.0), BODY_MM[0] / 2 * size, BODY_MM[1] / 2 * size)
    shoes = [
        affinity.translate(affinity.scale(shapely.Point(0, 0).buffer(1.0), SHOE_MM[1] / 2 * size, SHOE_MM[0] / 2 * size), side * 120 * size, 190 * size)
        for side in (-1, 1)
    ]  # fmt: skip
    cloth = np.array([38, 44, 62] if dark else [120, 128, 150], np.float32)
    out = rgb.astype(np.float32)
    folds = cv2.GaussianBlur(rng.standard_normal(rgb.shape[:2], np.float32), (0, 0), 12 * size + 1) * 60 * size
    for shape, colour in ((shoes[0], np.array([60, 48, 40.0])), (shoes[1], np.array([60, 48, 40.0])), (body, cloth)):
        placed = affinity.translate(affinity.rotate(shape, turn, (0, 0), use_radians=True), *at)
        mask = _mask(rgb.shape, placed)
        out = out * (1 - mask) + mask * np.clip(colour + 14 * folds[..., None], 4, 250)
    return np.clip(out, 0, 255).astype(np.uint8)


def touching(rgb: np.ndarray, truth: dict) -> np.ndarray:
    """The same slab once more, side by side with this one, flank to flank."""
    slab = Slab.of(truth)
    inward = slab.middle - np.array([rgb.shape[1], rgb.shape[0]]) / 2
    side = -slab.across if inward @ slab.across > 0 else slab.across
    shift = side * slab.width * 0.93
    moved = affinity.translate(slab.silhouette, *shift).difference(slab.silhouette)
    picture = cv2.warpAffine(rgb, np.array([[1, 0, shift[0]], [0, 1, shift[1]]]), rgb.shape[1::-1])
    mask = _mask(rgb.shape, moved)
    return np.clip(rgb * (1 - mask) + picture * mask, 0, 255).astype(np.uint8)


def glare(rgb: np.ndarray, truth: dict, share: float = 0.45) -> np.ndarray:
    """The sky mirrored in about `share` of a wet face."""
    slab = Slab.of(truth)
    h, w = rgb.shape[:2]
    y, x = np.mgrid[:h, :w].astype(np.float32)
    along = ((x - slab.middle[0]) * slab.along[0] + (y - slab.middle[1]) * slab.along[1]) / (share * slab.length / 2)
    wood = cv2.GaussianBlur(_mask(rgb.shape, slab.wood)[..., 0], (0, 0), 2)
    light = 320 * np.clip(1.4 - np.abs(along), 0, 1) * (0.15 + 0.85 * wood)
    return np.clip(rgb + light[..., None], 0, 255).astype(np.uint8)


def night(rgb: np.ndarray, truth: dict, light: float = 0.05) -> np.ndarray:
    """Hardly any light, and much noise."""
    noise = np.random.default_rng(5).standard_normal(rgb.shape, np.float32)
    return np.clip(rgb * light + 3 * cv2.GaussianBlur(noise, (0, 0), 0.8) + 1, 0, 255).astype(np.uint8)


def card_under(rgb: np.ndarray, truth: dict, hidden: float = 0.45) -> np.ndarray:
    """A floor card pushed under the slab so that about `hidden` of it lies in the dark."""
    slab = Slab.of(truth)
    papers = [shapely.Polygon(card["outline_px"]).convex_hull for card in truth["cards"] if card["on"] == "floor"]
    paper = min(papers, key=lambda one: one.distance(slab.silhouette))
    way = slab.middle - np.array(paper.centroid.coords[0])
    way = slab.across * np.sign(way @ slab.across)
    low, high = 0.0, 3 * slab.width
    for _ in range(30):
        mean = (low + high) / 2
        covered = affinity.translate(paper, *(way * mean)).intersection(slab.silhouette).area / paper.area
        low, high = (mean, high) if covered < hidden else (low, mean)
    shift = way * low
    ground = cv2.inpaint(rgb, (_mask(rgb.shape, paper.buffer(4))[..., 0] > 0).astype(np.uint8), 3, cv2.INPAINT_TELEA)
    picture = cv2.warpAffine(
        rgb, np.array([[1, 0, shift[0]], [0, 1, shift[1]]]), rgb.shape[1::-1], flags=cv2.INTER_LINEAR
    )
    mask = _mask(rgb.shape, affinity.translate(paper, *shift).difference(slab.silhouette))
    return np.clip(ground * (1 - mask) + picture * mask, 0, 255).astype(np.uint8)


def _mask(shape, polygon) -> np.ndarray:
    """(h, w, 1) float32, 0 or 1 with soft edges."""
    mask = np.zeros(shape[:2], np.uint8)
    for part in shapely.get_parts(polygon):
        if part.geom_type == "Polygon" and part.area > 1:
            cv2.fillPoly(mask, [np.round(np.array(part.exterior.coords) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    return cv2.GaussianBlur(mask, (0, 0), 0.7)[..., None].astype(np.float32) / 255
