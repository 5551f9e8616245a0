"""Pictures of photos for the page: upright, smaller, encoded anew so that nothing of their metadata goes along."""

from functools import lru_cache
from pathlib import Path

#: Longest side of what is shown, px, by name.
SIZES = {"small": 480, "large": 2200}


@lru_cache(maxsize=24)
def shown(photo: Path, size: str) -> bytes:
    """A photo as a JPEG no longer than `SIZES[size]`. Raises PhotoError."""
    # Loads numpy and Pillow's readers, which the wall does without.
    import numpy as np
    from PIL import Image

    from grainlog.photo import read_photo
    from grainlog.survey.picture import encode

    image = Image.fromarray(read_photo(photo).pixels)
    image.thumbnail(
        (SIZES[size], SIZES[size]), Image.Resampling.LANCZOS if size == "small" else Image.Resampling.BILINEAR
    )
    return encode(np.asarray(image))
