"""Yards and worker processes for the tests of this room."""

import shutil
import subprocess
import sys
from pathlib import Path
from typing import Iterator

import pytest

from grainlog.yard import Yard

HOUSE = Path(__file__).parents[2]


class Worker:
    """A running `tests.yard.worker`."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.yard.worker"],
            cwd=HOUSE, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1,
        )

    def ask(self, how: str, job: str, yard: Path, scratch: Path, seed: int, count: int) -> int:
        """Set a job going and return the number of the process that does it."""
        self._process.stdin.write("\t".join(map(str, (how, job, yard, scratch, seed, count))) + "\n")
        said = self._process.stdout.readline().split()
        assert said and said[0] == "pid", said
        return int(said[1])

    def hear(self) -> str:
        line = self._process.stdout.readline()
        assert line, "the worker itself has ended"
        return line.rstrip("\n")

    def hear_out(self) -> list[str]:
        """What else is said until the job is over."""
        return list(iter(self.hear, "gone"))

    def close(self) -> None:
        self._process.stdin.close()
        self._process.wait(timeout=60)
        self._process.stdout.close()


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    with Yard.start(tmp_path / "yard") as made:
        yield made


@pytest.fixture(scope="module")
def filled(request, tmp_path_factory) -> Path:
    """A yard filled once by the module's own `fill(yard, photos)`; not to be written to."""
    folder = tmp_path_factory.mktemp("filled") / "yard"
    with Yard.start(folder) as made:
        request.module.fill(made, tmp_path_factory.mktemp("photos"))
    return folder


@pytest.fixture
def filled_yard(filled, tmp_path) -> Iterator[Yard]:
    """A copy of that yard, open: filing photos anew for every test would take most of the time."""
    with Yard.open(shutil.copytree(filled, tmp_path / "yard")) as copied:
        yield copied


@pytest.fixture
def scratch(tmp_path: Path) -> Path:
    """A folder for photos that are still outside the yard."""
    folder = tmp_path / "photos"
    folder.mkdir()
    return folder


@pytest.fixture(scope="module")
def worker() -> Iterator[Worker]:
    running = Worker()
    yield running
    running.close()


@pytest.fixture
def workers() -> Iterator[list[Worker]]:
    running = [Worker() for _ in range(4)]
    yield running
    for each in running:
        each.close()
