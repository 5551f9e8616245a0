"""How two photos of a slab lie on each other: asked once, which takes a second, and kept."""

import hashlib
import json
import math
from dataclasses import dataclass, field

import numpy as np
from sqlalchemy import delete, insert, select

from grainlog.checks.register import Look, NotTheSame, register
from grainlog.errors import GrainlogError
from grainlog.notes import Note
from grainlog.yard.check_tables import check_pairs
from grainlog.yard.check_view import NoView, look_at_survey
from grainlog.yard.database import Database
from grainlog.yard.entry import SurveyEntry
from grainlog.yard.filing import now_text
from grainlog.yard.seal import set_seal

#: Count it up when `grainlog.checks.register` answers otherwise than before: what was kept is then asked again.
WAY = 2


@dataclass(frozen=True)
class Laid:
    """How a later photo lies on an earlier one.

    matrix : (2, 3) float64, later slab frame to earlier one, mm
    across, across_u : earlier width over later width, and its standard uncertainty
    """

    matrix: np.ndarray
    across: float
    across_u: float
    residual_mm: float
    notes: tuple[Note, ...] = ()

    def onto(self, earlier: "Laid") -> "Laid":
        """The same photo on what `earlier` lies on."""
        turn, shift = earlier.matrix[:, :2], earlier.matrix[:, 2]
        matrix = np.column_stack([turn @ self.matrix[:, :2], turn @ self.matrix[:, 2] + shift])
        across = self.across * earlier.across
        u = across * math.hypot(self.across_u / self.across, earlier.across_u / earlier.across)
        return Laid(matrix, across, u, math.hypot(self.residual_mm, earlier.residual_mm), (*earlier.notes, *self.notes))


@dataclass(frozen=True)
class Refused:
    """Why a photo does not lie on another."""

    code: str
    why: str


@dataclass
class Pairs:
    """The pairs of one yard; the looks of photos are kept in mind while it is used."""

    database: Database
    _looks: dict[int, Look] = field(default_factory=dict)

    def lay(self, earlier: SurveyEntry, later: SurveyEntry) -> Laid | Refused:
        """How one survey's photo lies on an earlier one's, from what is kept, else found out and kept."""
        kept = self._kept(earlier, later)
        return self._found(earlier, later) if kept is None else kept

    def _kept(self, earlier: SurveyEntry, later: SurveyEntry) -> Laid | Refused | None:
        query = select(check_pairs).where(check_pairs.c.earlier_id == earlier.id, check_pairs.c.later_id == later.id)
        with self.database.reading() as connection:
            row = connection.execute(query).first()
        if row is None or row.compared != _compared(earlier, later):
            return None
        if row.laid is None:
            return Refused(row.code, row.why)
        told = json.loads(row.laid)
        notes = tuple(Note(note["code"], note["message"]) for note in told["notes"])
        return Laid(np.array(told["matrix"]), told["across"], told["across_u"], told["residual_mm"], notes)

    def _found(self, earlier: SurveyEntry, later: SurveyEntry) -> Laid | Refused:
        try:
            one, two = self._look(earlier), self._look(later)
        except GrainlogError as error:
            # A lost photo may be put back, so this is not kept.
            why = f"the face cannot be shown again, because {error}." if isinstance(error, NoView) else str(error)
            return Refused("no-view", why)
        laid, refused = None, None
        try:
            found = register(one, two, math.hypot(scale_u(earlier.record), scale_u(later.record)))
            # `shrinkage` is 1 - 1 / across, so its uncertainty is that of across over across squared.
            laid = Laid(found.matrix, found.across, found.shrinkage_u * found.across**2, found.residual_mm, found.notes)
        except NotTheSame as error:
            refused = Refused(error.code, str(error))
        told = None if laid is None else json.dumps({
            "matrix": laid.matrix.tolist(), "across": laid.across, "across_u": laid.across_u, "residual_mm": laid.residual_mm,
            "notes": [{"code": note.code, "message": note.message} for note in laid.notes],
        })  # fmt: skip
        with self.database.writing() as connection:
            same = (check_pairs.c.earlier_id == earlier.id, check_pairs.c.later_id == later.id)
            connection.execute(delete(check_pairs).where(*same))
            row = {
                "earlier_id": earlier.id, "later_id": later.id, "compared": _compared(earlier, later), "laid": told,
                "found_at": now_text(),
            }  # fmt: skip
            if refused is not None:
                row |= {"code": refused.code, "why": refused.why}
            key = connection.execute(insert(check_pairs).values(row)).inserted_primary_key[0]
            set_seal(connection, check_pairs, check_pairs.c.id == key)
        return laid or refused

    def _look(self, survey: SurveyEntry) -> Look:
        if survey.id not in self._looks:
            self._looks[survey.id] = look_at_survey(survey)
        return self._looks[survey.id]


def _compared(earlier: SurveyEntry, later: SurveyEntry) -> str:
    """What the answer hangs on: the way of comparing, both outlines and how sure both scales are."""
    said = [[one.record.get("outline"), scale_u(one.record)] for one in (earlier, later)]
    return f"{WAY}:{hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()}"


def scale_u(record) -> float:
    """Relative standard uncertainty of a survey's scale across the slab: that of its mean width without the outline's."""
    width = record["face"].get("width_mean_mm") or {}
    if not width.get("value"):
        return 0.0
    outline = (width.get("budget") or {}).get("outline", 0.0)
    return math.sqrt(max(width["u"] ** 2 - outline**2, 0.0)) / width["value"]
