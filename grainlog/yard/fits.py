"""What the yard's slabs are good for: finding one for a piece, pairs, and the defects drawn on them."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from grainlog.yard.database import Database
from grainlog.yard.finding import NEAR_MM, Found, find
from grainlog.yard.fit_curves import enter_missing
from grainlog.yard.fit_defects import Defects
from grainlog.yard.fit_pairs import FoundPairs, PairRequest, find_pairs
from grainlog.yard.fit_request import FindRequest, candidates
from grainlog.yard.outlines import Outlines

if TYPE_CHECKING:
    from grainlog.yard.drying import Drying


class Fits:
    """Searches of one yard's outlines; `defects` are what people drew on them."""

    def __init__(self, database: Database, drying: Callable[[], "Drying"]):
        self._database = database
        self._drying = drying
        self.defects = Defects(database)

    def find(self, request: FindRequest, progress: Callable[[int, int], None] | None = None) -> Found:
        """The slabs that hold a piece, or several, least waste first. Raises PieceRefused, QueryRefused, NoSuchSlab."""
        return find(self._database, self._drying, request, progress)

    def may_hold(self, request: FindRequest) -> tuple[list[int], list[int]]:
        """Numbers of slabs whose curves do not rule a piece out, least wood first; and of those they nearly do, widest first.

        Quick, and only a sieve: `find` with `slabs` tells of each. Raises PieceRefused, QueryRefused.
        """
        request.sound()
        enter_missing(self._database)
        with self._database.reading() as connection:
            sieved = [list(candidates(connection, request))]
            sieved.append(list(candidates(connection, request, NEAR_MM)) if len(request.pieces) == 1 else [])
        newest = Outlines(self._database).newest([candidate.number for part in sieved for candidate in part])
        held, nearly = (
            [candidate.number for candidate in part if newest.get(candidate.number) == candidate.survey]
            for part in sieved
        )
        return held, nearly

    def pairs(self, request: PairRequest) -> FoundPairs:
        """Pairs of slabs that make a top. Raises PieceRefused, QueryRefused, NoSuchSlab."""
        return find_pairs(self._database, request, self._drying)
