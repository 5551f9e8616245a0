"""Prove the truth of rendered photos: `python -m sample_images.render.prove FOLDER [--draw FOLDER]`.

For each photo: the wood outline taken back from pixels to the face; card corners as OpenCV finds them in the picture
against the projected truth; how far the visible edge of the wood lies from the true one. The figures are printed;
nothing is judged here (tests/test_samples.py does).
"""

import argparse
import json
import sys
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageOps

from grainlog.scale import card as scale_card


def camera_of(truth: dict) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """OpenCV's (matrix, distortion, rotation, translation) of a truth record."""
    camera = truth["camera"]
    matrix = np.array([[camera["f_px"], 0, camera["cx"]], [0, camera["f_px"], camera["cy"]], [0, 0, 1]])
    return (
        matrix,
        np.array([camera["k1"], camera["k2"], 0, 0]),
        np.array(camera["rotation"]),
        np.array(camera["translation_mm"]),
    )


def face_from_px(truth: dict, px: np.ndarray) -> np.ndarray:
    """(n, 2) px to (n, 2) mm on the face, slab frame, with OpenCV's undistortPoints and the recorded face."""
    matrix, distortion, rotation, translation = camera_of(truth)
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 100, 1e-12)
    pinhole = cv2.undistortImagePoints(np.asarray(px, float)[:, None], matrix, distortion, None, stop)[:, 0]
    flat = (pinhole - matrix[:2, 2]) / matrix[0, 0]
    face = truth["face"]["slab_to_world"]
    axes, place = np.array(face["rotation"]), np.array(face["translation_mm"])
    start = axes.T @ (-rotation.T @ translation - place)
    way = np.column_stack([flat, np.ones(len(flat))]) @ rotation @ axes
    height = np.zeros(len(way))
    for _ in range(12):
        met = start + way * ((height - start[2]) / way[:, 2])[:, None]
        height = truth["face"]["cup_mm"] * (met[:, 1] / (face["width_mm"] / 2)) ** 2
    return met[:, :2]


def corner_errors(truth: dict, grey: np.ndarray) -> np.ndarray:
    """(n, 2) px, found minus true, of every card corner that OpenCV's ChArUco detector finds near its card."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    errors = []
    for card in truth["cards"]:
        ring = np.array(card["outline_px"])
        left, top = np.maximum(np.floor(ring.min(axis=0)).astype(int) - 40, 0)
        right, bottom = np.ceil(ring.max(axis=0)).astype(int) + 40
        crop = np.ascontiguousarray(grey[top:bottom, left:right])
        detector = cv2.aruco.CharucoDetector(scale_card.board(card["id"]), cv2.aruco.CharucoParameters(), parameters)
        corners, ids, _, _ = detector.detectBoard(crop)
        if ids is None:
            continue
        stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 60, 1e-4)
        # The window must end before the markers in the neighbouring squares, 5.5 mm from every corner, pull at it.
        truly = np.array(card["corners_px"])
        per_mm = (
            min(np.linalg.norm(truly[a] - truly[b]) for a, b in ((0, 1), (0, 3), (10, 11), (8, 11)))
            / scale_card.SQUARE_MM
        )
        inset = (scale_card.SQUARE_MM - scale_card.MARKER_MM) / 2
        window = max(2, int(0.9 * inset * per_mm))
        start = corners.reshape(-1, 1, 2).astype(np.float32)
        found = cv2.cornerSubPix(crop, start, (window, window), (-1, -1), stop)[:, 0]
        errors.append(found + [left, top] - truly[ids.ravel()])
    return np.vstack(errors) if errors else np.empty((0, 2))


def edge_offsets(truth: dict, rgb: np.ndarray, reach: float = 8.0) -> tuple[np.ndarray, np.ndarray]:
    """Mean colour step across the wood edge against the signed distance from the true edge (px, outwards positive).

    Averaged over all vertices, so grain and bark cancel and the step at the edge stays.
    """
    ring = np.array(truth["outline"]["wood_px"])
    ring = ring if _signed_area(ring) > 0 else ring[::-1]
    tangent = np.roll(ring, -3, axis=0) - np.roll(ring, 3, axis=0)
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]]) / np.linalg.norm(tangent, axis=1, keepdims=True)
    distance = np.arange(-reach, reach + 0.01, 0.25)
    at = (ring[:, None] + normal[:, None] * distance[None, :, None]).astype(np.float32)
    colour = cv2.remap(rgb.astype(np.float32), at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    step = np.linalg.norm(colour[:, 4:] - colour[:, :-4], axis=2)
    return distance[2:-2], np.median(step, axis=0)


def upright(path: Path) -> np.ndarray:
    """(h, w, 3) uint8 RGB, orientation applied."""
    with Image.open(path) as image:
        return np.asarray(ImageOps.exif_transpose(image).convert("RGB"))


def draw(truth: dict, rgb: np.ndarray) -> np.ndarray:
    """The photo with the true outlines drawn one pixel wide."""
    drawn = rgb.copy()
    lines = [("silhouette_px", (255, 0, 255)), ("bark_px", (255, 160, 0)), ("wood_px", (0, 255, 255))]
    for key, colour in lines:
        cv2.polylines(
            drawn, [np.round(np.array(truth["outline"][key]) * 16).astype(np.int32)], True, colour, 1, cv2.LINE_AA, 4
        )
    for ring in truth["outline"]["wood_holes_px"]:
        cv2.polylines(drawn, [np.round(np.array(ring) * 16).astype(np.int32)], True, (0, 255, 255), 1, cv2.LINE_AA, 4)
    for check in truth["checks"]:
        cv2.polylines(
            drawn, [np.round(np.array(check["path_px"]) * 16).astype(np.int32)], False, (255, 0, 0), 1, cv2.LINE_AA, 4
        )
    for card in truth["cards"]:
        for corner in card["corners_px"]:
            cv2.drawMarker(drawn, tuple(int(round(v)) for v in corner), (0, 255, 0), cv2.MARKER_CROSS, 9, 1)
    return drawn


def table(truths: list[dict]) -> str:
    """The photos as a Markdown table, for the README beside them."""
    lines = [
        "| photo | world | slab, mm | length x width | ground, light | cards | camera height, oblique, lens | also |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for truth in truths:
        on_slab = sum(card["on"] == "slab" for card in truth["cards"])
        on_floor = len(truth["cards"]) - on_slab
        cards = " and ".join(
            f"{count} on the {place}" for count, place in ((on_floor, "floor"), (on_slab, "slab")) if count
        )
        also = [
            thing
            for thing, there in (
                ("a hole", truth["outline"]["wood_holes_px"]),
                ("wet", truth["wet"]),
                ("hard shadow across", truth["shadow"]),
                ("wide face up", not truth["narrow_side_up"]),
                ("no metadata", not truth["exif"]),
                ("stored turned (EXIF 6)", truth["orientation"] == 6),
                (f"{len(truth['checks'])} checks", truth["checks"]),
                ("beside it: " + ", ".join(truth["clutter"]), truth["clutter"]),
            )
            if there
        ]
        measures, camera = truth["measures"], truth["camera"]
        cells = (
            truth["scene"],
            "perfect" if truth["perfect"] else "imperfect",
            f"{truth['species']}, {truth['form']}, {truth['thickness_mm']:g} thick, lifted {truth['lift_mm']:g}",
            f"{measures['length_mm']:.0f} x {measures['width_max_mm']:.0f}",
            f"{truth['ground']}, {truth['light']}",
            cards,
            f"{camera['height_mm'] / 1000:.2f} m, {camera['oblique_deg']:.0f} degrees, {camera['focal_35mm']:.1f} mm",
            "; ".join(also),
        )
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines)


def _signed_area(ring: np.ndarray) -> float:
    after = np.roll(ring, -1, axis=0)
    return float(np.sum(ring[:, 0] * after[:, 1] - after[:, 0] * ring[:, 1]) / 2)


def main(arguments=None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(prog="python -m sample_images.render.prove", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--draw", type=Path, help="write the photos with the true outlines here, PNG")
    parser.add_argument("--table", action="store_true", help="print the photos as a Markdown table and nothing else")
    wanted = parser.parse_args(arguments)
    if wanted.table:
        print(table([json.loads(path.read_text()) for path in sorted(wanted.folder.glob("*.json"))]))
        return 0
    print(f"{'photo':26} perfect  back to face mm   corners found  mean dx, dy px   rms px   visible edge px")
    for path in sorted(wanted.folder.glob("*.json")):
        if not path.with_suffix(".jpg").exists():
            continue
        truth, rgb = json.loads(path.read_text()), upright(path.with_suffix(".jpg"))
        back = face_from_px(truth, np.array(truth["outline"]["wood_px"])) - truth["outline"]["wood_mm"]
        errors = corner_errors(truth, cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY))
        distance, step = edge_offsets(truth, rgb)
        mean, rms = errors.mean(axis=0), np.sqrt(np.mean(errors**2))
        found = f"{len(errors)}/{12 * len(truth['cards'])}"
        print(
            f"{truth['scene']:26} {str(truth['perfect']):7} {np.abs(back).max():12.4f} {found:>15}"
            f" {mean[0]:+.3f}, {mean[1]:+.3f} {rms:11.3f} {distance[np.argmax(step)]:+12.2f}",
            flush=True,
        )
        if wanted.draw:
            wanted.draw.mkdir(parents=True, exist_ok=True)
            cv2.imwrite(str(wanted.draw / f"{truth['scene']}.png"), draw(truth, rgb)[..., ::-1])
    return 0


if __name__ == "__main__":
    sys.exit(main())
