"""How fast: `python -m tests.benchmark [PHOTO]` prints `measure` on one core beside the bare decode of the same photo.

Times are medians of five whole measurements in one process after one that is not counted; memory is the process's peak.
"""

import os
import resource
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path


def _one_core() -> None:
    """Before anything starts threads: one core for all of them."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})


def _median(work: Callable[[], object], rounds: int = 5) -> float:
    work()
    taken = []
    for _ in range(rounds):
        began = time.perf_counter()
        work()
        taken.append(time.perf_counter() - began)
    return statistics.median(taken)


def main(photo: Path | None) -> None:
    """Print the times and their ratio."""
    from PIL import Image

    from grainlog.survey import measure_photo
    from tests.accuracy import samples

    sample = samples()[0] if photo is None else next(s for s in samples([photo.parent]) if s.photo == photo)

    def decode():
        with Image.open(sample.photo) as image:
            image.load()

    bare = _median(decode)
    steps: dict[str, float] = {}

    def measure():
        last = ["", time.perf_counter()]

        def step(name):
            now = time.perf_counter()
            if last[0]:
                steps[last[0]] = now - last[1]
            last[:] = name, now

        measure_photo(sample.photo, sample.request, step)
        step("end")

    whole = _median(measure)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{sample.photo.name}: bare decode {bare:.2f} s; measure {whole:.2f} s; ratio {whole / bare:.1f}; peak {peak:.0f} MB")
    for name, taken in steps.items():
        print(f"  {name:20} {taken:.2f} s")


if __name__ == "__main__":
    _one_core()
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
