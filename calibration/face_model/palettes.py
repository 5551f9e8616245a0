"""Colours of wood by look, not by species: heart and sap, sRGB 0..1. Invented by eye; no source.

Three palettes are drawn only in the held-out set, so that its figures speak of colours nobody trained on.
"""

import numpy as np

#: name: (heart, sap)
PALETTES = {
    "near white": ((0.86, 0.79, 0.68), (0.93, 0.89, 0.80)),
    "cream": ((0.80, 0.68, 0.50), (0.88, 0.80, 0.64)),
    "straw": ((0.76, 0.62, 0.38), (0.85, 0.76, 0.56)),
    "honey": ((0.70, 0.50, 0.28), (0.83, 0.70, 0.48)),
    "tan": ((0.62, 0.48, 0.34), (0.76, 0.66, 0.50)),
    "orange": ((0.72, 0.40, 0.18), (0.84, 0.70, 0.50)),
    "brick": ((0.58, 0.30, 0.20), (0.80, 0.64, 0.48)),
    "wine": ((0.40, 0.18, 0.15), (0.76, 0.62, 0.46)),
    "chestnut": ((0.45, 0.30, 0.19), (0.70, 0.58, 0.42)),
    "chocolate": ((0.30, 0.21, 0.15), (0.66, 0.56, 0.44)),
    "olive": ((0.50, 0.45, 0.26), (0.78, 0.74, 0.52)),
    "silver grey": ((0.55, 0.53, 0.50), (0.64, 0.62, 0.59)),
    "dark grey": ((0.34, 0.33, 0.32), (0.46, 0.45, 0.43)),
    "ash brown": ((0.60, 0.53, 0.44), (0.74, 0.68, 0.60)),
    # held out
    "rose": ((0.72, 0.46, 0.38), (0.86, 0.74, 0.62)),
    "near black": ((0.16, 0.12, 0.10), (0.52, 0.44, 0.34)),
    "greenish yellow": ((0.72, 0.66, 0.36), (0.84, 0.80, 0.58)),
}
HELD_OUT = ("rose", "near black", "greenish yellow")


def pick(rng, held_out: bool) -> tuple[str, np.ndarray, np.ndarray]:
    """A palette's name, its heart and its sap, (3,) float32 each, somewhat off; the sap is often hardly paler."""
    names = HELD_OUT if held_out else [name for name in PALETTES if name not in HELD_OUT]
    name = str(rng.choice(names))
    heart, sap = (np.array(colour, np.float32) for colour in PALETTES[name])
    if not held_out and rng.random() < 0.5:  # between two looks
        other = np.array(PALETTES[str(rng.choice(names))][0], np.float32)
        heart = heart + (other - heart) * np.float32(rng.uniform(0, 0.6))
    sap = heart + (sap - heart) * np.float32(rng.choice([rng.uniform(0, 0.3), rng.uniform(0.3, 1.3)], p=[0.35, 0.65]))
    off = rng.normal(1, 0.06, 3) * rng.uniform(0.8, 1.15)
    return (name, (heart * off).astype(np.float32).clip(0.03, 0.97), (sap * off).astype(np.float32).clip(0.03, 0.98))


def paler_sap(rng, colours: tuple[str, np.ndarray, np.ndarray]) -> tuple[str, np.ndarray, np.ndarray]:
    """The same wood with sap on the way to white."""
    name, heart, sap = colours
    white = np.array([0.96, 0.93, 0.86], np.float32)
    return (name, heart, (sap + (white - sap) * np.float32(rng.uniform(0.2, 0.9))).astype(np.float32))
