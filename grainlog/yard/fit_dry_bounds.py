"""How much a slab can change at the most on its way to a moisture, by its log's species and whether it was surveyed green.

Green, a size is multiplied by 1 - S at the moisture, S between what the species loses radially and tangentially, whatever
was read later. Of any other slab only that is known which no moisture on the survey's day could exceed: from oven-dry on
the one side, from green on the other.

The bounds stand in two tables of the connection's own, gone with it: one row for each kind of change, with where in the
curves to look and for what, and one for each log.
"""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from sqlalchemy import (
    Column,
    ColumnElement,
    Connection,
    Float,
    Integer,
    MetaData,
    Table,
    Text,
    case,
    exists,
    func,
    insert,
    or_,
    select,
)

from grainlog.drying.assess import GREEN_DAYS
from grainlog.drying.dry_size import ALONG, shrinkage
from grainlog.drying.errors import DryingError
from grainlog.drying.species import Species, find_species
from grainlog.fit.curve import DIGITS, digits_for, entry_for
from grainlog.fit.drying_outline import Change
from grainlog.yard.drying_tables import moisture_readings, weighings
from grainlog.yard.drying_wood import logs_wood, own_species_of
from grainlog.yard.fit_request import (
    NEAR_MM,
    Asked,
    FindRequest,
    area_asked,
    asked_of,
    round_asked,
    wide_enough,
)
from grainlog.yard.fit_tables import outline_curves
from grainlog.yard.schema import logs, slabs

_ROUNDING = 1e-9


def change_of(species: Species, moisture: float, green: bool) -> Change | None:
    """The bounds of a slab's factors to a moisture, surveyed green or at any other; None for a species without shrinkage.

    As `drying.dry_size.scale_factors` has them, with any share of radial and tangential shrinkage.
    """
    if species.radial is None or species.tangential is None:
        return None
    totals = sorted((species.radial, species.tangential))

    def ratio(total: float, then: float) -> float:
        return (1 - shrinkage(total, moisture)) / (1 - shrinkage(total, then))

    # Both grow as the survey's moisture falls; green is where nothing has shrunk yet.
    driest = 1.0 if green else 0.0
    across = [ratio(total, then) for total in totals for then in (1.0, driest)]
    along = [ratio(ALONG, then) for then in (1.0, driest)]
    low, high = 1 - _ROUNDING, 1 + _ROUNDING
    return Change((min(along) * low, max(along) * high), (min(across) * low, max(across) * high))


class DryBounds:
    """What the curves must say for a slab to come into question, as conditions of a query joined with `log` and `group`.

    log, group : the two tables. known : a slab's group; NULL where its dry size cannot be known.
    loosest : conditions that every slab meets which meets those of any group; they need none of the two tables.
    """

    def __init__(self, connection: Connection, request: FindRequest):
        self._request = request
        self._asked = asked_of(request)
        metadata = MetaData()
        text = [(f"{name}_{i}", kind) for i in range(len(self._asked)) for name, kind in _COLUMNS]
        self.group = Table(
            "dry_groups", metadata, Column("id", Integer, primary_key=True), Column("area_factor", Float),
            Column("across_most", Float), Column("area_least", Float), Column("round_least", Float),
            *(Column(name, kind) for name, kind in text), prefixes=["TEMPORARY"],
        )  # fmt: skip
        self.log = Table(
            "dry_logs", metadata, Column("log_id", Integer, primary_key=True), Column("green_group", Integer),
            Column("read_group", Integer), *(Column(name, Text) for name in _DAYS), prefixes=["TEMPORARY"],
        )  # fmt: skip
        metadata.create_all(connection, checkfirst=False)
        changes = self._fill(connection)
        self.loosest = self._loosest(changes)
        self.known = self._known()

    def held(self) -> list[ColumnElement[bool]]:
        """What a slab's curves must say at the most favourable factors of its group."""
        return [
            *(self._wide(i, asked, "at", "digits") for i, asked in enumerate(self._asked)),
            outline_curves.c.area_mm2 >= self.group.c.area_least,
            outline_curves.c.round_mm >= self.group.c.round_least,
        ]

    def nearly_held(self) -> list[ColumnElement[bool]]:
        """The same with `NEAR_MM` of width or of length forgiven."""
        return [
            or_(
                self._wide(i, asked, "at", "narrower"),
                self._wide(i, asked, "shorter_at", "digits"),
            )
            for i, asked in enumerate(self._asked)
        ]

    def _wide(self, i: int, asked: Asked, at: str, digits: str) -> ColumnElement[bool]:
        group = self.group.c
        return func.substr(asked.curve, group[f"{at}_{i}"], DIGITS) >= group[f"{digits}_{i}"]

    def _fill(self, connection: Connection) -> list[Change]:
        own, wood = own_species_of(connection), logs_wood(connection)
        groups: dict[Change, int] = {}
        by_name: dict[str | None, tuple[int | None, int | None]] = {None: (None, None)}
        rows = []
        for key, name in connection.execute(select(logs.c.id, logs.c.species)):
            if name not in by_name:
                by_name[name] = self._groups_of(name, own, groups)
            green, read = by_name[name]
            told = wood.get(key)
            days = (
                *_green_days(told and told.sawn_on),
                *_green_days(told and told.felled_on),
            )
            rows.append(
                {
                    "log_id": key,
                    "green_group": green,
                    "read_group": read,
                    **dict(zip(_DAYS, days, strict=True)),
                }
            )
        if rows:
            connection.execute(insert(self.log), rows)
        if groups:
            connection.execute(
                insert(self.group),
                [{"id": key, **self._row(change)} for change, key in groups.items()],
            )
        return list(groups)

    def _groups_of(self, name: str, own: list[Species], groups: dict[Change, int]) -> tuple[int | None, int | None]:
        try:
            species = find_species(name, own)
        except DryingError:
            return None, None
        changes = [change_of(species, self._request.moisture or 0.0, green) for green in (True, False)]
        green, read = (None if one is None else groups.setdefault(one, len(groups) + 1) for one in changes)
        return green, read

    def _row(self, change: Change) -> dict[str, Any]:
        most = max(change.along[1], change.across[1])
        row: dict[str, Any] = {
            "area_factor": change.along[0] * change.across[0],
            "across_most": change.across[1],
            "area_least": area_asked(self._request) / (change.along[1] * change.across[1]),
            "round_least": round_asked(self._request) / most,
        }
        for i, asked in enumerate(self._asked):
            length, width = before(change, asked)
            row[f"at_{i}"], row[f"digits_{i}"] = _at(length), digits_for(width)
            row[f"narrower_{i}"] = digits_for(max(width - NEAR_MM / change.across[0], 0.0))
            row[f"shorter_at_{i}"] = _at(max(length - NEAR_MM / change.along[0], 0.0))
        return row

    def _loosest(self, changes: Sequence[Change]) -> list[ColumnElement[bool]]:
        along, across = ([getattr(one, name) for one in changes] or [(1.0, 1.0)] for name in ("along", "across"))
        widest = Change(*((min(low for low, _ in pairs), max(high for _, high in pairs)) for pairs in (along, across)))
        row = self._row(widest)
        return [
            *(wide_enough(asked.curve, *before(widest, asked)) for asked in self._asked),
            outline_curves.c.area_mm2 >= row["area_least"],
            outline_curves.c.round_mm >= row["round_least"],
        ]

    def _known(self) -> ColumnElement[int]:
        day, log = func.substr(slabs.c.surveyed_at, 1, 10), self.log.c
        green = or_(
            day.between(log.sawn_first, log.sawn_last),
            day.between(log.felled_first, log.felled_last),
        )
        read = or_(
            # Of a piece, the readings of the slab it was cut from count too; there are few pieces.
            slabs.c.number < 0,
            *(
                exists().where(
                    table.c.slab_number == slabs.c.number,
                    table.c.taken_back_at.is_(None),
                )
                for table in (moisture_readings, weighings)
            ),
        )
        return case((green, log.green_group), (read, log.read_group))


def before(change: Change, asked: Asked) -> tuple[float, float]:
    """Length and width that the measured outline must hold for what is asked of the dry one, mm."""
    return (change.stretch_before if asked.live else change.least_before)(asked.length, asked.width)


_COLUMNS = (
    ("at", Integer),
    ("digits", Text),
    ("narrower", Text),
    ("shorter_at", Integer),
)
_DAYS = ("sawn_first", "sawn_last", "felled_first", "felled_last")


def _green_days(day: date | None) -> tuple[str | None, str | None]:
    """The first and the last day on which a survey after sawing or felling is of green wood."""
    return (None, None) if day is None else (day.isoformat(), (day + timedelta(days=GREEN_DAYS)).isoformat())


def _at(length: float) -> int:
    """Where in a curve the bound for a length stands, counted from 1 as `substr` does."""
    return DIGITS * entry_for(length) + 1
