"""A thickness that was read after the photo was filed: the surveys of the slab get a new version with it."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from grainlog.yard.database import Database
from grainlog.yard.entry import SlabEntry, SurveyEntry
from grainlog.yard.errors import LifeRefused
from grainlog.yard.life_cut_shape import record_with_thickness
from grainlog.yard.versions import Versions

READ = "thickness read"
#: What is said in the slab's history may be so long.
_MOST_NOTE = 400


def say_thickness(database: Database, folder: Path, entry: SlabEntry, readings_mm: tuple[float, ...], note: str = "") -> None:
    """Give the newest survey of each face of a slab this thickness, as a new version; the one before stays.

    Raises LifeRefused where the thickness is part of a survey's scale or its pictures are gone, WrongUse for readings that
    are no thickness, FilingRefused, YardError.
    """
    standing = [survey for survey in entry.surveys if not survey.before_cut]
    faces = list({survey.side: survey for survey in reversed(standing)}.values())
    told = [(survey, _with(survey.record, readings_mm), *_pictures(survey)) for survey in faces]
    for survey, record, flat, overlay in told:
        Versions(database, folder).replace(survey.id, record, flat, overlay, note[:_MOST_NOTE], READ)


def _with(record: Mapping[str, Any], readings_mm: tuple[float, ...]) -> dict[str, Any]:
    if (record.get("scale") or {}).get("cards_on") == "floor":
        raise LifeRefused(
            "The cards lay on the floor, so how high the face lay is part of the scale: mend the photo with the new thickness, "
            "which measures it again."
        )
    made = record_with_thickness(record, readings_mm, {})
    if "cut" in record:
        made["cut"] = record["cut"]
    else:
        del made["cut"]
    return made


def _pictures(survey: SurveyEntry) -> tuple[bytes, bytes]:
    try:
        if survey.flat is None or survey.overlay is None:
            raise FileNotFoundError
        return survey.flat.read_bytes(), survey.overlay.read_bytes()
    except OSError:
        raise LifeRefused(
            f"The pictures of the photo of {survey.surveyed_at.date()} are not there, so it cannot be given a thickness; add the "
            "photo again, and photograph a piece that was cut."
        ) from None
