"""From a file that may be anything to a `Photo`, or to one sentence that says why not.

Only what the content says counts, never the file's name. Sizes are checked from the headers, before a pixel is
decoded.
"""

import hashlib
import io
import os
import stat
import warnings
from pathlib import Path

import numpy as np
import pillow_heif
from PIL import Image, UnidentifiedImageError

from grainlog.photo.colour import UnusableColour, to_srgb
from grainlog.photo.errors import PhotoError
from grainlog.photo.metadata import read_metadata
from grainlog.photo.photo import Note, Photo

# Pillow's JPEG covers MPO, which is a JPEG with further pictures (depth, brightness map) behind the first, as phones
# write it.
FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "HEIF")
MOST_PIXELS = 200_000_000
MOST_BYTES = 100_000_000
SHORTEST_LONG_SIDE_PX = 640
SHORTEST_SHORT_SIDE_PX = 160

pillow_heif.register_heif_opener(thumbnails=False)
# Pillow refuses from 179 megapixels by itself; its limit is one for the whole process.
Image.MAX_IMAGE_PIXELS = MOST_PIXELS

_TRANSPOSE = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
_KINDS = "JPEG, PNG, TIFF, WebP or HEIC"
# By what Pillow calls the format; MPO is the JPEG with further pictures.
_SUFFIXES = {"JPEG": ".jpg", "MPO": ".jpg", "PNG": ".png", "TIFF": ".tif", "WEBP": ".webp", "HEIF": ".heic"}
_FRAMES = Note("several-pictures", "The file holds several pictures; the first is used.")


def read_photo(path: str | os.PathLike) -> Photo:
    """Read one photo.

    path : file in JPEG, PNG, TIFF, WebP or HEIC/HEIF format, at most 200 megapixels and 100 MB

    Orientation is applied once, colours become 8-bit sRGB, transparency is laid on white; `notes` says so. Raises
    PhotoError, whose sentence says what is wrong with the file and what to do.
    """
    path = Path(path)
    name = "".join(sign if sign.isprintable() else "?" for sign in path.name) or str(path)
    data = _bytes(path, name)
    with warnings.catch_warnings():
        # Pillow warns about metadata it cannot read; what matters of that is said in the notes.
        warnings.simplefilter("ignore")
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        with _opened(data, name) as image:
            deep, several = _is_deep(image), _has_several(image)
            _loaded(image, name)
            metadata = read_metadata(image)
            upright, colour_notes = _upright(image, metadata.orientation, deep, name)
    pixels = np.asarray(upright)
    pixels.flags.writeable = False
    return Photo(
        pixels=pixels,
        width=pixels.shape[1],
        height=pixels.shape[0],
        sha256=hashlib.sha256(data).hexdigest(),
        name=name,
        taken=metadata.taken,
        make=metadata.make,
        model=metadata.model,
        focal_35mm_mm=metadata.focal_35mm_mm,
        notes=(*((_FRAMES,) if several else ()), *colour_notes, *metadata.notes),
    )


def photo_suffix(path: str | os.PathLike, name: str | None = None) -> str:
    """The suffix that goes with what a file holds, such as ".jpg", told from its headers; no pixel is decoded.

    name : what to call the file in a sentence, if not by its own name

    Raises PhotoError for what is no photo within the limits.
    """
    path = Path(path)
    name = name or path.name
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        with _opened(_bytes(path, name), name) as image:
            return _SUFFIXES[image.format]


def _bytes(path: Path, name: str) -> bytes:
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise PhotoError(f"'{name}' is a folder; name the photo files in it.")
        if not stat.S_ISREG(status.st_mode):
            raise PhotoError(f"'{name}' is not an ordinary file; name a photo.")
        if status.st_size > MOST_BYTES:
            raise PhotoError(f"'{name}' has {status.st_size / 1e6:.0f} MB, more than the {MOST_BYTES // 10**6} MB a "
                             "photo may have; save it smaller or as a JPEG.")
        data = path.read_bytes()
    except FileNotFoundError:
        raise PhotoError(f"There is no file '{name}' at that place; look at its name and folder.") from None
    except PermissionError:
        raise PhotoError(f"'{name}' may not be read; change its permissions or copy it.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "its name is not a file name"
        raise PhotoError(f"'{name}' cannot be read ({reason}); copy it to another place and try again.") from None
    if not data:
        raise PhotoError(f"'{name}' is empty; copy it from the camera again.")
    return data


def _opened(data: bytes, name: str) -> Image.Image:
    """The image with only its headers read, and its size within the limits."""
    too_many = (f"'{name}' has more than {MOST_PIXELS // 10**6} megapixels; save it smaller, "
                "12 megapixels are enough for a slab.")
    try:
        image = Image.open(io.BytesIO(data), formats=FORMATS)
    except UnidentifiedImageError:
        raise PhotoError(f"'{name}' is not a photo that can be read here, or is damaged; use {_KINDS}.") from None
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        raise PhotoError(too_many) from None
    except Exception as error:  # a parser of damaged bytes may raise anything
        raise _damaged(name) from error
    width, height = image.size
    if width * height > MOST_PIXELS:
        raise PhotoError(too_many)
    if max(width, height) < SHORTEST_LONG_SIDE_PX or min(width, height) < SHORTEST_SHORT_SIDE_PX:
        raise PhotoError(f"'{name}' has only {width} x {height} pixels, too few to measure a slab; use the photo as "
                         "the camera saved it.")
    return image


def _loaded(image: Image.Image, name: str) -> None:
    try:
        image.load()
    except Exception as error:  # a decoder of damaged bytes may raise anything
        raise _damaged(name) from error


def _upright(image: Image.Image, orientation: int, deep: bool, name: str) -> tuple[Image.Image, tuple[Note, ...]]:
    try:
        rgb, notes = to_srgb(image, deep)
    except UnusableColour:
        raise PhotoError(f"'{name}' has pixel values of a kind that cameras do not write; save it as an ordinary JPEG "
                         "or PNG.") from None
    return (rgb.transpose(_TRANSPOSE[orientation]) if orientation in _TRANSPOSE else rgb), notes


def _damaged(name: str) -> PhotoError:
    return PhotoError(f"'{name}' is damaged or cut short; copy it from the camera again.")


def _is_deep(image: Image.Image) -> bool:
    """Whether the file stores more than 8 bits a colour."""
    raw = " ".join(str(tile[3]) for tile in getattr(image, "tile", ()))
    return image.mode.startswith("I;16") or ";16" in raw or (image.info.get("bit_depth") or 8) > 8


def _has_several(image: Image.Image) -> bool:
    """Whether there are more pictures in the file that a person might have meant."""
    try:
        return image.format != "MPO" and getattr(image, "n_frames", 1) > 1
    except Exception:  # counting frames reads the whole file, which may be damaged behind the first picture
        return False
