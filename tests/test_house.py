"""The house stands as drawn: imports only point up its table, and modules keep to one idea.

The table is the one in the design of the house: a room may import the rooms named beside it and itself; `errors` and `notes` may
be imported by all.
"""

import ast
from pathlib import Path

import pytest

import grainlog

HOUSE = Path(grainlog.__file__).parent

_TO_PICTURE = {"units", "photo", "scale", "face", "checks", "fit", "drying", "survey", "picture"}
MAY_IMPORT = {
    "units": set(),
    "photo": {"units"},
    "scale": {"units", "photo"},
    "face": {"units", "scale"},
    "checks": {"units", "scale", "face"},
    "fit": {"units"},
    "drying": {"units"},
    "survey": {"units", "photo", "scale", "face", "checks"},
    "picture": _TO_PICTURE - {"picture"},
    "yard": _TO_PICTURE,
    "sheets": _TO_PICTURE | {"yard"},
    "web": _TO_PICTURE | {"yard", "sheets"},
    "cli": _TO_PICTURE | {"yard", "sheets", "web"},
}
# The command that `python -m grainlog` and the console script run.
_DOORS = {"__init__", "__main__", "errors", "notes"}
_LONGEST_MODULE = 300

MODULES = sorted(HOUSE.rglob("*.py"))


def room_of(module: Path) -> str:
    return module.relative_to(HOUSE).with_suffix("").parts[0]


def rooms_imported(source: str, package: tuple[str, ...]) -> set[str]:
    """Rooms of grainlog that a module's text imports, anywhere in it; `package` is where it stands."""
    rooms = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(package[: len(package) - node.level + 1]) if node.level else ""
            stem = ".".join(part for part in (base, node.module) if part)
            names = [f"{stem}.{alias.name}" for alias in node.names] if stem == "grainlog" else [stem]
        else:
            continue
        rooms |= {name.split(".")[1] for name in names if name.startswith("grainlog.")}
    return rooms


@pytest.mark.parametrize("module", MODULES, ids=lambda module: str(module.relative_to(HOUSE)))
def test_imports_only_point_up(module):
    room = room_of(module)
    imported = rooms_imported(module.read_text(), ("grainlog", *module.relative_to(HOUSE).parts[:-1]))
    if room in _DOORS:
        assert room == "__main__" or not imported
        return
    assert room in MAY_IMPORT, f"{room} is no room of the house"
    wrong = imported - MAY_IMPORT[room] - {room, "errors", "notes", "__version__"}
    assert not wrong, f"{room} may not import {', '.join(sorted(wrong))}"


@pytest.mark.parametrize("module", MODULES, ids=lambda module: str(module.relative_to(HOUSE)))
def test_modules_keep_to_one_idea(module):
    text = module.read_text()
    assert len(text.splitlines()) <= _LONGEST_MODULE
    assert not text.strip() or ast.get_docstring(ast.parse(text)), "a module says what it is"


@pytest.mark.parametrize(
    ("source", "rooms"),
    [
        ("import grainlog.face.frame", {"face"}),
        ("import grainlog.yard as store, numpy", {"yard"}),
        ("from grainlog import units, errors", {"units", "errors"}),
        ("from grainlog.scale.plane import FacePlane", {"scale"}),
        ("def late():\n    from grainlog.cli import main", {"cli"}),
        ("from . import frame", {"face"}),
        ("from ..yard import disk", {"yard"}),
        ("from .. import yard", {"yard"}),
        ("import grainlogs.cli, json", set()),
    ],
)
def test_the_reader_of_imports_sees_them_all(source, rooms):
    assert rooms_imported(source, ("grainlog", "face")) == rooms


def test_every_room_may_only_import_rooms_above_it():
    """The table itself has no way round: each room stands below all it imports."""
    standing = list(MAY_IMPORT)
    for room, imported in MAY_IMPORT.items():
        assert all(standing.index(other) < standing.index(room) for other in imported)
