"""Voids: places inside the wood where the ground is seen through."""

import cv2
import numpy as np

from . import opinion
from .opinion import Looks


def find_holes(looks: Looks, odds: np.ndarray, wood: np.ndarray) -> tuple[np.ndarray, ...]:
    """Outlines of voids, mm."""
    return ()
