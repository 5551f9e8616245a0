"""Further photos of a survey that was joined from several: entering them, finding them again."""

from pathlib import Path
from typing import Iterable, Mapping

from sqlalchemy import Connection, insert, select

from grainlog.yard.filing import CheckedFiling, storable
from grainlog.yard.joined_tables import further_photos
from grainlog.yard.keeping import FURTHER, Parcel
from grainlog.yard.seal import set_seal


def enter_further_photos(connection: Connection, survey: int, sound: CheckedFiling, parcels: Mapping[str, Parcel]) -> None:
    """Enter the photos of a filing after its first, as they were staged."""
    for position, (photo, sha256) in enumerate(sound.filing.further, 2):
        row = {
            "survey_id": survey,
            "position": position,
            "photo_name": storable(photo.name),
            "photo_sha256": sha256,
            "original_path": parcels[f"{FURTHER}{position}"].place,
        }
        key = connection.execute(insert(further_photos).values(row)).inserted_primary_key[0]
        set_seal(connection, further_photos, further_photos.c.id == key)


def survey_of_further(connection: Connection, photo_sha256: str) -> int | None:
    """The survey that a photo is a further one of, if it is."""
    query = select(further_photos.c.survey_id).where(further_photos.c.photo_sha256 == photo_sha256)
    return connection.execute(query).scalar()


def further_files(connection: Connection, surveys: Iterable[int] | None = None) -> list[tuple[int, int, str, str]]:
    """(survey, position, place, SHA-256) of the further photos of some surveys, or of all."""
    columns = further_photos.c
    query = select(columns.survey_id, columns.position, columns.original_path, columns.photo_sha256)
    if surveys is not None:
        query = query.where(columns.survey_id.in_(list(surveys)))
    return [tuple(row) for row in connection.execute(query.order_by(columns.survey_id, columns.position))]


def further_originals(connection: Connection, folder: Path, surveys: Iterable[int]) -> dict[int, tuple[Path, ...]]:
    """Where the further photos of surveys lie, by survey."""
    found: dict[int, tuple[Path, ...]] = {}
    for survey, _, place, _ in further_files(connection, surveys):
        found[survey] = (*found.get(survey, ()), folder / place)
    return found
