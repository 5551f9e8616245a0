"""What the yard's slabs are good for: finding one for a piece, pairs, and the defects drawn on them."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from grainlog.yard.database import Database
from grainlog.yard.finding import Found, find
from grainlog.yard.fit_defects import Defects
from grainlog.yard.fit_pairs import FoundPairs, PairRequest, find_pairs
from grainlog.yard.fit_request import FindRequest

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

    def pairs(self, request: PairRequest) -> FoundPairs:
        """Pairs of slabs that make a top. Raises PieceRefused, QueryRefused, NoSuchSlab."""
        return find_pairs(self._database, request)
