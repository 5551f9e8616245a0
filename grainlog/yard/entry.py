"""One slab's entry: everything the yard keeps of it."""

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Mapping

from sqlalchemy import Connection, select

from grainlog.units.quantity import Quantity
from grainlog.yard.errors import NoSuchSlab
from grainlog.yard.joined import further_originals
from grainlog.yard.keeping import REMOVED
from grainlog.yard.registering import surveyed
from grainlog.yard.schema import logs, slabs, surveys
from grainlog.yard.standing import newest_first, quantity, standing
from grainlog.yard.tags import tag_of


@dataclass(frozen=True)
class SurveyEntry:
    """One survey as filed.

    side : "bark", "heart" or None where nobody said.
    surveyed_at : when the photo was taken, by the clock on the wall there; filed_at : when it was filed, UTC.
    record : the survey pipeline's record, whole.
    cut_from : the survey that this one was worked out from after a cut; its photo shows the slab before the cut.
    before_cut : the slab was cut since, so this one is history.
    original, flat, overlay : absolute paths; None for a picture that was not made.
    further : the other photos, where several were joined in this survey; pixels of its record are then the flat view's.
    volume_mm3, board_feet : of the face measured; None without a thickness.
    """

    id: int
    side: str | None
    surveyed_at: datetime
    filed_at: datetime
    photo_name: str
    note: str
    thickness_readings_mm: tuple[float, ...]
    record: Mapping[str, Any]
    cut_from: int | None
    before_cut: bool
    original: Path
    flat: Path | None
    overlay: Path | None
    volume_mm3: Quantity | None
    board_feet: Quantity | None
    further: tuple[Path, ...] = ()


@dataclass(frozen=True)
class SlabEntry:
    """One slab.

    surveys : newest first.
    number : its key; `tag` is what stands on the wood. piece_of : the slab that it was cut from.
    figures : what stands for the slab, by name (see `standing`); volume and board feet are the mean of both faces
        when both are surveyed. None where unknown.
    one_face_only : True while volume and board feet rest on one face, which misses the slope of the live edges.
    """

    number: int
    piece_of: int | None
    log: str
    order: int
    species: str | None
    surveys: tuple[SurveyEntry, ...]
    figures: Mapping[str, Quantity | None]
    faces: tuple[str, ...]
    one_face_only: bool

    @property
    def tag(self) -> str:
        """What stands on the wood: "12", or "12A" for a piece."""
        return tag_of(self.number)

    @property
    def by_face(self) -> dict[str, SurveyEntry]:
        """The newest survey of each face that is known by name."""
        return {survey.side: survey for survey in reversed(self.surveys) if survey.side is not None}


def read_entry(connection: Connection, folder: Path, number: int) -> SlabEntry:
    """A slab with all its surveys. Raises NoSuchSlab."""
    query = select(slabs, logs.c.name, logs.c.species).join(logs, slabs.c.log_id == logs.c.id)
    slab = connection.execute(query.where(slabs.c.number == number)).first()
    if slab is None:
        raise NoSuchSlab(_missing(folder, number))
    rows = {row.id: row for row in connection.execute(select(surveys).where(surveys.c.slab_number == number))}
    further = further_originals(connection, folder, rows)
    told = newest_first(surveyed(row) for row in rows.values())
    stands = standing(told)
    return SlabEntry(
        number=slab.number,
        piece_of=slab.piece_of,
        log=slab.name,
        order=slab.order_in_log,
        species=slab.species,
        surveys=tuple(_survey(rows[survey.id], folder, further.get(survey.id, ())) for survey in told),
        figures=stands.figures,
        faces=stands.faces,
        one_face_only=stands.one_face_only,
    )


def removed_folder(folder: Path, number: int) -> Path:
    """Where what was kept of a removed slab lies."""
    return folder / REMOVED / f"slab-{tag_of(number)}"


def _survey(row: Any, folder: Path, further: tuple[Path, ...]) -> SurveyEntry:
    record = json.loads(row.record)
    return SurveyEntry(
        id=row.id,
        side=row.side,
        surveyed_at=datetime.fromisoformat(row.surveyed_at),
        filed_at=datetime.fromisoformat(row.filed_at),
        photo_name=row.photo_name,
        note=row.note,
        thickness_readings_mm=tuple(json.loads(row.thickness_readings_mm)),
        record=record,
        cut_from=row.cut_from,
        before_cut=bool(row.before_cut),
        original=folder / row.original_path,
        flat=folder / row.flat_path if row.flat_path else None,
        overlay=folder / row.overlay_path if row.overlay_path else None,
        volume_mm3=quantity(record["face"], "volume_mm3"),
        board_feet=quantity(record["face"], "board_feet"),
        further=further,
    )


def _missing(folder: Path, number: int) -> str:
    kept = removed_folder(folder, number)
    if kept.is_dir():
        return f"Slab {tag_of(number)} was removed; what was kept of it lies in {kept}."
    return f"There is no slab {tag_of(number)} in this yard; list the slabs to see which there are."
