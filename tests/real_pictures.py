"""Real photographs with the outline that was found: `python -m tests.real_pictures TARGET` draws them into a folder.

For a person to judge by eye. The photographs are no part of the project (see the README of their folder for sources and
licences); they are looked for beside it, or in `--photos FOLDER`. None has a scale card: two points by hand give the scale,
which the outline hardly depends on. Green: wood edge; orange: the whole slab with its flank; checks in red.
"""

import argparse
import sys
from pathlib import Path

import cv2
import numpy as np

from grainlog.errors import GrainlogError
from grainlog.face.dabs import Dabs
from grainlog.face.find import NO_DABS
from grainlog.scale.at_hand import two_points
from grainlog.survey import Request, measure_photo
from tests.check_accuracy import found_in

PHOTOS = Path(__file__).parents[2] / "shared" / "real" / "slabs"
#: Photo: two points of it, px, and about how far they are apart, mm (guessed, but for the first).
SCALES = {
    "raw_slab_on_concrete": ([[850.0, 400], [350, 1840]], 1830.0),
    "plank_on_grass": (None, 1500.0),
    "plank_on_rug": (None, 1500.0),
}
#: Where the outline comes out wrong without a person: one dab on the plank, one stroke along the road behind it, px.
DABS = {"plank_on_grass": Dabs((np.array([[600.0, 900]]),), (np.array([[60.0, 290], [1150, 290]]),))}


def marked(photo: Path, dabs: Dabs = NO_DABS) -> tuple[np.ndarray, str]:
    """The photo with what was found, (h, w, 3) uint8, and a line about it."""
    points, apart = SCALES[photo.stem]
    if points is None:  # the long diagonal of the middle half of the picture
        h, w = cv2.imread(str(photo)).shape[:2]
        points = [[w * 0.1, h * 0.5], [w * 0.9, h * 0.5]] if w > h else [[w * 0.5, h * 0.1], [w * 0.5, h * 0.9]]
    survey = measure_photo(photo, Request("slab", reference=two_points(np.array(points), apart), dabs=dabs))
    picture = survey.photo.pixels.copy()
    thick = max(2, picture.shape[1] // 500)
    green = (0, 230, 60)
    for ring, colour in ((survey.face.silhouette, (255, 150, 0)), (survey.face.wood, green), *((h, green) for h in survey.face.holes)):
        cv2.polylines(picture, [np.round(survey.plane.to_px(ring)).astype(np.int32)], True, colour, thick)
    checks = found_in(survey).checks
    for check in checks:
        px = survey.plane.to_px(survey.frame.to_plane(check.path))
        cv2.polylines(picture, [np.round(px).astype(np.int32)], False, (255, 30, 30), thick)
    said = ", ".join(note.code for note in survey.notices)
    return picture, f"{photo.stem}: confidence {survey.face.confidence:.2f}, {len(checks)} checks; said: {said}"


def main(arguments=None) -> int:
    """Command line; 2 where the photographs are not there."""
    parser = argparse.ArgumentParser(prog="python -m tests.real_pictures", description=__doc__)
    parser.add_argument("target", type=Path)
    parser.add_argument("--photos", type=Path, default=PHOTOS)
    asked = parser.parse_args(arguments)
    if not asked.photos.is_dir():
        print(f"No real photographs in {asked.photos}; they are not part of the project. Name their folder with --photos.", file=sys.stderr)
        return 2
    asked.target.mkdir(parents=True, exist_ok=True)
    for name in SCALES:
        for dabs, kind in ((NO_DABS, ""), *([(DABS[name], "-dabbed")] if name in DABS else [])):
            try:
                picture, line = marked(asked.photos / f"{name}.jpg", dabs)
            except GrainlogError as problem:
                print(f"{name}{kind}: {problem}")
                continue
            cv2.imwrite(str(asked.target / f"{name}{kind}.jpg"), picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 88])
            print(line, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
