"""Drying in the yard: puts together what is kept of slabs, logs, readings and air, and asks the drying room about it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
from sqlalchemy import Connection, select

from grainlog.drying.assess import Assessed, SlabInShed, assess, moisture_on
from grainlog.drying.climate import ShedAir, shed_air
from grainlog.drying.dry_size import ScaleFactors, scale_factors, scaled_outline
from grainlog.drying.errors import DryingError
from grainlog.drying.finish import Warp
from grainlog.drying.grain import pith_distance
from grainlog.drying.outcome import Measured, Outcome, outcome
from grainlog.drying.photo_check import ShrinkageCheck, check_shrinkage, width_scale
from grainlog.drying.species import Species, find_species
from grainlog.units import Quantity
from grainlog.yard.database import Database
from grainlog.yard.drying_shed import Shed, days_of
from grainlog.yard.drying_wood import (
    LogWood,
    SlabWood,
    Wood,
    logs_wood,
    own_species_of,
    slabs_wood,
)
from grainlog.yard.entry import SlabEntry, SurveyEntry, read_entry
from grainlog.yard.life_tables import slab_life
from grainlog.yard.query import SlabQuery, SlabRow, find_slabs
from grainlog.yard.readings import (
    Entry,
    MoistureEntry,
    Readings,
    WarpEntry,
    WeighingEntry,
    day_of,
    entries_of,
)
from grainlog.yard.schema import slabs
from grainlog.yard.settings import Settings
from grainlog.yard.standing import quantity
from grainlog.yard.tags import root_of


@dataclass(frozen=True)
class SlabDrying:
    """One slab's drying: its entry, what can be said of it, what comes of it, and its readings as kept.

    outline_mm : (n, 2) float64, mm, slab frame: the wood's outline at the target moisture; None where not known.
    """

    entry: SlabEntry
    assessed: Assessed
    outcome: Outcome
    entries: tuple[Entry, ...]
    photo_checks: tuple[ShrinkageCheck, ...]
    outline_mm: np.ndarray | None


@dataclass(frozen=True)
class DryFactors:
    """Scale factors from a slab's newest survey to a moisture, or None and why not."""

    factors: ScaleFactors | None
    why: str


@dataclass(frozen=True)
class _Background:
    """What holds for the whole yard at one moment."""

    own: list[Species]
    entries: dict[int, list[Entry]]
    cut_from: dict[int, int]
    logs: dict[int, LogWood]
    slabs: dict[int, SlabWood]
    log_of: dict[int, int]
    by_place: dict[tuple[int, int], float | None]
    air: ShedAir


class Drying:
    """Everything about drying in one yard: `readings`, `wood`, `shed`, and the answers drawn from them."""

    def __init__(self, database: Database, folder: Path, settings: Settings):
        self._database = database
        self._folder = folder
        self.readings = Readings(database)
        self.wood = Wood(database, settings)
        self.shed = Shed(database)

    def slab(self, number: int, target: float | None = None, today: date | None = None) -> SlabDrying:
        """One slab's drying, towards the yard's target moisture or another. Raises NoSuchSlab, DryingError."""
        allowances, target = self.wood.allowances, self._target(target)
        with self._database.reading() as connection:
            entry = read_entry(connection, self._folder, number)
            background = _background(connection, number)
        newest = entry.surveys[0]
        entries = _of_slab(number, background)
        assessed = assess(_in_shed(_row_of(entry), background), target, today or date.today(), background.air)
        across = self._seen_across(entry)
        checks = [
            check for other in entry.surveys[1:] if (check := _photo_check(other, newest, assessed, across)) is not None
        ]
        dry = None
        if assessed.factors is not None:
            dry = scaled_outline(np.array(newest.record["outline"]["wood_mm"], float), assessed.factors).points_mm
        out = outcome(assessed, _measured(entry), allowances)
        return SlabDrying(entry, assessed, out, tuple(entries), tuple(checks), dry)

    def factors(self, number: int, target: float | None = None, today: date | None = None) -> DryFactors:
        """Factors that take the sizes of a slab's newest survey to a moisture (the yard's target if left out).

        For an outline: `grainlog.drying.scaled_outline(points_mm, factors)`. Where `factors` is None, `why` is a clause that
        says what is missing. Raises NoSuchSlab, DryingError for a target that is no moisture.
        """
        target = self._target(target)
        with self._database.reading() as connection:
            entry = read_entry(connection, self._folder, number)
            background = _background(connection, number)
        assessed = assess(_in_shed(_row_of(entry), background), target, today or date.today(), background.air)
        return DryFactors(assessed.factors, assessed.factors_why)

    def all(
        self, query: SlabQuery | None = None, target: float | None = None, today: date | None = None
    ) -> list[tuple[SlabRow, Assessed]]:
        """Every slab that is still here and meets a query, with what can be said of its drying.

        Raises QueryRefused, DryingError.
        """
        target, today = self._target(target), today or date.today()
        with self._database.reading() as connection:
            away = set(connection.execute(select(slab_life.c.slab_number).where(slab_life.c.present == 0)).scalars())
            rows = [row for row in find_slabs(connection, query or SlabQuery()) if row.number not in away]
            background = _background(connection)
        return [(row, assess(_in_shed(row, background), target, today, background.air)) for row in rows]

    def _seen_across(self, entry: SlabEntry) -> dict[int, tuple[str | None, Quantity]]:
        """By survey whose photo lies on the first one of its face: that face, and its width over the width then, across the grain."""
        looked = [one.side for one in entry.surveys if one.record.get("check_summary") is not None and one.cut_from is None]
        if len(looked) < 2:
            return {}
        # Loads OpenCV, and lays photos on each other where nobody has looked yet.
        from grainlog.yard.check_histories import Checks

        looks = Checks(self._database, self._folder).slab(entry.number).looks
        return {
            look.survey: (look.face, Quantity(1 - look.shrinkage.value, look.shrinkage.u) if look.shrinkage else Quantity(1.0, 0.0))
            for look in looks
            if look.counts
        }

    def _target(self, target: float | None) -> float:
        chosen = self.wood.target if target is None else target
        if not 0 < chosen < 1:
            raise DryingError("A target moisture has to lie between 0 and 100 %.")
        return chosen


def _background(connection: Connection, number: int | None = None) -> _Background:
    """For all slabs, or with the readings of one only."""
    columns = (slabs.c.number, slabs.c.log_id, slabs.c.order_in_log, slabs.c.thickness_mm, slabs.c.piece_of)
    places = list(connection.execute(select(*columns)))
    wanted = None if number is None else sorted({number, root_of(number)})
    return _Background(
        own_species_of(connection),
        entries_of(connection, wanted),
        {row.number: root_of(row.number) for row in places if row.piece_of is not None},
        logs_wood(connection),
        slabs_wood(connection),
        {row.number: row.log_id for row in places},
        {(row.log_id, row.order_in_log): row.thickness_mm for row in places if row.piece_of is None},
        shed_air(days_of(connection)),
    )


def _of_slab(number: int, background: _Background) -> list[Entry]:
    """The entries of a slab, and for a piece the moisture readings of the slab it was cut from."""
    own = background.entries.get(number, [])
    whole = background.cut_from.get(number)
    before = [] if whole is None else background.entries.get(whole, [])
    return sorted([*(one for one in before if isinstance(one, MoistureEntry)), *own], key=day_of)


def _in_shed(row: SlabRow, background: _Background) -> SlabInShed:
    entries = _of_slab(row.number, background)
    log = background.log_of[row.number]
    of_log = background.logs.get(log, LogWood())
    said = background.slabs.get(row.number) or background.slabs.get(background.cut_from.get(row.number, 0), SlabWood())
    species, why = _species(row.species, background.own)
    warp = Warp()
    for entry in entries:
        if isinstance(entry, WarpEntry):
            # The newest word on each counts.
            warp = Warp(*(
                new if new is not None else old
                for new, old in (
                    (entry.warp.cup_mm, warp.cup_mm), (entry.warp.bow_mm, warp.bow_mm), (entry.warp.twist_mm, warp.twist_mm)
                )
            ))  # fmt: skip
    return SlabInShed(
        row.number,
        species,
        why,
        row.surveyed_at.date(),
        row.thickness_mm,
        row.width_mean_mm,
        of_log.felled_on,
        of_log.sawn_on,
        said.rings,
        said.pith_mm if said.pith_mm is not None else _from_order(log, row.order, of_log.pith_order, background),
        tuple(entry.reading for entry in entries if isinstance(entry, MoistureEntry)),
        tuple(entry.weighing for entry in entries if isinstance(entry, WeighingEntry)),
        warp,
    )


def _species(name: str | None, own: list[Species]) -> tuple[Species | None, str]:
    if name is None:
        return None, "the species of its log was not said"
    try:
        return find_species(name, own), ""
    except DryingError as error:
        return None, str(error)


def _from_order(log: int, order: int, pith_order: int | None, background: _Background) -> float | None:
    """Distance to the pith from the places in the log, where every slab between is there with its thickness."""
    if pith_order is None:
        return None
    between = range(min(order, pith_order), max(order, pith_order) + 1)
    thicknesses = [background.by_place.get((log, place)) for place in between]
    known = [thickness for thickness in thicknesses if thickness]
    return pith_distance(order, pith_order, known) if len(known) == len(thicknesses) else None


def _row_of(entry: SlabEntry) -> SlabRow:
    return SlabRow(
        entry.number, entry.log, entry.order, entry.species, entry.surveys[0].surveyed_at, entry.faces, entry.one_face_only,
        **entry.figures,
    )  # fmt: skip


def _measured(entry: SlabEntry) -> Measured:
    face = entry.surveys[0].record["face"]
    thickness = entry.figures["thickness_mm"]
    least = (face.get("thickness") or {}).get("least")
    return Measured(
        length_mm=quantity(face, "length_square_mm") or entry.figures["length_mm"],
        width_mm=entry.figures["width_mean_mm"],
        width_least_mm=entry.figures["width_min_mm"],
        thickness_mm=thickness,
        thickness_least_mm=Quantity(float(least), thickness.u) if least is not None and thickness else thickness,
        volume_mm3=entry.figures["volume_mm3"],
        board_feet=entry.figures["board_feet"],
        area_mm2=entry.figures["area_mm2"],
        bark_mm2=quantity(face, "bark_area_mm2"),
    )


def _photo_check(
    other: SurveyEntry, newest: SurveyEntry, assessed: Assessed, across: Mapping[int, tuple[str | None, Quantity]]
) -> ShrinkageCheck | None:
    """The shrinkage between two surveys of one face, seen and predicted; None where either is not known.

    across : what following the face from photo to photo gives (`Drying._seen_across`). Where it gives nothing, the mean widths
        stand for the scale across the grain.
    """
    measured = _measured_scale(other, newest, across)
    if measured is None or assessed.factors is None:
        return None
    day = other.surveyed_at.date()
    then = moisture_on(day, assessed.slab, assessed.readings, assessed.curve)
    if then.moisture is None or assessed.then.moisture is None or assessed.slab.species is None:
        return None
    if day == newest.surveyed_at.date():
        return None
    predicted = scale_factors(assessed.slab.species, then.moisture, assessed.then.moisture, assessed.rings).across
    return check_shrinkage(measured, predicted)


def _measured_scale(
    other: SurveyEntry, newest: SurveyEntry, across: Mapping[int, tuple[str | None, Quantity]]
) -> Quantity | None:
    """Later over earlier size across the grain; None for two faces."""
    if other.id in across and newest.id in across:
        (face, then), (same, now) = across[other.id], across[newest.id]
        return width_scale(then, now) if face == same else None
    before, after = quantity(other.record["face"], "width_mean_mm"), quantity(newest.record["face"], "width_mean_mm")
    if other.side != newest.side or before is None or after is None:
        return None
    return width_scale(before, after)
