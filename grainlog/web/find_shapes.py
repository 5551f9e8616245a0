"""Shapes of one's own that were sent to the find page, kept in memory for as long as the page runs, the newest of them."""

import hashlib
from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock

from grainlog.fit.errors import PieceRefused
from grainlog.fit.piece import Piece, free

#: The largest drawing taken, bytes, and how many are remembered.
LARGEST, _KEPT = 1_000_000, 60


@dataclass(frozen=True, eq=False)
class DrawnTop:
    """A top from a file, by the name that the file came with."""

    name: str
    piece: Piece


class DrawnTops:
    """The tops that were sent, by a mark of what is in their files."""

    def __init__(self) -> None:
        self._tops: OrderedDict[str, DrawnTop] = OrderedDict()
        self._lock = Lock()

    def take(self, data: bytes, name: str) -> str:
        """Keep the shape in a file; returns its mark. Raises PieceRefused."""
        from grainlog.fit.top_file import top_in  # its readers are slow to load

        made = DrawnTop(" ".join(name.split())[:100] or "drawing", free(top_in(data, name)))
        mark = hashlib.sha256(data).hexdigest()[:16]
        with self._lock:
            self._tops[mark] = made
            self._tops.move_to_end(mark)
            while len(self._tops) > _KEPT:
                self._tops.popitem(last=False)
        return mark

    def get(self, mark: str) -> DrawnTop:
        """What was kept under a mark. Raises PieceRefused where it is not remembered any more."""
        with self._lock:
            if mark not in self._tops:
                raise PieceRefused("This drawing is not remembered any more; choose its file again.")
            return self._tops[mark]
