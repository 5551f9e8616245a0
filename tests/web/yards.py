"""Yards for the tests of the page: two sample photos really measured, and made-up slabs beside them."""

import json
import math
from pathlib import Path

import cv2
import numpy as np

from grainlog.face.measures import Thickness
from grainlog.photo import read_photo
from grainlog.picture import draw_overlay
from grainlog.survey import measure_photo, record_of
from grainlog.survey.picture import encode
from grainlog.survey.request import Request
from grainlog.yard import Filing, Picture, SlabFacts, Yard
from grainlog.yard.disk import sha256_of
from tests.yard.filings import record

SAMPLES = Path(__file__).parents[2] / "sample_images"
PHOTOS = ("maple-lawn.jpg", "walnut-shed-floor.jpg")


def wavy(length: float, width: float, seed: int, points: int = 60) -> list[list[float]]:
    """A live-edge outline, mm: two edges that wander, more so for some seeds."""
    along = np.linspace(0, length, points)
    swing = 0.04 * width * (1 + seed % 3)
    lower = swing * np.sin(along / 300 + seed) + 0.3 * swing * np.sin(along / 90 + 2 * seed)
    upper = width + swing * np.cos(along / 350 + seed) + 0.1 * width * np.exp(-(((along - 0.2 * length) / 250) ** 2))
    return [[round(x, 1), round(y, 1)] for x, y in [*zip(along, lower), *zip(along[::-1], upper[::-1])]]


def made_up(folder: Path, seed: int, log: str, species: str) -> Filing:
    """A filing with a drawn photo and flat view, told by its seed."""
    length, width = 1500.0 + 137 * (seed % 11), 380.0 + 41 * (seed % 9)
    photo = folder / f"slab-{seed}.jpg"
    outline = wavy(length, width, seed)
    flat = np.full((int(width / 2) + 100, int(length / 2) + 100, 3), 225, np.uint8)
    cv2.fillPoly(flat, [np.int32(np.array(outline) / 2 + 50)], (90, 140, 190))
    cv2.imwrite(str(photo), flat)
    sha256 = sha256_of(photo)
    made = record(sha256, name=photo.name, side="bark", length_mm=length, width_mm=width, thickness_mm=50.0 + 5 * (seed % 4))
    made["outline"] = {"wood_mm": outline, "bark_mm": wavy(length, width + 12, seed), "wood_holes_mm": []}
    made["scale"]["flat_mm_per_px"] = 2.0
    png = cv2.imencode(".png", flat)[1].tobytes()
    facts = SlabFacts(log=log, species=species, note="a made-up slab")
    return Filing(photo, sha256, made, facts, Picture(png, ".png"), Picture(png, ".png"))


def measured(name: str, log: str) -> Filing:
    """A sample photo, measured as `add` does."""
    path = SAMPLES / name
    truth = json.loads(path.with_suffix(".json").read_text())
    photo = read_photo(path)
    given = truth["given"]
    asked = Request(cards_on=given["cards_on"], thickness=Thickness.from_readings([given["thickness_mm"]]), lift_mm=given["lift_mm"])
    survey = measure_photo(photo, asked)
    made = record_of(survey)
    return Filing(
        path, made["photo"]["sha256"], made, SlabFacts(log=log, species=truth["species"]),
        Picture(encode(survey.flat_view().rgb, ".jpg"), ".jpg"), Picture(encode(draw_overlay(photo.pixels, made), ".jpg"), ".jpg"),
    )  # fmt: skip


def small_yard(folder: Path, scratch: Path, made: int = 10, photos: tuple[str, ...] = PHOTOS) -> Path:
    """A yard with the sample photos as slabs 1 and up, then made-up slabs of three logs."""
    logs = (("driveway elm", "elm"), ("churchyard oak", "white oak"), ("orchard cherry", "cherry"))
    with Yard.start(folder) as yard:
        for name in photos:
            yard.add(measured(name, f"sample {name.partition('-')[0]}"))
        for seed in range(made):
            yard.add(made_up(scratch, seed, *logs[seed * len(logs) // max(made, 1)]))
    return folder


def many_slabs(folder: Path, scratch: Path, count: int) -> Path:
    """A yard of many made-up slabs, for the wall; each needs a photo of its own, so they are small ones."""
    with Yard.start(folder) as yard:
        for seed in range(count):
            log = math.floor(seed / 12)
            yard.add(made_up(scratch, seed, f"log {log}", ("elm", "white oak", "cherry")[log % 3]))
    return folder
