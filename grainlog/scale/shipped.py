"""Camera profiles that come with grainlog, for photos whose camera nobody has taught the yard."""

import json
from collections.abc import Iterable
from functools import cache
from importlib import resources

from grainlog.photo import Photo
from grainlog.scale.profile import CameraProfile, Matched, matching


@cache
def shipped_cameras() -> tuple[CameraProfile, ...]:
    """The profiles in `cameras/`, in the order of their file names; how they are made: `calibration/cameras`.

    Raises ScaleError where one is damaged.
    """
    folder = resources.files("grainlog.scale") / "cameras"
    files = sorted((file for file in folder.iterdir() if file.name.endswith(".json")), key=lambda file: file.name)
    return tuple(CameraProfile.from_dict(json.loads(file.read_text("utf-8"))) for file in files)


def camera_of(photo: Photo, own: Iterable[CameraProfile]) -> Matched | None:
    """The profile of the camera that took a photo: one of the person's own, else one that comes with grainlog, else None."""
    for profiles, is_own in ((own, True), (shipped_cameras(), False)):
        if (found := matching(profiles, photo)) is not None:
            return Matched(found, is_own)
    return None
