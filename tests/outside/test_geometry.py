"""Area, centroid and smallest rectangle against reference libraries on the same shapes.

Shapely (GEOS) for exact polygon geometry; scikit-image `regionprops` for the same shape as pixels; a brute-force
search over angles for the smallest rectangle. The area of a polygon by its vertices is the shoelace rule (Meister 1769).
"""

import math

import numpy as np
import pytest
import shapely
from skimage.draw import polygon
from skimage.measure import regionprops

from grainlog.face.frame import align_to, slab_frame, smallest_rectangle
from grainlog.face.measures import measure_outline


def live_edge(seed: int, points: int = 300) -> np.ndarray:
    """A slab with two wandering edges, a taper and skewed ends; plane frame, turned and moved, mm."""
    generator = np.random.default_rng(seed)
    x = np.linspace(0, generator.uniform(1500, 3200), points)
    edges = []
    for base in (-generator.uniform(150, 400), generator.uniform(150, 400)):
        waves = sum(generator.normal(0, 12) * np.sin(x / generator.uniform(150, 900) + generator.uniform(0, 6))
                    for _ in range(4))
        edges.append(np.column_stack([x + base * generator.uniform(-0.2, 0.2), base * (1 - x / x[-1] * 0.2) + waves]))
    ring = np.vstack([edges[0], edges[1][::-1]])
    angle = generator.uniform(-math.pi, math.pi)
    cosine, sine = math.cos(angle), math.sin(angle)
    return ring @ np.array([[cosine, sine], [-sine, cosine]]) + generator.uniform(-2000, 2000, 2)


SEEDS = range(12)


@pytest.mark.parametrize("seed", SEEDS)
def test_area_with_a_void_is_shapelys(seed):
    wood = live_edge(seed)
    middle = shapely.Polygon(wood).representative_point()
    void = np.asarray(middle.buffer(20).exterior.coords)
    found = measure_outline(wood, [void]).area_mm2
    assert found == pytest.approx(shapely.Polygon(wood, [void]).area, rel=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_smallest_rectangle_is_shapelys(seed):
    wood = live_edge(seed)
    found = smallest_rectangle(wood)
    reference = shapely.oriented_envelope(shapely.Polygon(wood))
    sides = np.hypot(*np.diff(np.asarray(reference.exterior.coords), axis=0).T)
    assert found.length == pytest.approx(sides.max(), rel=1e-9)
    assert found.width == pytest.approx(sides.min(), rel=1e-9)
    assert found.centre == pytest.approx(np.asarray(reference.centroid.coords)[0], abs=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_other_angle_gives_a_smaller_rectangle(seed):
    wood = live_edge(seed)
    found = smallest_rectangle(wood)
    angles = np.linspace(0, math.pi / 2, 20_001)
    along = np.outer(np.cos(angles), wood[:, 0]) + np.outer(np.sin(angles), wood[:, 1])
    across = np.outer(-np.sin(angles), wood[:, 0]) + np.outer(np.cos(angles), wood[:, 1])
    least = (np.ptp(along, axis=1) * np.ptp(across, axis=1)).min()
    assert found.length * found.width <= least * (1 + 1e-12)
    assert found.length * found.width == pytest.approx(least, rel=1e-3)


@pytest.mark.parametrize("seed", SEEDS)
def test_widths_are_shapelys(seed):
    wood = live_edge(seed)
    there = slab_frame(wood).to_slab(wood)
    stations = measure_outline(there).stations
    face = shapely.Polygon(there)
    lines = shapely.linestrings([[(x, -5000), (x, 5000)] for x in stations[:, 0]])
    cut = shapely.intersection(face, lines)
    assert len(stations) > 40
    assert stations[:, 3] == pytest.approx(shapely.length(cut), abs=1e-6)
    assert stations[:, 1:3] == pytest.approx(shapely.bounds(cut)[:, [1, 3]], abs=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_the_same_slab_as_pixels(seed):
    """1 px = 4 mm: area, centroid and length over all agree with regionprops to the grain of its pixels."""
    wood = live_edge(seed) / 4
    wood = wood - wood.min(axis=0) + 5
    mask = np.zeros(np.ceil(wood.max(axis=0)).astype(int)[::-1] + 6, np.uint8)
    mask[polygon(wood[:, 1], wood[:, 0])] = 1
    region = regionprops(mask)[0]
    frame = slab_frame(wood)
    found = measure_outline(frame.to_slab(wood))
    assert found.area_mm2 == pytest.approx(region.area, rel=5e-3)
    centroid = shapely.Polygon(frame.to_slab(wood)).centroid
    assert frame.to_slab([region.centroid[::-1]])[0] == pytest.approx([centroid.x, centroid.y], abs=0.5)
    pixels = smallest_rectangle(region.coords[:, ::-1].astype(float))
    assert found.length_mm == pytest.approx(pixels.length, abs=2.5)


def test_overlap_is_shapelys():
    wood = live_edge(1)
    first = slab_frame(wood).to_slab(wood)
    narrower = first * [1.0, 0.9]
    found = align_to(first, narrower, same_face=True)
    one, other = shapely.Polygon(first), shapely.Polygon(narrower)
    assert found.iou == pytest.approx(one.intersection(other).area / one.union(other).area, rel=1e-9)
