"""What a camera's profile is worth: `python -m tests.lens_worth` measures the scale of the samples without and with one.

Each sample photo was rendered with a lens of its own, so for each a profile is made of exactly that lens, from twelve simulated
views of one card (projected corners with 0.06 px of noise, a print off by 0.3 % and paper curled as in an imperfect world, one standard
deviation each). The published accuracy figures are those of an unknown camera; this table stands beside them.
"""

import sys
from datetime import date

import cv2
import numpy as np

from grainlog.photo import read_photo
from grainlog.scale import card as scale_card
from grainlog.scale.calibration import PatternView, Sheet, fit_camera
from grainlog.scale.priors import HARD, Lens, Print
from grainlog.scale.profile import CameraProfile
from tests.accuracy import Sample, samples, scale_alone
from tests.scale.simulate import _curl
from tests.scale.test_profile import poses

VIEWS, NOISE_PX, STRETCH = 12, 0.06, 0.003


def profile_of(sample: Sample, seed: int) -> CameraProfile:
    """A profile of the lens that a sample was rendered with."""
    lens, (width, height) = sample.truth["camera"], sample.truth["size_px"]
    matrix = np.array([[lens["f_px"], 0, lens["cx"]], [0, lens["f_px"], lens["cy"]], [0, 0, 1.0]])
    rng = np.random.default_rng(seed)
    stretched = scale_card.inner_corners() * (1 + rng.normal(0, STRETCH, 2))
    paper = _curl(np.column_stack([stretched, np.zeros(12)]), rng.normal(0, HARD.curl, 2))
    views = []
    for turn, move in poses(rng, VIEWS):
        px = cv2.projectPoints(paper, cv2.Rodrigues(turn)[0], move, matrix, np.array([lens["k1"], lens["k2"], 0, 0]))[0]
        views.append(PatternView(scale_card.inner_corners(), px.reshape(-1, 2) + rng.normal(0, NOISE_PX, (12, 2))))
    got = fit_camera(views, (width, height), Sheet(np.sqrt(2) * Print().u_mm / 100, HARD.curl))
    return CameraProfile(
        None, None, None, width, height, got.focal_px, got.focal_u_px, got.centre_px, got.centre_u_px,
        got.k1, got.k1_u, got.k2, got.k2_u, got.rms_px, VIEWS, date.today().isoformat(),
    )  # fmt: skip


def main() -> int:
    """Command line."""
    print("| photo | world | cards | length | with its lens known | area | with its lens known |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for seed, sample in enumerate(samples()):
        photo = read_photo(sample.photo)
        lens = Lens.from_profile(profile_of(sample, seed), (photo.width, photo.height))
        plain, known = scale_alone(sample, photo), scale_alone(sample, photo, lens)
        world = "perfect" if sample.truth["perfect"] else "imperfect"
        lies = f"{plain.cards} {sample.truth['given']['cards_on']}"
        figures = " | ".join(f"{100 * value:+.3f} %" for value in (plain.length, known.length, plain.area, known.area))
        print(f"| {sample.photo.stem} | {world} | {lies} | {figures} |", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
