"""How far tags are found and read: `python -m tests.tag_accuracy` prints the tables of ACCURACY.md, measured today.

Tags as printed are laid into pieces of rendered sample photos (gravel, wood, grass, planks), turned, tilted, blurred, with
noise and JPEG, and with glare over a part of the marker. It is not a camera: no bent tag, no dirt, no shake in one direction.
"""

import sys
import time

import cv2
import numpy as np

from grainlog.photo import read_photo
from grainlog.scale.tag import TagText
from grainlog.scale.tag_code import code_likeness
from grainlog.scale.tag_find import find_tags
from tests.accuracy import samples
from tests.tagged import YARD, laid, seen_from

SIZES = (0.5, 0.75, 1.0, 1.25, 1.5)
TILTS = (0, 30, 45, 60)
TURNS = (0, 17, 45, 70, 100, 190, 250)
GROUNDS = ("oak-yard-gravel", "maple-lawn", "ash-plank-floor", "walnut-shed-floor")
BLURS = (0.6, 1.0, 1.5)
GLARES = (0.0, 0.1, 0.25, 0.5)
HALF = 260


def pieces() -> list[np.ndarray]:
    """The middle of some sample photos."""
    photos = [
        read_photo(one.photo).pixels for one in samples() if one.photo.stem in GROUNDS
    ]
    return [
        photo[photo.shape[0] // 2 - HALF :, photo.shape[1] // 2 - HALF :][
            : 2 * HALF, : 2 * HALF
        ].copy()
        for photo in photos
    ]


def photographed(
    rgb: np.ndarray, blur: float, random: np.random.Generator
) -> np.ndarray:
    """With a camera's blur, noise and JPEG."""
    soft = cv2.GaussianBlur(rgb, (0, 0), blur)
    noisy = np.clip(soft + random.normal(0, 4, rgb.shape), 0, 255).astype(np.uint8)
    return cv2.imdecode(
        cv2.imencode(".jpg", noisy, [cv2.IMWRITE_JPEG_QUALITY, 88])[1], cv2.IMREAD_COLOR
    )


def glared(rgb: np.ndarray, corners: np.ndarray, share: float) -> np.ndarray:
    """Light that washes out the ink over a share of the tag, from its left, as a gloss does: ink at 60 % of the paper's light."""
    if share == 0:
        return rgb
    right = corners[[0, 3]] + (corners[[1, 2]] - corners[[0, 3]]) * share
    mask = cv2.fillPoly(
        np.zeros(rgb.shape[:2], np.float32),
        [np.array([*corners[[0, 3]], right[1], right[0]]).round().astype(int)],
        1,
    )
    soft = cv2.GaussianBlur(mask, (0, 0), 4)[..., None]
    return np.clip(rgb * (1 - 0.6 * soft) + 250 * 0.6 * soft, 0, 255).astype(np.uint8)


def tried(
    grounds, mm_per_px: float, tilt: float, blur: float, random, share: float = 0.0
) -> np.ndarray:
    """(n, 3) bool: found, its code read, its code read or told from others by comparing."""
    text, other = TagText(YARD, "128"), TagText(YARD, "1128")
    out = []
    for ground in grounds:
        for turn in TURNS:
            corners = seen_from(
                mm_per_px,
                tilt,
                turn + random.uniform(-4, 4),
                HALF + random.uniform(-1, 1, 2),
            )
            photo = photographed(
                glared(laid(ground, text, corners), corners, share), blur, random
            )
            mine = [tag for tag in find_tags(photo) if tag.marker == 128]
            read = bool(mine) and mine[0].text == text
            told = (
                bool(mine)
                and code_likeness(mine[0].code, text).same
                and not code_likeness(mine[0].code, other).same
            )
            out.append((bool(mine), read, read or told))
    return np.array(out)


def main() -> None:
    """Print the tables."""
    random, grounds = np.random.default_rng(2026), pieces()
    print(
        "Found / code read / code read or compared, of all, by mm per px and tilt (blur 0.6 to 1.5 px):\n"
    )
    print("| mm per px | " + " | ".join(f"{tilt} degrees" for tilt in TILTS) + " |")
    print("| --- |" + " --- |" * len(TILTS))
    for size in SIZES:
        cells = [
            np.vstack(
                [tried(grounds, size, tilt, blur, random) for blur in BLURS]
            ).mean(0)
            for tilt in TILTS
        ]
        print(
            f"| {size} | "
            + " | ".join(
                " / ".join(f"{100 * share:.0f}" for share in cell) + " %"
                for cell in cells
            )
            + " |"
        )
    print(
        "\nAt 1 mm per px, 15 degrees, by blur:\n\n| blur, px | found | read or compared |\n| --- | --- | --- |"
    )
    for blur in (0.5, 1.0, 1.5, 2.0, 2.5):
        found, _, told = tried(grounds, 1.0, 15, blur, random).mean(0)
        print(f"| {blur} | {100 * found:.0f} % | {100 * told:.0f} % |")
    print(
        "\nAt 0.75 mm per px, 15 degrees, blur 0.8 px, with glare over a share of the tag from its left edge:\n"
    )
    print("| glare | found | read or compared |\n| --- | --- | --- |")
    for share in GLARES:
        found, _, told = tried(grounds, 0.75, 15, 0.8, random, share).mean(0)
        print(f"| {100 * share:.0f} % | {100 * found:.0f} % | {100 * told:.0f} % |")
    cv2.setNumThreads(1)
    took, false = [], 0
    for one in samples():
        pixels = read_photo(one.photo).pixels
        began = time.process_time()
        false += len(find_tags(pixels))
        took.append(time.process_time() - began)
    print(
        f"\n{len(took)} photos of 12 megapixels without a tag: {false} tags seen; {min(took):.2f} to {max(took):.2f} s on one core."
    )


if __name__ == "__main__":
    sys.exit(main())
