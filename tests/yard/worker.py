"""A process of its own that works in a yard, to be killed or raced: `python -m tests.yard.worker`.

Reads one job a line: `fork JOB YARD SCRATCH SEED COUNT` does it in a forked child, which spares a fresh start of
Python for every kill; `do ...` does it itself. Says `pid N` first, a line for every acknowledged result, `gone` last.
"""

import os
import resource
import signal
import sys
import tempfile
from pathlib import Path

from grainlog.yard import SlabFacts, SlabQuery, Yard, YardError
from tests.yard.filings import filing


def say(text: str) -> None:
    os.write(1, f"{text}\n".encode())  # one write, unbuffered: what is said is out before a kill


def add(yard: Path, scratch: Path, seed: int, count: int) -> None:
    with Yard.open(yard) as opened:
        for number in range(seed, seed + count):
            say(f"added {opened.add(filing(scratch, number)).slab}")


def add_anew(yard: Path, scratch: Path, seed: int, count: int) -> None:
    """Photos that this process alone has, all into one log."""
    with Yard.open(yard) as opened:
        for number in range(seed, seed + count):
            filed = opened.add(filing(scratch, number, SlabFacts(log="shared log")))
            say(f"added {filed.slab} {filed.order} {filed.already}")


def remove(yard: Path, scratch: Path, seed: int, count: int) -> None:
    with Yard.open(yard) as opened:
        for row in opened.slabs(SlabQuery(limit=count)):
            say(f"removing {row.number}")
            say(f"removed {opened.remove(row.number).slab}")


def start(yard: Path, scratch: Path, seed: int, count: int) -> None:
    Yard.start(yard)
    say("started")


def add_on_a_small_disk(yard: Path, scratch: Path, seed: int, count: int) -> None:
    """No file of this process may grow beyond `count` bytes."""
    made = filing(scratch, seed)
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (count, resource.getrlimit(resource.RLIMIT_FSIZE)[1]))
    try:
        say(f"added {Yard.open(yard).add(made).slab}")
    except YardError as error:
        say(f"refused {error}")


JOBS = {job.__name__: job for job in (add, add_anew, remove, start, add_on_a_small_disk)}


def warm_up() -> None:
    """Add, list and remove once, so that a forked child spends its short life on the disk and not on first times."""
    with tempfile.TemporaryDirectory() as folder, Yard.start(Path(folder, "yard")) as yard:
        yard.remove(yard.add(filing(Path(folder), 0)).slab)


def main() -> None:
    warm_up()
    for line in sys.stdin:
        how, job, yard, scratch, seed, count = line.rstrip("\n").split("\t")
        task = (Path(yard), Path(scratch), int(seed), int(count))
        if how == "do":
            say(f"pid {os.getpid()}")
            JOBS[job](*task)
        elif (child := os.fork()) == 0:
            try:
                say(f"pid {os.getpid()}")
                JOBS[job](*task)
            finally:
                os._exit(0)
        else:
            os.waitpid(child, 0)
        say("gone")


if __name__ == "__main__":
    main()
