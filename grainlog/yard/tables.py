"""Every table of a new yard, gathered from the modules of this room that define some.

A module whose name ends in `_tables` adds its tables to `schema.metadata`, and what SQLAlchemy has no words for (views,
full-text tables) as text in its `FURTHER_SQL`. The same stands frozen in `step_N/*.sql` for yards made before. Tables
that belong to a slab point at `slabs.number`, directly or by way of a table that does; a table with a column `seal`
is sealed row by row (`seal.set_seal`). Removal and stock-taking then handle it by themselves.
"""

from functools import cache
from importlib import import_module
from pathlib import Path

from sqlalchemy import Table
from sqlalchemy.dialects import sqlite as sqlite_dialect
from sqlalchemy.schema import CreateIndex, CreateTable

from grainlog.yard.schema import metadata, slabs


@cache
def _modules() -> tuple:
    names = sorted(path.stem for path in Path(__file__).parent.glob("*_tables.py"))
    return tuple(import_module(f"grainlog.yard.{name}") for name in names)


def all_tables() -> list[Table]:
    """Every table, each after those it points at."""
    _modules()
    return metadata.sorted_tables


def table_statements() -> list[str]:
    """The SQL that makes an empty yard of the newest version, in order."""
    dialect = sqlite_dialect.dialect()
    statements = []
    for table in all_tables():
        statements.append(str(CreateTable(table).compile(dialect=dialect)))
        by_name = sorted(table.indexes, key=lambda index: str(index.name))
        statements.extend(str(CreateIndex(index).compile(dialect=dialect)) for index in by_name)
    return statements + [text for module in _modules() for text in getattr(module, "FURTHER_SQL", ())]


@cache
def tables_of_a_slab() -> tuple[tuple[Table, tuple[tuple[str, str, str], ...]], ...]:
    """The tables whose rows belong to a slab, each after those it points at.

    With each table its links: (column, table it points at, column there), of which one is enough. Slabs themselves come
    first, without a link: a piece belongs to itself, not to the slab it was cut from.
    """
    found: dict[str, tuple[Table, tuple[tuple[str, str, str], ...]]] = {slabs.name: (slabs, ())}
    for table in all_tables():
        links = tuple(
            (key.parent.name, key.column.table.name, key.column.name)
            for key in sorted(table.foreign_keys, key=lambda key: key.parent.name)
            if key.column.table.name in found and key.column.table is not table
        )
        if table is not slabs and links:
            found[table.name] = (table, links)
    return tuple(found.values())
