"""Photos for the tests of the page: sample photos made smaller, so that measuring them is quick."""

from pathlib import Path

from PIL import Image

from tests.web.yards import SAMPLES

#: Longer side, px: enough to find the cards of these samples and a tenth of the work.
SIDE = 1500


def small_photo(name: str, folder: Path, side: int = SIDE, turn: int = 0, **save) -> Path:
    """A sample photo made smaller, with its metadata; another file, with the same pixels, for each `turn`."""
    return shrunk(SAMPLES / f"{name}.jpg", folder, side, turn, **save)


def shrunk(photo: Path, folder: Path, side: int = SIDE, turn: int = 0, **save) -> Path:
    """Any photo made smaller, with its metadata."""
    with Image.open(photo) as image:
        exif = image.getexif()
        image.thumbnail((side, side))
        path = folder / f"{photo.stem}-{side}-{turn}.jpg"
        image.save(path, quality=90, comment=f"turn {turn}", exif=save.pop("exif", exif), **save)
    return path
