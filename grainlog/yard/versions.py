"""Versions of a survey: a mended one takes the place of the one before, which stays and can be looked at and brought back.

What rests on a survey follows: the slab's figures, its outline, the marks drawn on it (moved with the slab's frame, by way
of the photo). Names of checks and how photos lie on each other follow by themselves (`check_following`, `check_pairs`).
"""

import json
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import Connection, Row, delete, func, insert, select, update

from grainlog.yard import disk
from grainlog.yard.check_view import NoView, mapped
from grainlog.yard.database import Database
from grainlog.yard.errors import FilingRefused, NoSuchSlab
from grainlog.yard.filing import checked_record, now_text, outline_parts
from grainlog.yard.fit_curves import enter_curve
from grainlog.yard.fit_tables import defects
from grainlog.yard.folder_lock import handling_files
from grainlog.yard.keeping import (
    INCOMING,
    Parcel,
    in_a_sentence,
    is_registered,
    place_of,
    put_in_place,
)
from grainlog.yard.life_changes import record_change
from grainlog.yard.registering import refresh_standing
from grainlog.yard.schema import outlines, surveys
from grainlog.yard.seal import set_seal
from grainlog.yard.version_tables import survey_versions

#: What the slab's history calls it.
MENDED, BROUGHT_BACK = "survey mended", "survey brought back"


@dataclass(frozen=True)
class EarlierVersion:
    """What a survey said before it was mended: version 1 was filed. why : why it was replaced. Pictures None if none."""

    survey: int
    version: int
    record: Mapping[str, Any]
    flat: Path | None
    overlay: Path | None
    replaced_at: str
    why: str


class Versions:
    """The versions of one yard's surveys."""

    def __init__(self, database: Database, folder: Path):
        self._database = database
        self._folder = folder

    def slab_of(self, survey: int) -> int:
        """The slab that a survey is filed under. Raises NoSuchSlab."""
        with self._database.reading() as connection:
            return _row(connection, survey).slab_number

    def earlier(self, survey: int) -> tuple[EarlierVersion, ...]:
        """What a survey said before, the oldest first; empty where it was never mended."""
        query = select(survey_versions).where(survey_versions.c.survey_id == survey).order_by(survey_versions.c.version)
        with self._database.reading() as connection:
            rows = list(connection.execute(query))
        return tuple(
            EarlierVersion(
                row.survey_id, row.version, json.loads(row.record), row.flat_path and self._folder / row.flat_path,
                row.overlay_path and self._folder / row.overlay_path, row.replaced_at, row.why,
            )
            for row in rows
        )  # fmt: skip

    def require_mendable(self, survey: int) -> None:
        """Raises FilingRefused for a survey that cannot have a new version, NoSuchSlab."""
        with self._database.reading() as connection:
            _refuse_history(_row(connection, survey))

    def replace(
        self,
        survey: int,
        record: Mapping[str, Any],
        flat: bytes,
        overlay: bytes,
        why: str,
        what: str = MENDED,
    ) -> int:
        """Give a survey a new version, measured from the same photo; returns its number (the filed one is 1).

        flat, overlay : its pictures, as JPEG files. why : a few words for the slab's history.

        Raises FilingRefused, NoSuchSlab, YardError; nothing is changed then.
        """
        text = checked_record(record)
        with in_a_sentence("the survey is as it was"), handling_files(self._folder):
            with self._database.reading() as connection:
                row = _row(connection, survey)
            # A name of its own for each: the earlier version keeps its pictures.
            token = secrets.token_hex(4)
            parcels = [
                self._stage(kind, f"{kind}-{token}", row.photo_sha256, data)
                for kind, data in (("flat", flat), ("overlay", overlay))
            ]
            try:
                with self._database.writing() as connection:
                    version = self._enter(connection, survey, json.loads(text), text, parcels, why, what)
                    put_in_place(self._folder, parcels)
            except BaseException:
                with self._database.reading() as connection:
                    for parcel in parcels:
                        if not is_registered(connection, parcel.place):
                            (self._folder / parcel.place).unlink(missing_ok=True)
                raise
            finally:
                for parcel in parcels:
                    parcel.waiting.unlink(missing_ok=True)
        return version

    def bring_back(self, survey: int, version: int) -> int:
        """Make an earlier version the newest again, as a version of its own. Raises FilingRefused, NoSuchSlab, YardError."""
        found = next((one for one in self.earlier(survey) if one.version == version), None)
        if found is None or found.flat is None or found.overlay is None:
            raise FilingRefused(
                "There is no such earlier version of this survey to bring back; look at its versions again."
            )
        with in_a_sentence("the survey is as it was"):
            flat, overlay = found.flat.read_bytes(), found.overlay.read_bytes()
        return self.replace(
            survey,
            found.record,
            flat,
            overlay,
            f"version {version} again",
            BROUGHT_BACK,
        )

    def _stage(self, kind: str, name: str, photo_sha256: str, data: bytes) -> Parcel:
        waiting = self._folder / INCOMING / f"{secrets.token_hex(8)}-{kind}.part"
        disk.make_folder(waiting.parent)
        disk.write_file(waiting, data)
        return Parcel(kind, waiting, place_of(name, photo_sha256, ".jpg"), disk.sha256_of(waiting))

    def _enter(
        self,
        connection: Connection,
        survey: int,
        record: dict,
        text: str,
        parcels: list[Parcel],
        why: str,
        what: str,
    ) -> int:
        row = _row(connection, survey)
        _refuse_history(row)
        if record["photo"]["sha256"] != row.photo_sha256 or record["face"].get("side") != row.side:
            raise FilingRefused(
                "That was measured from another photo or another face; mend the survey of its own photo."
            )
        last = connection.execute(
            select(func.max(survey_versions.c.version)).where(survey_versions.c.survey_id == survey)
        ).scalar()
        kept = {
            name: row._mapping[name]
            for name in (
                "record",
                "flat_path",
                "flat_sha256",
                "overlay_path",
                "overlay_sha256",
            )
        }
        key = connection.execute(
            insert(survey_versions).values(
                survey_id=survey,
                version=(last or 0) + 1,
                replaced_at=now_text(),
                why=why,
                **kept,
            )
        ).inserted_primary_key[0]
        set_seal(connection, survey_versions, survey_versions.c.id == key)
        pictures = {
            f"{one.kind}_{name}": value
            for one in parcels
            for name, value in (("path", one.place), ("sha256", one.sha256))
        }
        connection.execute(update(surveys).where(surveys.c.id == survey).values(record=text, **pictures))
        set_seal(connection, surveys, surveys.c.id == survey)
        before = json.loads(row.record)
        _outlines_follow(connection, survey, row.slab_number, record)
        _marks_follow(connection, survey, before, record)
        refresh_standing(connection, row.slab_number)
        said = (
            f"survey {survey} of {row.surveyed_at[:10]}, {why}" if why else f"survey {survey} of {row.surveyed_at[:10]}"
        )
        record_change(connection, row.slab_number, date.today(), what, note=said)
        return (last or 0) + 2


def _row(connection: Connection, survey: int) -> Row:
    row = connection.execute(select(surveys).where(surveys.c.id == survey)).first()
    if row is None:
        raise NoSuchSlab(f"There is no survey {survey} in this yard; look at the slab's surveys.")
    return row


def _refuse_history(row: Row) -> None:
    if row.cut_from is not None or row.before_cut:
        raise FilingRefused(
            "The slab was cut since this photo, so its outline is history; take a new photo of what is left."
        )


def _outlines_follow(connection: Connection, survey: int, slab: int, record: Mapping) -> None:
    connection.execute(delete(outlines).where(outlines.c.survey_id == survey))
    parts = outline_parts(record)
    for (kind, part), points in parts.items():
        connection.execute(
            insert(outlines).values(survey_id=survey, kind=kind, part=part, points_mm=json.dumps(points))
        )
    if wood := parts.get(("wood", 0)):
        enter_curve(connection, survey, slab, wood)


def _marks_follow(connection: Connection, survey: int, before: Mapping, after: Mapping) -> None:
    """Marks stand in the frame of the slab, which a new outline turns and shifts a little; the wood under them stays."""
    rows = list(connection.execute(select(defects.c.id, defects.c.points_mm).where(defects.c.survey_id == survey)))
    if not rows:
        return
    try:
        old, new = mapped(before), mapped(after)
    except NoView:
        return
    for key, points in rows:
        moved = new.to_mm(old.to_px(np.array(json.loads(points), float)))
        connection.execute(
            update(defects).where(defects.c.id == key).values(points_mm=json.dumps(np.round(moved, 2).tolist()))
        )
        set_seal(connection, defects, defects.c.id == key)
