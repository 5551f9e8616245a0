"""Putting back a stored file that was lost or damaged, when the same photo is added again."""

from dataclasses import replace
from pathlib import Path

from sqlalchemy import Connection, select, update

from grainlog.yard.filing import Filed
from grainlog.yard.joined import further_files
from grainlog.yard.keeping import FURTHER, Parcel, is_whole, put_in_place
from grainlog.yard.registering import picture_columns
from grainlog.yard.schema import surveys
from grainlog.yard.seal import set_seal
from grainlog.yard.version_tables import survey_versions


def whole_files(connection: Connection, folder: Path, filed: Filed) -> dict[str, bool]:
    """Whether each file of a survey ("original", "flat", "overlay") is as it was stored; True for one never made."""
    row = connection.execute(select(surveys).where(surveys.c.id == filed.survey)).one()
    files = {
        "original": (row.original_path, row.photo_sha256),
        "flat": (row.flat_path, row.flat_sha256),
        "overlay": (row.overlay_path, row.overlay_sha256),
    }
    for _, position, place, sha256 in further_files(connection, [filed.survey]):
        files[f"{FURTHER}{position}"] = (place, sha256)
    return {kind: place is None or is_whole(folder / place, sha256) for kind, (place, sha256) in files.items()}


def mend(connection: Connection, folder: Path, filed: Filed, parcels: list[Parcel]) -> None:
    """Put staged files where a survey's own are lost or damaged. Raises OSError."""
    whole = whole_files(connection, folder, filed)
    # A photo of a joined survey that is added alone again brings pictures that are not the survey's, and no further photos.
    fresh = {parcel.kind: parcel for parcel in parcels if not whole.get(parcel.kind, True)}
    if connection.execute(select(survey_versions.c.id).where(survey_versions.c.survey_id == filed.survey)).first() is not None:
        # These pictures are of the survey before it was mended by hand.
        fresh = {kind: parcel for kind, parcel in fresh.items() if kind not in ("flat", "overlay")}
    this_survey = surveys.c.id == filed.survey
    if "original" in fresh:
        # The same bytes may come under another suffix this time; the entry keeps the first.
        place = connection.execute(select(surveys.c.original_path).where(this_survey)).scalar_one()
        fresh["original"] = replace(fresh["original"], place=place)
    put_in_place(folder, fresh.values())
    if columns := picture_columns(fresh):
        connection.execute(update(surveys).where(this_survey).values(columns))
        set_seal(connection, surveys, this_survey)
