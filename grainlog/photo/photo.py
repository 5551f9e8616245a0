"""A decoded photo: the value that everything else starts from."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from grainlog.notes import Note


@dataclass(frozen=True, eq=False)
class Photo:
    """A photo as a person sees it: upright, in colour, with what its file says about itself.

    pixels : (height, width, 3) uint8
        sRGB, upright (orientation applied), read-only. Centre of the first pixel is (0, 0).
    width, height : int
        Of the upright photo, px.
    sha256 : str
        Of the file's bytes, 64 hexadecimal digits.
    name : str
        File name without its folder.
    taken : datetime or None
        When the photo was taken; with a time zone only where the file states its offset.
    make, model : str or None
        Of the camera.
    focal_35mm_mm : float or None
        35 mm-equivalent focal length.
    notes : tuple of Note
    """

    pixels: np.ndarray
    width: int
    height: int
    sha256: str
    name: str
    taken: datetime | None
    make: str | None
    model: str | None
    focal_35mm_mm: float | None
    notes: tuple[Note, ...]
