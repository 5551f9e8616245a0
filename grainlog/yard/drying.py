"""Drying in the yard: puts together what is kept of slabs, logs, readings and air, and asks the drying room about it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
from sqlalchemy import Connection, select

from grainlog.drying.assess import (
    Assessed,
    assess,
    moisture_on,
    survey_factors,
)
from grainlog.drying.dry_size import ScaleFactors, scale_factors, scaled_outline
from grainlog.drying.errors import DryingError
from grainlog.drying.outcome import Measured, Outcome, outcome
from grainlog.drying.photo_check import ShrinkageCheck, check_shrinkage, width_scale
from grainlog.units import Quantity
from grainlog.yard.database import Database
from grainlog.yard.drying_background import background_of, entries_of_slab, in_shed
from grainlog.yard.drying_shed import Shed
from grainlog.yard.drying_wood import (
    Wood,
)
from grainlog.yard.entry import SlabEntry, SurveyEntry, read_entry
from grainlog.yard.life_tables import slab_life
from grainlog.yard.query import SlabQuery, SlabRow, find_slabs
from grainlog.yard.readings import (
    Entry,
    Readings,
)
from grainlog.yard.settings import Settings
from grainlog.yard.standing import quantity


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
            background = background_of(connection, [number])
        newest = entry.surveys[0]
        entries = entries_of_slab(number, background)
        assessed = assess(in_shed(_row_of(entry), background), target, today or date.today(), background.air)
        across = self._seen_across(entry)
        checks = [
            check for other in entry.surveys[1:] if (check := _photo_check(other, newest, assessed, across)) is not None
        ]
        dry = None
        if assessed.factors is not None:
            dry = scaled_outline(np.array(newest.record["outline"]["wood_mm"], float), assessed.factors).points_mm
        out = outcome(assessed, _measured(entry), allowances)
        return SlabDrying(entry, assessed, out, tuple(entries), tuple(checks), dry)

    def factors(self, number: int, target: float | None = None) -> DryFactors:
        """Factors that take the sizes of a slab's newest survey to a moisture (the yard's target if left out).

        For an outline: `grainlog.drying.scaled_outline(points_mm, factors)`. Where `factors` is None, `why` is a clause that
        says what is missing. Raises NoSuchSlab, DryingError for a target that is no moisture.
        """
        target = self._target(target)
        with self._database.reading() as connection:
            entry = read_entry(connection, self._folder, number)
            background = background_of(connection, [number])
        return DryFactors(*survey_factors(in_shed(_row_of(entry), background), target, background.air))

    def factors_of(self, connection: Connection, rows: Sequence[SlabRow], target: float) -> dict[int, DryFactors]:
        """What `factors` says of each of some slabs, by number; one look into the yard for all of them."""
        background = background_of(connection, [row.number for row in rows])
        return {
            row.number: DryFactors(*survey_factors(in_shed(row, background), target, background.air)) for row in rows
        }

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
            background = background_of(connection)
        return [(row, assess(in_shed(row, background), target, today, background.air)) for row in rows]

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
