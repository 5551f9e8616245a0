"""Draw photos of a scale card through a known lens, and make the example profile from them.

    python -m calibration.cameras.draw_example PHOTOS [--profile FILE]

writes twelve photos of 12 megapixels into the folder PHOTOS, learns the camera from them as `grainlog camera` does, and says how far
it is from the lens that they were drawn with. No camera took them and no camera is like it: the profile shows what one looks
like and proves that a shipped one is found. The lens is a middling one of those that `sample_images/render` draws at random; the
sample photos themselves each have a lens of their own, so that no profile can stand for them.
"""

import argparse
import json
import sys
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from grainlog.photo import read_photo
from grainlog.scale import card as scale_card
from grainlog.scale.camera import Camera
from grainlog.scale.priors import FULL_FRAME_DIAGONAL_MM
from grainlog.scale.profile import CameraProfile, calibrate

MAKE, MODEL, FOCAL_35MM = "rendered", "example lens", 26
SIZE_PX = (4032, 3024)
LENS = Camera(
    FOCAL_35MM * float(np.hypot(*SIZE_PX)) / FULL_FRAME_DIAGONAL_MM,
    ((SIZE_PX[0] - 1) / 2 + 18.0, (SIZE_PX[1] - 1) / 2 - 11.0),
    0.02,
    -0.005,
)
PHOTOS, CARD, SEED, DAY = 12, 3, 26, date(2026, 11, 26)
#: Samples of a pixel in each direction, blur of lens and sensor (px), noise (levels): common practice, no source.
FINE, BLUR_PX, NOISE = 3, 0.7, 2.0
MAKE_TAG, MODEL_TAG, EXIF_TAG, FOCAL_TAG = 0x010F, 0x0110, 0x8769, 0xA405


@dataclass(frozen=True)
class Pose:
    """Card to camera: rotation (3, 3), move (3,) mm."""

    rotation: np.ndarray
    move: np.ndarray

    def project(self, points: np.ndarray) -> np.ndarray:
        """(n, 2) card-frame mm to (n, 2) px."""
        return LENS.project(points @ self.rotation[:, :2].T + self.move)

    def on_card(self, px: np.ndarray) -> np.ndarray:
        """(n, 2) px to (n, 2) card-frame mm, by the ray through each pixel."""
        rays = LENS.rays(px) @ self.rotation
        eye = -self.move @ self.rotation
        return eye[:2] + rays[:, :2] * (-eye[2] / rays[:, 2])[:, None]


def poses(rng: np.random.Generator) -> list[Pose]:
    """One straight from above in four, the others leaning 25 to 45 degrees to all sides, the card going round the picture."""
    found = []
    while len(found) < PHOTOS:
        number = len(found)
        lean, around = np.radians(rng.uniform(25, 45)) * (number % 4 != 0), number * 2.4 + rng.uniform(-0.3, 0.3)
        turn = cv2.Rodrigues(np.array([np.cos(around), np.sin(around), 0]) * lean)[0]
        turn = turn @ cv2.Rodrigues(np.array([0, 0, rng.uniform(-np.pi, np.pi)]))[0] @ np.diag([1.0, -1, -1])
        distance = rng.uniform(330, 460)
        pose = Pose(turn, np.array([*rng.uniform([-0.32, -0.2], [0.32, 0.2]) * distance, distance]))
        rim = pose.project(scale_card.outline())
        if (rim > 20).all() and (rim < np.array(SIZE_PX) - 21).all():
            found.append(pose)
    return found


def draw(pose: Pose, rng: np.random.Generator) -> np.ndarray:
    """(h, w, 3) uint8: the card on grey, as the lens shows it."""
    width, height = SIZE_PX
    grey = np.full((height, width), 150.0, np.float32)
    pattern = scale_card.raster(CARD, 10)
    low, high = scale_card.print_to_card(np.array([[0.0, 0.0], [scale_card.WIDTH_MM, scale_card.HEIGHT_MM]]))
    rim = pose.project(scale_card.outline())
    left, top = np.floor(rim.min(0)).astype(int) - 2
    right, bottom = np.ceil(rim.max(0)).astype(int) + 3
    part = (np.arange(FINE) + 0.5) / FINE - 0.5
    for row in range(top, bottom, 64):
        rows = np.arange(row, min(row + 64, bottom))
        y, x = (rows[:, None] + part).ravel(), (np.arange(left, right)[:, None] + part).ravel()
        px = np.stack(np.meshgrid(x, y), -1)
        at = (pose.on_card(px.reshape(-1, 2)) - low) / (high - low) * np.array(pattern.shape[1::-1]) - 0.5
        at = at.reshape(*px.shape).astype(np.float32)
        fine = cv2.remap(
            pattern, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=150
        )
        grey[rows[0] : rows[-1] + 1, left:right] = cv2.resize(
            fine, (right - left, len(rows)), interpolation=cv2.INTER_AREA
        )
    seen = cv2.GaussianBlur(grey, (0, 0), BLUR_PX) * 0.85 + 15
    noise = rng.normal(0, NOISE, seen.shape).astype(np.float32)
    return np.repeat(np.clip(seen + noise + 0.5, 0, 255).astype(np.uint8)[..., None], 3, -1)


def write_photos(folder: Path) -> list[Path]:
    """The twelve photos as files that name their made-up camera."""
    folder.mkdir(parents=True, exist_ok=True)
    rng, files = np.random.default_rng(SEED), []
    for number, pose in enumerate(poses(rng), 1):
        exif = Image.Exif()
        exif[MAKE_TAG], exif[MODEL_TAG] = MAKE, MODEL
        exif.get_ifd(EXIF_TAG)[FOCAL_TAG] = FOCAL_35MM
        file = folder / f"card-{number:02}.jpg"
        Image.fromarray(draw(pose, rng)).save(file, quality=90, exif=exif)
        files.append(file)
    return files


def profile_data(made: CameraProfile) -> dict:
    """The profile with what a reader must know of it."""
    about = (
        f"Made, not a real camera: from {made.photos} drawn photos of one flat, true scale card "
        "(python -m calibration.cameras.draw_example); 'drawn_with' is the lens that they were drawn with."
    )
    drawn = {"focal_px": LENS.focal_px, "centre_px": list(LENS.centre_px), "k1": LENS.k1, "k2": LENS.k2}
    return {"about": about, **made.as_dict(), "drawn_with": drawn}


def main(arguments=None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(prog="python -m calibration.cameras.draw_example", description=__doc__)
    parser.add_argument("photos", type=Path)
    parser.add_argument("--profile", type=Path)
    asked = parser.parse_args(arguments)
    made = calibrate((read_photo(file) for file in write_photos(asked.photos)), day=DAY)
    for name in ("focal_px", "k1", "k2"):
        value, u, true = (
            getattr(made, name),
            getattr(made, name.removesuffix("_px") + ("_u_px" if "px" in name else "_u")),
            getattr(LENS, name),
        )
        print(f"{name}: {value:.5g} +- {2 * u:.2g}, drawn with {true:.5g}: {(value - true) / u:+.1f} u off")
    for axis, value, u, true in zip("xy", made.centre_px, made.centre_u_px, LENS.centre_px):
        print(f"centre {axis}: {value:.2f} +- {2 * u:.2g}, drawn with {true:.2f}: {(value - true) / u:+.1f} u off")
    print(f"{made.photos} photos, corners fit to {made.rms_px:.3f} px per axis")
    if asked.profile:
        asked.profile.write_text(json.dumps(profile_data(made), indent=2) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
