"""Whatever a file's pixels are, as 8-bit sRGB."""

import io

import numpy as np
from PIL import Image, ImageCms

from grainlog.photo.photo import Note

_GREY_MODES = ("1", "L", "LA", "La", "I;16", "I;16L", "I;16B", "I;16N")
_SRGB = ImageCms.createProfile("sRGB")

_SIXTEEN = Note("sixteen-bit", "The photo has more than 8 bits a colour; the finer steps are not used.")
_GREY = Note("grey", "The photo has no colour: wood is told from ground by brightness alone; look at the edge.")
_CMYK = Note("cmyk", "The photo is in printing colours (CMYK); its colours are only roughly right.")
_ALPHA = Note("alpha", "The photo has see-through parts; they are laid on white.")
_PROFILE = Note("profile-ignored", "The photo's colour profile is damaged or not for photos, and is not used.")


class UnusableColour(ValueError):
    """The pixel values are of a kind that no camera photo has."""


def to_srgb(image: Image.Image, deep: bool) -> tuple[Image.Image, tuple[Note, ...]]:
    """Turn a loaded image into mode RGB, sRGB, and say what was done to it.

    deep : whether the file stores more than 8 bits a colour (Pillow has reduced RGB already, grey it leaves to us)

    An image that is RGB and sRGB already is returned as it is, not copied. Raises UnusableColour.
    """
    notes = [_SIXTEEN] if deep else []
    icc = image.info.get("icc_profile")
    if image.mode in _GREY_MODES:
        notes.append(_GREY)
    if image.mode == "CMYK":
        notes.append(_CMYK)
    if image.mode.startswith("I;16"):
        image = Image.fromarray((np.asarray(image) >> 8).astype(np.uint8))
    if image.mode in ("I", "F"):
        raise UnusableColour(image.mode)
    if "transparency" in image.info or image.mode in ("RGBA", "LA", "PA", "RGBa", "La"):
        image, see_through = _flattened(image)
        notes += [_ALPHA] if see_through else []
    if image.mode != "RGB":
        try:
            image = image.convert("RGB")
        except ValueError as error:
            raise UnusableColour(image.mode) from error
    elif icc:
        image, usable = _from_profile(image, icc)
        notes += [] if usable else [_PROFILE]
    return image, tuple(notes)


def _flattened(image: Image.Image) -> tuple[Image.Image, bool]:
    """The image on white, and whether anything could be seen through."""
    whole = image if image.mode == "RGBA" else image.convert("RGBA")
    alpha = whole.getchannel("A")
    if alpha.getextrema() == (255, 255):
        return whole.convert("RGB"), False
    ground = Image.new("RGB", whole.size, (255, 255, 255))
    ground.paste(whole, mask=alpha)
    return ground, True


def _from_profile(image: Image.Image, icc: bytes) -> tuple[Image.Image, bool]:
    """The image converted from its RGB profile (ICC.1, relative colorimetric), and whether that was usable."""
    try:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(icc))
        if profile.profile.xcolor_space.strip() != "RGB":
            return image, False
        if "srgb" in (profile.profile.profile_description or "").lower():
            return image, True
        transform = ImageCms.buildTransform(
            profile, _SRGB, "RGB", "RGB", ImageCms.Intent.RELATIVE_COLORIMETRIC
        )
        ImageCms.applyTransform(image, transform, inPlace=True)
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError, AttributeError):
        return image, False
    return image, True
