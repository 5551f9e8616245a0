"""How long a search takes over 100 000 slabs on one core, and what the curves save: `python -m tests.fit_benchmark`.

For sizes at 8 % moisture, three logs of five were surveyed green, one of five has a reading at its survey, one nothing.

The slabs are copies of 200 made outlines of about 300 corners, each stretched evenly by its own factor; their curves are stretched
with them (rounded to the safe side), so that all of them are right without being worked out one by one. The time of laying the
piece on every single slab is worked out from a sample, and said to be.
"""

import argparse
import json
import sqlite3
import tempfile
import time
from pathlib import Path

import numpy as np

from grainlog.fit.curve import CURVE_VERSION, DIGITS, STEP_MM, Curve, curve_of
from grainlog.fit.laying import Sureness, lay
from grainlog.fit.piece import Piece, straight, with_live_edges
from grainlog.fit.region import region_of
from grainlog.yard import Yard
from grainlog.yard.finding import Found
from grainlog.yard.fit_request import FindRequest
from tests.fit.made import slab_outline

BASES = 200
MOISTURE = 0.08


def stretched(curve: Curve, factor: float) -> Curve:
    """The curve of the outline stretched evenly: a piece l x w fits it when l / factor x w / factor fits the first."""
    return Curve(
        _stretched(curve.straight, factor),
        _stretched(curve.live, factor),
        curve.round_mm * factor,
        curve.area_mm2 * factor**2,
    )


def _stretched(written: str, factor: float) -> str:
    widths = [int(written[at : at + DIGITS], 16) for at in range(0, len(written), DIGITS)]
    out = []
    for entry in range(int(len(widths) * factor) + 1):
        # The shortest length of the entry, and a hair less for rounding: the bound there is the greater.
        before = int(entry * STEP_MM / factor * (1 - 1e-9) // STEP_MM)
        if before >= len(widths):
            break
        out.append(min(int(np.ceil(widths[before] * factor)), 0xFFFF))
    return "".join(f"{value:04X}" for value in out)


def make_yard(folder: Path, count: int) -> list[tuple[np.ndarray, float]]:
    """A yard of `count` slabs; returns each slab's base outline and factor."""
    Yard.start(folder).close()
    rng = np.random.default_rng(7)
    bases = [slab_outline(seed) for seed in range(BASES)]
    curves = [curve_of(base) for base in bases]
    made = [(int(rng.integers(BASES)), float(rng.uniform(0.6, 1.3))) for _ in range(count)]
    connection = sqlite3.connect(folder / "yard.db")
    now = "2026-01-01T00:00:00"
    kinds = ["white oak", "walnut", "elm", "sugar maple", "cherry"]
    with connection:
        connection.executemany(
            "INSERT INTO logs (id, name, name_folded, species, species_folded, started_at) VALUES (?, ?, ?, ?, ?, ?)",
            [(i, f"log {i}", f"log {i}", kinds[i % 5], kinds[i % 5], now) for i in range(count // 10 + 1)],
        )
        connection.executemany(
            "INSERT INTO slabs (number, log_id, order_in_log, surveyed_at, thickness_mm, thickness_mm_u, faces, one_face_only)"
            " VALUES (?, ?, ?, ?, ?, 1.0, '', 1)",
            [(n + 1, n // 10, n % 10 + 1, now, 50.0 + n % 30) for n in range(count)],
        )
        record = {"face": {"length_mm": {"value": 0, "u": 2.0}, "width_min_mm": {"value": 0, "u": 2.0}}, "checks": []}
        connection.executemany(
            "INSERT INTO surveys (id, slab_number, surveyed_at, filed_at, photo_name, photo_sha256, original_path,"
            " thickness_readings_mm, note, words_folded, record) VALUES (?, ?, ?, ?, '', ?, '', '[]', '', '', ?)",
            [(n + 1, n + 1, now, now, str(n), json.dumps(record)) for n in range(count)],
        )
        connection.executemany(
            "INSERT INTO outlines (survey_id, kind, part, points_mm) VALUES (?, 'wood', 0, ?)",
            ((n + 1, json.dumps((bases[base] * factor).round(2).tolist())) for n, (base, factor) in enumerate(made)),
        )
        connection.executemany(
            "INSERT INTO log_wood (log_id, sawn_on, set_at) VALUES (?, '2025-12-28', ?)",
            [(i, now) for i in range(count // 10 + 1) if i % 5 < 3],
        )
        connection.executemany(
            "INSERT INTO moisture_readings (slab_number, day, moisture, method, entered_at) VALUES (?, '2025-12-30', ?, 'pin', ?)",
            [(n + 1, float(rng.uniform(0.08, 0.35)), now) for n in range(count) if n // 10 % 5 == 3],
        )
        rows = ((n + 1, n + 1, CURVE_VERSION, stretched(curves[base], factor)) for n, (base, factor) in enumerate(made))
        connection.executemany(
            "INSERT INTO outline_curves (survey_id, slab_number, version, straight, live, round_mm, area_mm2)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            ((n, slab, version, c.straight, c.live, c.round_mm, c.area_mm2) for n, slab, version, c in rows),
        )
    connection.close()
    return [(bases[base], factor) for base, factor in made]


def seconds_per_slab(slabs: list[tuple[np.ndarray, float]], piece: Piece, sample: int) -> tuple[float, int, int]:
    """Seconds of laying the piece on one slab, how many of the sample hold it, and how many of those the curves lose."""
    picked = np.random.default_rng(3).choice(len(slabs), sample, replace=False)
    sureness = Sureness(np.zeros(1), np.zeros(1), 2.0)
    spent, hold, lost = 0.0, 0, 0
    for index in picked:
        base, factor = slabs[index]
        begun = time.process_time()
        fits = lay(region_of(base * factor), piece, sureness).fits
        spent += time.process_time() - begun
        hold += fits
        lost += fits and not piece.may_lie_on(stretched(curve_of(base), factor))
    return spent / sample, hold, lost


def lost_when_dry(yard: Yard, slabs: list[tuple[np.ndarray, float]], piece: Piece, sample: int) -> tuple[int, int]:
    """How many of a sample hold a piece at `MOISTURE`, by laying it on each dry outline, and how many of those a search loses."""
    picked = np.random.default_rng(4).choice(len(slabs), sample, replace=False)
    numbers = tuple(int(index) + 1 for index in picked)
    asked = FindRequest((piece,), moisture=MOISTURE, slabs=numbers, limit=sample, misses=0)
    told = {one.candidate.number for one in yard.fits.find(asked).answers}
    sureness = Sureness(np.zeros(1), np.zeros(1), 2.0)
    hold, lost = 0, 0
    for number in numbers:
        base, factor = slabs[number - 1]
        dry = yard.drying.factors(number, MOISTURE).factors
        if dry is None:
            continue
        fits = lay(region_of(base * factor * [dry.along.value, dry.across.value]), piece, sureness).fits
        hold += fits
        lost += fits and number not in told
    return hold, lost


def main() -> None:
    """Make the yard, search it for three pieces, print times and ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--slabs", type=int, default=100_000)
    parser.add_argument("--sample", type=int, default=200)
    asked = parser.parse_args()
    pieces = {
        "72 x 34 in": straight(72 * 25.4, 34 * 25.4),
        "60 x 24 in": straight(60 * 25.4, 24 * 25.4),
        "84 x 30 in, both live edges": with_live_edges(84 * 25.4, 30 * 25.4, 2),
    }
    with tempfile.TemporaryDirectory() as folder:
        slabs = make_yard(Path(folder) / "yard", asked.slabs)
        with Yard.open(Path(folder) / "yard") as yard:
            yard.fits.find(
                FindRequest((straight(10.0, 10.0),), limit=1, misses=0)
            )  # the libraries and the disk's cache
            for name, piece in pieces.items():
                found, wall, cpu = timed(yard, FindRequest((piece,)))
                each, hold, lost = seconds_per_slab(slabs, piece, asked.sample)
                print(
                    f"{name}: {len(found.answers)} answers and {len(found.misses)} near misses out of {asked.slabs} slabs in {wall:.2f} s "
                    f"({cpu:.2f} s of one core); {found.looked_at} looked at closely. "
                    f"Laying it on every slab would take {each * asked.slabs:.0f} s (from a sample of {asked.sample}), "
                    f"{each * asked.slabs / cpu:.0f} times as long. Of the sample {hold} hold it; the curves lose {lost}."
                )
                found, wall, dry_cpu = timed(yard, FindRequest((piece,), moisture=MOISTURE))
                hold, lost = lost_when_dry(yard, slabs, piece, asked.sample)
                print(
                    f"  at {MOISTURE:.0%}: {len(found.answers)} answers and {len(found.misses)} near misses in {wall:.2f} s "
                    f"({dry_cpu:.2f} s of one core, {dry_cpu / cpu:.1f} times as long as green); {found.looked_at} looked at closely, "
                    f"left out {sum(found.left_out.values())}. Of the sample {hold} hold it when dry; the search loses {lost}."
                )


def timed(yard: Yard, request: FindRequest) -> tuple[Found, float, float]:
    """What is found, seconds by the clock, and seconds of the processor."""
    wall, cpu = time.perf_counter(), time.process_time()
    found = yard.fits.find(request)
    return found, time.perf_counter() - wall, time.process_time() - cpu


if __name__ == "__main__":
    main()
