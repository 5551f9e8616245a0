"""Cuts: a slab that was trimmed or ripped starts a new outline; one that was cut up lives on as 12A and 12B.

The surveys before the cut stay, with their checks, as history; what counts from then on is worked out from the newest
survey of each face (`life_cut_shape`) until the piece is photographed itself. Such a survey keeps the day of the photo
that it rests on, because that is when the wood had these sizes.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from string import ascii_uppercase
from typing import Any

import numpy as np
import shapely
from sqlalchemy import Connection, insert, select, update

from grainlog.face.frame import Alignment, OutlineError, align_to
from grainlog.yard.database import Database
from grainlog.yard.entry import SlabEntry, SurveyEntry, read_entry, removed_folder
from grainlog.yard.errors import LifeRefused
from grainlog.yard.filing import folded, now_text, outline_parts
from grainlog.yard.fit_defects import Drawn, drawn_on
from grainlog.yard.life_changes import record_change, require_present
from grainlog.yard.life_cut_marks import Moved, carry_marks
from grainlog.yard.life_cut_shape import (
    PARTS,
    Cut,
    frame_of_part,
    halves,
    record_of_part,
    record_with_thickness,
)
from grainlog.yard.life_state import Life, read_life
from grainlog.yard.places import leave_stack
from grainlog.yard.registering import refresh_standing
from grainlog.yard.schema import outlines, slabs, surveys
from grainlog.yard.seal import set_seal
from grainlog.yard.tags import letter_of, piece_number, root_of, tag_of
from grainlog.yard.words import refresh_words


@dataclass(frozen=True)
class AfterCut:
    """What a cut left: the numbers, in the order of the parts, and the faces whose outline was carried over.

    lost_marks : numbers of drawn defects that could not be carried over.
    """

    numbers: tuple[int, ...]
    faces: tuple[str | None, ...]
    left_behind: tuple[str | None, ...]
    lost_marks: tuple[int, ...] = ()


class Cuts:
    """Cutting the slabs of one yard."""

    def __init__(self, database: Database, folder: Path):
        self._database = database
        self._folder = folder

    def cut(self, number: int, cut: Cut, keep: str | None = None, day: date | None = None, note: str = "") -> AfterCut:
        """Cut a slab.

        keep : the part that keeps the slab's number ("start", "end", "left", "right"), the other being waste; None for
        two pieces with letters. Raises LifeRefused, NoSuchSlab; nothing is changed then.
        """
        day = day or date.today()
        parts = PARTS[cut.direction]
        if keep is not None and keep not in parts:
            raise LifeRefused(f"A cut {cut.direction} leaves a {parts[0]} and a {parts[1]}; keep one of these.")
        with self._database.writing() as connection:
            entry, life = self._whole(connection, number)
            faces, left_behind = _faces(entry)
            reference = np.array(entry.surveys[0].record["outline"]["wood_mm"], np.float64)
            where = halves(reference, cut)
            marks = drawn_on(connection, number)
            lost: set[int] = set()
            if keep is not None:
                _leave_behind(connection, number)
                lost |= _enter_parts(connection, number, entry, faces, cut, where[keep], parts.index(keep), marks)
                refresh_standing(connection, number)
                what = "trimmed" if cut.direction == "across" else "ripped"
                record_change(connection, number, day, what, {}, _said(cut, f"kept the {keep}", note))
                numbers: tuple[int, ...] = (number,)
            else:
                numbers = ()
                for index, part in enumerate(parts):
                    piece = self._piece(connection, entry, life, day, _said(cut, f"from {entry.tag}", note))
                    lost |= _enter_parts(connection, piece, entry, faces, cut, where[part], index, marks)
                    refresh_standing(connection, piece)
                    refresh_words(connection, [piece])
                    numbers += (piece,)
                tags = " and ".join(map(tag_of, numbers))
                leave_stack(connection, number, day)
                gone = {"status": "cut up", "until": None, "for_whom": None, "shed": None, "stack": None, "layer": None}
                record_change(connection, number, day, "cut up", gone, _said(cut, f"into {tags}", note))
        sides = tuple(survey.side for survey, _ in faces)
        return AfterCut(numbers, sides, tuple(survey.side for survey in left_behind), tuple(sorted(lost)))

    def flatten(self, number: int, readings_mm: tuple[float, ...], day: date | None = None, note: str = "") -> None:
        """Say how thick a slab is after it was flattened. Raises LifeRefused, NoSuchSlab, WrongUse."""
        with self._database.writing() as connection:
            entry, _ = self._whole(connection, number)
            thickness = entry.figures["thickness_mm"]
            if thickness is not None and readings_mm and min(readings_mm) > thickness.value + 2 * thickness.u:
                raise LifeRefused("Flattening cannot make a slab thicker; look at the thickness again.")
            # The outline stays, so the faces need not be laid on each other.
            standing = [survey for survey in entry.surveys if not survey.before_cut]
            faces = {survey.side: survey for survey in reversed(standing)}
            marks, moved = drawn_on(connection, number), []
            _leave_behind(connection, number)
            for survey in faces.values():
                origin = _origin(entry, survey, {"flattened": True})
                record = record_with_thickness(survey.record, readings_mm, origin)
                key = _enter(connection, number, survey, record, readings_mm)
                moved.append(Moved(survey.id, survey.side, key, None, np.asarray))
            carry_marks(connection, marks, number, moved)
            refresh_standing(connection, number)
            record_change(connection, number, day or date.today(), "flattened", {}, note)

    def thickness(self, number: int, readings_mm: tuple[float, ...], note: str = "") -> None:
        """Say how thick a slab was found to be, with nothing taken off it: its surveys get new versions.

        Raises LifeRefused, FilingRefused, NoSuchSlab, WrongUse, YardError.
        """
        from grainlog.yard.thickness_said import say_thickness

        with self._database.reading() as connection:
            entry, _ = self._whole(connection, number)
        say_thickness(self._database, self._folder, entry, readings_mm, note)

    def _whole(self, connection: Connection, number: int) -> tuple[SlabEntry, Life]:
        entry = read_entry(connection, self._folder, number)
        life = read_life(connection, number)
        require_present(number, life)
        if not (entry.surveys[0].record.get("outline") or {}).get("wood_mm"):
            raise LifeRefused(f"Slab {tag_of(number)} has no outline; photograph it, then cut it here.")
        return entry, life

    def _piece(self, connection: Connection, entry: SlabEntry, life: Life, day: date, said: str) -> int:
        """Start a piece of a slab, as yet without a survey."""
        number = _next_piece(connection, self._folder, entry.number)
        parent = connection.execute(select(slabs).where(slabs.c.number == entry.number)).one()
        connection.execute(
            insert(slabs).values(
                number=number, log_id=parent.log_id, order_in_log=parent.order_in_log, surveyed_at=parent.surveyed_at,
                faces="", one_face_only=1, piece_of=entry.number, letter=letter_of(number),
            )
        )  # fmt: skip
        kept = {"status": life.status, "until": life.until and life.until.isoformat(), "for_whom": life.for_whom,
                "owner": life.owner, "price": life.price, "figure": life.figure, "face_up": life.face_up}  # fmt: skip
        record_change(connection, number, day, "cut from a slab", kept, said)
        return number


_Faces = list[tuple[SurveyEntry, Alignment | None]]


def _faces(entry: SlabEntry) -> tuple[_Faces, list[SurveyEntry]]:
    """The newest survey, and the newest of the other face with how it lies on it; and a face that cannot be so laid."""
    newest = entry.surveys[0]
    faces: _Faces = [(newest, None)]
    left_behind = []
    standing = [survey for survey in entry.surveys if not survey.before_cut and survey.side is not None]
    other = next((survey for survey in standing if newest.side is not None and survey.side != newest.side), None)
    if other is not None:
        try:
            first, second = (np.array(s.record["outline"]["wood_mm"], np.float64) for s in (newest, other))
            alignment = align_to(first, second, same_face=False)
        except (OutlineError, KeyError, TypeError):
            alignment = None
        if alignment is None or alignment.ambiguous:
            left_behind.append(other)
        else:
            faces.append((other, alignment))
    return faces, left_behind


def _enter_parts(
    connection: Connection, number: int, entry: SlabEntry, faces: _Faces, cut: Cut, half: shapely.Polygon, part: int,
    marks: Sequence[Drawn],
) -> set[int]:  # fmt: skip
    """File what lies in `half` of each face as surveys of slab `number`, marks too; returns the marks that could not be carried."""
    moved = []
    for survey, alignment in faces:
        own = half if alignment is None else shapely.transform(half, lambda points, way=alignment: _to_other(way, points))
        thickness = (survey.record["face"].get("thickness") or {}).get("value")
        said = {"direction": cut.direction, "at_mm": cut.at_mm, "kerf_mm": cut.kerf_mm, "part": PARTS[cut.direction][part]}
        record = record_of_part(survey.record, own, cut, thickness, _origin(entry, survey, said))
        key = _enter(connection, number, survey, record)
        moved.append(Moved(survey.id, survey.side, key, own, frame_of_part(survey.record, own)))
    return set(carry_marks(connection, marks, number, moved))


def _to_other(alignment: Alignment, points: np.ndarray) -> np.ndarray:
    """The way back from the first face's frame to the other's (`Alignment.to_first` undone)."""
    back = (points - [alignment.shift, 0.0]) * [1.0, -1.0 if alignment.mirrored else 1.0]
    return [alignment.length, 0.0] - back if alignment.rotate else back


def _origin(entry: SlabEntry, survey: SurveyEntry, said: Mapping[str, Any]) -> dict[str, Any]:
    return {"from_slab": entry.number, "from_survey": survey.id, **said}


def _leave_behind(connection: Connection, number: int) -> None:
    """Make the surveys that a slab has so far its history."""
    query = select(surveys.c.id).where(surveys.c.slab_number == number, surveys.c.before_cut == 0)
    for key in connection.execute(query).scalars().all():
        connection.execute(update(surveys).where(surveys.c.id == key).values(before_cut=1))
        set_seal(connection, surveys, surveys.c.id == key)


def _enter(
    connection: Connection, number: int, survey: SurveyEntry, record: dict, readings: tuple[float, ...] | None = None
) -> int:
    """File a survey that was worked out from another one's photo; returns its key."""
    base = connection.execute(select(surveys).where(surveys.c.id == survey.id)).one()
    thickness = json.dumps(readings) if readings is not None else base.thickness_readings_mm
    key = connection.execute(
        insert(surveys).values(
            slab_number=number, side=base.side, surveyed_at=base.surveyed_at, filed_at=now_text(),
            photo_name=base.photo_name, photo_sha256=base.photo_sha256, original_path=base.original_path,
            thickness_readings_mm=thickness, note=base.note, words_folded=folded(f"{base.note} {base.photo_name}"),
            record=json.dumps(record, allow_nan=False, separators=(",", ":")), cut_from=survey.id,
        )
    ).inserted_primary_key[0]  # fmt: skip
    for (kind, part), points in outline_parts(record).items():
        connection.execute(insert(outlines).values(survey_id=key, kind=kind, part=part, points_mm=json.dumps(points)))
    set_seal(connection, surveys, surveys.c.id == key)
    return key


def _next_piece(connection: Connection, folder: Path, number: int) -> int:
    root = root_of(number)
    # A letter is written on the wood like a number: one that was removed is not given again.
    taken = {
        letter_of(other)
        for other in connection.execute(select(slabs.c.number).where(slabs.c.number < 0)).scalars()
        if root_of(other) == root
    }
    numbers = {letter: piece_number(root, letter) for letter in ascii_uppercase if letter not in taken}
    free = next((letter for letter, key in numbers.items() if not removed_folder(folder, key).exists()), None)
    if free is None:
        raise LifeRefused(f"Slab {root} has been cut into 26 pieces; there is no letter left for another.")
    return piece_number(root, free)


def _said(cut: Cut, what: str, note: str) -> str:
    edge = "the start" if cut.direction == "across" else "the left edge"
    said = f"cut {cut.direction} at {cut.at_mm:.0f} mm from {edge}, kerf {cut.kerf_mm:.0f} mm, {what}"
    return f"{said}; {note}" if note else said
