"""The training curve as a picture: `python -m calibration.face_model.plot_curve curve.csv curve.png`."""

import csv
import sys

import cv2
import numpy as np

WIDTH, HEIGHT, LEFT, TOP, RIGHT, BOTTOM = 720, 380, 60, 30, 30, 50
LINES = {
    "loss": ((60, 60, 60), "loss"),
    "new_seeds_wood_iou": ((178, 114, 0), "wood IoU, new seeds"),
    "held_out_wood_iou": ((0, 94, 213), "wood IoU, held-out grounds and palettes"),
}


def main(source: str, target: str) -> None:
    """Draw loss and the two overlaps over the steps."""
    with open(source, newline="") as file:
        rows = list(csv.DictReader(file))
    step = np.array([float(row["step"]) for row in rows])
    image = np.full((HEIGHT, WIDTH, 3), 255, np.uint8)
    for tick in np.linspace(0, 1, 6):
        y = round(HEIGHT - BOTTOM - tick * (HEIGHT - TOP - BOTTOM))
        cv2.line(image, (LEFT, y), (WIDTH - RIGHT, y), (225, 225, 225), 1)
        _write(image, f"{tick:.1f}", (LEFT - 40, y + 4))
        x = round(LEFT + tick * (WIDTH - LEFT - RIGHT))
        _write(image, f"{tick * step[-1]:.0f}", (x - 16, HEIGHT - BOTTOM + 20))
    _write(image, "step", (WIDTH // 2, HEIGHT - 10))
    for k, (key, (colour, name)) in enumerate(LINES.items()):
        value = np.array([float(row[key]) for row in rows])
        at = np.column_stack(
            [
                LEFT + step / step[-1] * (WIDTH - LEFT - RIGHT),
                HEIGHT - BOTTOM - value.clip(0, 1) * (HEIGHT - TOP - BOTTOM),
            ]
        )
        cv2.polylines(image, [np.round(at).astype(np.int32)], False, colour, 2, cv2.LINE_AA)
        cv2.line(image, (WIDTH - 400, 170 + 24 * k), (WIDTH - 372, 170 + 24 * k), colour, 2, cv2.LINE_AA)
        _write(image, name, (WIDTH - 362, 174 + 24 * k))
    cv2.imwrite(target, image)


def _write(image, text, at):
    cv2.putText(image, text, at, cv2.FONT_HERSHEY_SIMPLEX, 0.42, (40, 40, 40), 1, cv2.LINE_AA)


if __name__ == "__main__":
    main(*sys.argv[1:3])
