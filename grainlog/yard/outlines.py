"""The outline that stands for each slab, read for many slabs at once: what the wall draws."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from sqlalchemy import select

from grainlog.yard.database import Database
from grainlog.yard.schema import outlines, surveys

#: Values in one statement; SQLite's own limit is far above it.
_AT_ONCE = 500


@dataclass(frozen=True, eq=False)
class Drawn:
    """The outlines of one survey, each (n, 2) float64, mm, slab frame.

    wood : the face's wood. bark : with flank and bark, empty where none was seen. holes : voids in the wood.
    """

    wood: np.ndarray
    bark: np.ndarray
    holes: tuple[np.ndarray, ...]


class Outlines:
    """The outlines of one yard's slabs."""

    def __init__(self, database: Database):
        self._database = database

    def newest(self, numbers: Sequence[int]) -> dict[int, int]:
        """The survey that counts for each slab, by slab number: its newest since its last cut, with a wood outline."""
        found: dict[int, int] = {}
        drawn = select(outlines.c.survey_id).where(outlines.c.kind == "wood", outlines.c.part == 0)
        query = select(surveys.c.slab_number, surveys.c.id).where(surveys.c.before_cut == 0, surveys.c.id.in_(drawn))
        query = query.order_by(surveys.c.surveyed_at, surveys.c.filed_at, surveys.c.id)
        with self._database.reading() as connection:
            for some in _in_parts(numbers):
                # The last of each slab's rows is its newest.
                found.update(
                    (row.slab_number, row.id)
                    for row in connection.execute(query.where(surveys.c.slab_number.in_(some)))
                )
        return found

    def of(self, survey_ids: Sequence[int]) -> Iterator[tuple[int, Drawn]]:
        """(survey, its outlines) for each that has a wood outline."""
        query = select(outlines.c.survey_id, outlines.c.kind, outlines.c.part, outlines.c.points_mm)
        with self._database.reading() as connection:
            for some in _in_parts(survey_ids):
                rings: dict[int, dict[tuple[str, int], np.ndarray]] = {}
                for survey, kind, part, points in connection.execute(query.where(outlines.c.survey_id.in_(some))):
                    rings.setdefault(survey, {})[kind, part] = np.array(json.loads(points), np.float64).reshape(-1, 2)
                for survey, of in rings.items():
                    if ("wood", 0) in of:
                        holes = tuple(of[key] for key in sorted(of) if key[0] == "hole")
                        yield survey, Drawn(of["wood", 0], of.get(("bark", 0), np.empty((0, 2))), holes)


def _in_parts(keys: Sequence[int]) -> Iterator[Sequence[int]]:
    return (keys[start : start + _AT_ONCE] for start in range(0, len(keys), _AT_ONCE))
