"""The project's own promises: one test command, a small tree, no picture too many, docstrings where they are owed."""

import importlib
import inspect
import pkgutil
import subprocess
from pathlib import Path

import pytest

import grainlog

ROOT = Path(__file__).parent.parent


def tracked_files():
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout: what is tracked cannot be told")
    return [ROOT / name for name in listed.stdout.decode().split("\0") if name and (ROOT / name).exists()]


def test_ci_runs_the_command_that_the_readme_gives():
    lines = [line for line in (ROOT / ".ci" / "run").read_text().splitlines() if "pytest" in line]
    assert len(lines) == 1
    assert lines[0] in (ROOT / "README.md").read_text().splitlines()


def test_the_work_tree_stays_small():
    """50 MB in all, with room left for what later work adds."""
    assert sum(file.stat().st_size for file in tracked_files()) < 40e6


def public_things():
    for found in pkgutil.walk_packages(grainlog.__path__, "grainlog."):
        module = importlib.import_module(found.name)
        yield found.name, module
        for name, thing in vars(module).items():
            defined_here = getattr(thing, "__module__", None) == found.name
            if not name.startswith("_") and defined_here and (inspect.isfunction(thing) or inspect.isclass(thing)):
                yield f"{found.name}.{name}", thing


def test_everything_public_says_what_it_is():
    silent = [name for name, thing in public_things() if not (inspect.getdoc(thing) or "").strip()]
    # A dataclass writes its own docstring when nobody else does.
    lazy = [
        name for name, thing in public_things()
        if inspect.isclass(thing) and (inspect.getdoc(thing) or "").startswith(f"{thing.__name__}(")
    ]  # fmt: skip
    assert silent == [] and lazy == []


def test_modules_stay_one_idea_long():
    long = {
        str(file.relative_to(ROOT)): count
        for file in (ROOT / "grainlog").rglob("*.py")
        if (count := len(file.read_text().splitlines())) > 320
    }
    assert long == {}
