"""How far the confidence can be believed: `python -m tests.confidence` prints the table of ACCURACY.md.

It is fitted on one set of made views (tests/face/worn_view.py, seeds from 20000 on) and tried on another (from 30000 on),
which the fit never sees. Views with a person over the edge are in both, and told on a line of their own besides. `--fit`
prints the coefficients for `grainlog/face/confidence.py`; `--views N` sets how many of each; `--keep` writes the rows as they
come and `--kept` takes such rows instead of making views (the confidence is computed anew).
"""

import argparse
import csv
import multiprocessing
import sys
from dataclasses import asdict, fields
from pathlib import Path

import cv2
import numpy as np
from scipy.optimize import minimize

from grainlog.face import confidence, find_face, hidden, seam
from grainlog.face.found import FaceNotFound, Features
from grainlog.face.judge import overlap
from tests.face.worn_view import worn

GOOD = confidence.SOUND_OVERLAP
FITTED_FROM, TRIED_FROM = 20_000, 30_000
#: What the confidence is at most, whatever the fit says, where something was said.
CAPS = {"two-slabs-in-one": seam.SURE_AT_MOST, "slab-hidden": hidden.SURE_AT_MOST, "edge-hidden": hidden.SURE_AT_MOST}
NAMES = [field.name for field in fields(Features)]


def scored(seed: int) -> dict:
    """The row of a seed: its faults, features, confidence, IoU (0 where no slab was found) and what was said."""
    view, faults = worn(seed)
    row = {"seed": seed, "faults": "+".join(faults), "ground": view.kind}
    try:
        found = find_face(view, 60.0)
    except FaceNotFound:
        return row | dict.fromkeys([*NAMES, "confidence"], 0.0) | {"iou": 0.0, "said": "not found"}
    row |= asdict(found.features) | {"confidence": found.confidence, "iou": overlap(found.wood, view.wood)}
    return row | {"said": "+".join(note.code for note in found.notes)}


def all_scored(seeds, jobs: int = 1, file: Path | None = None) -> list[dict]:
    """The rows of many seeds, in order, from `jobs` processes; written to a CSV file as they come."""
    rows = []
    with multiprocessing.get_context("spawn").Pool(jobs, cv2.setNumThreads, (1,)) as pool:
        for row in pool.imap(scored, seeds):
            rows.append(row)
            if sys.stderr.isatty():
                print(f"\r{len(rows)} views", end="", file=sys.stderr)
            if file is not None:
                with open(file, "w", newline="") as out:
                    writer = csv.DictWriter(out, rows[0].keys())
                    writer.writeheader()
                    writer.writerows(rows)
    return rows


def with_person(row: dict) -> bool:
    """Whether a person stands over the edge."""
    return "person" in row["faults"]


def features_in(row: dict) -> Features:
    """The features of a row."""
    return Features(**{name: float(row[name]) for name in NAMES})


def kept(file: Path) -> list[dict]:
    """Rows of `--keep`, with the confidence of today's weights."""
    with open(file, newline="") as source:
        rows = list(csv.DictReader(source))
    for row in rows:
        most = min((most for code, most in CAPS.items() if code in row["said"].split("+")), default=1.0)
        row["confidence"] = 0.0 if row["said"] == "not found" else min(most, confidence.chance_of_sound(features_in(row)))
    return rows


def fit(rows: list[dict]) -> dict[str, float]:
    """Weights of the shortfalls of each feature and of the constant: logistic regression, none may reward a worse figure."""
    found = [row for row in rows if row["said"] != "not found"]
    short = np.array([confidence.shortfalls(features_in(row)) for row in found])
    good = np.array([float(row["iou"]) > GOOD for row in found], float)

    def loss(weights):
        logit = weights[0] - short @ weights[1:]
        return np.logaddexp(0, logit).sum() - good @ logit + 0.005 * (weights[1:] ** 2).sum()

    start = np.r_[2.0, np.ones(short.shape[1])]
    best = minimize(loss, start, method="L-BFGS-B", bounds=[(None, None)] + [(0, None)] * short.shape[1])
    return dict(zip(["base", *NAMES], best.x))


def table(rows: list[dict]) -> list[list[str]]:
    """Rows by confidence: how many views, how many of them sound, their median and worst IoU."""
    out = []
    for least, most in ((0.9, 1.01), (0.7, 0.9), (0.5, 0.7), (0.0, 0.5)):
        part = np.array([float(row["iou"]) for row in rows if least <= float(row["confidence"]) < most])
        name = f"{least:.1f} to {min(most, 1):.1f}"
        if len(part):
            good = 100 * (part > GOOD).mean()
            out.append([name, str(len(part)), f"{good:.0f} %", f"{np.median(part):.3f}", f"{part.min():.3f}"])
        else:
            out.append([name, "0", "", "", ""])
    return out


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--views", type=int, default=300)
    parser.add_argument("--jobs", type=int, default=1, help="so many processes")
    parser.add_argument("--fit", action="store_true", help="fit again and print the weights")
    parser.add_argument("--keep", type=Path, help="write the rows to this CSV file as they come")
    parser.add_argument("--kept", type=Path, help="take the rows of this CSV file")
    asked = parser.parse_args()
    first = FITTED_FROM if asked.fit else TRIED_FROM
    rows = kept(asked.kept) if asked.kept else all_scored(range(first, first + asked.views), asked.jobs, asked.keep)
    if asked.fit:
        for name, weight in fit(rows).items():
            print(f"{name}: {weight:.3f}")
        return
    print("| confidence | views | IoU above 0.97 | median IoU | worst IoU |\n| --- | --- | --- | --- | --- |")
    for row in table(rows):
        print("| " + " | ".join(row) + " |")
    people = [row for row in rows if with_person(row) and float(row["iou"]) <= GOOD]
    sure = sum(float(row["confidence"]) > 0.9 for row in people)
    told = sum("-hidden" in row["said"] for row in people)
    print(f"Of {len(people)} views in which a person hides too much of the edge {told} are told so; {sure} have a confidence above 0.9.")


if __name__ == "__main__":
    main()
