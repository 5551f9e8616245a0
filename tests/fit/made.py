"""Made-up slab outlines: uneven live edges, a sweep, a flare at the butt, ends off square."""

import numpy as np


def slab_outline(seed: int, corners: int = 150) -> np.ndarray:
    """(2 * corners, 2) mm: an outline of about 1.8 to 3.2 m by 0.4 to 1.1 m."""
    rng = np.random.default_rng(seed)
    length, width = rng.uniform(1800, 3200), rng.uniform(450, 1000)
    x = np.linspace(0, length, corners)
    t = x / length
    sweep = rng.uniform(-0.12, 0.12) * width * np.sin(np.pi * t + rng.uniform(-0.5, 0.5))
    flare = rng.uniform(0, 0.35) * np.exp(-t / 0.12)
    taper = 1 - rng.uniform(0, 0.25) * t
    edges = []
    for side in (1, -1):
        waves = sum(rng.uniform(0, 0.03) * np.sin(2 * np.pi * k * t + rng.uniform(0, 6.3)) for k in range(1, 9))
        half = width / 2 * (taper + flare + waves + rng.normal(0, 0.002, corners))
        edges.append(sweep + side * half)
    skew = rng.uniform(-0.08, 0.08, 2)
    upper = np.stack([x + np.interp(t, [0, 1], skew) * edges[0], edges[0]], axis=1)
    lower = np.stack([x + np.interp(t, [0, 1], skew) * edges[1], edges[1]], axis=1)
    return np.concatenate([lower, upper[::-1]])
