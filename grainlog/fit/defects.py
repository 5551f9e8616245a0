"""What is wrong in the wood, and what the maker of a piece wants done about it.

Each kind of defect, or one single defect, is avoided (the piece keeps a margin from it), filled, or left as it is. Only what
is avoided takes wood away from a piece; what is filled or left and lies in the piece is named in the answer.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
import shapely

from grainlog.fit.errors import PieceRefused

#: Kinds by their name in the trade, and what is done about them where nobody says (our choice, no source).
KINDS: Mapping[str, str] = MappingProxyType({
    "check": "fill",
    "pith": "avoid",
    "knot": "leave",
    "bark pocket": "fill",
    "void": "avoid",
    "shake": "avoid",
    "rot": "avoid",
    "metal": "avoid",
    "iron stain": "leave",
    "old insect holes": "leave",
    "insect holes with fresh dust": "avoid",
})  # fmt: skip
TREATMENTS = ("avoid", "fill", "leave")


@dataclass(frozen=True)
class Defect:
    """One defect in the slab frame.

    kind : a key of `KINDS`
    points : (n, 2) float64, mm
        One point, a line of two or more, or with `area` a ring of three or more.
    size : float
        Diameter around a point, or width along a line, mm.
    area : bool
    number : int or None
        By which the person can name it; None for one that nobody drew (a check seen in the photo, a void in the outline).
    """

    kind: str
    points: np.ndarray
    size: float = 0.0
    area: bool = False
    number: int | None = None

    @property
    def shape(self) -> shapely.Geometry:
        """The ground it covers, mm."""
        if self.area:
            return shapely.make_valid(shapely.Polygon(self.points))
        line = shapely.Point(self.points[0]) if len(self.points) == 1 else shapely.LineString(self.points)
        # A drawn line without a width is still something to keep away from.
        return line.buffer(max(self.size, 0.1) / 2)


@dataclass(frozen=True)
class Wishes:
    """What is to be done about which defects.

    by_kind : treatment by kind, over the usual one of `KINDS`
    by_number : treatment of single defects, over that of their kind
    margin : how far a piece keeps away from what is avoided, mm
    """

    by_kind: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    by_number: Mapping[int, str] = field(default_factory=lambda: MappingProxyType({}))
    margin: float = 0.0

    def treatment(self, defect: Defect) -> str:
        """ "avoid", "fill" or "leave"."""
        if defect.number is not None and defect.number in self.by_number:
            return self.by_number[defect.number]
        return self.by_kind.get(defect.kind, KINDS[defect.kind])

    def keep_out(self, defects: Iterable[Defect]) -> shapely.Geometry | None:
        """What a piece may not touch, margin included, mm; None where nothing is avoided."""
        avoided = [defect.shape.buffer(self.margin) for defect in defects if self.treatment(defect) == "avoid"]
        return shapely.union_all(avoided) if avoided else None

    def met_by(self, piece: shapely.Geometry, defects: Iterable[Defect]) -> tuple[tuple[str, str], ...]:
        """(kind, treatment) of each defect that lies in a piece, most frequent kinds first."""
        met = [(d.kind, self.treatment(d)) for d in defects if piece.intersects(d.shape)]
        return tuple(sorted(set(met), key=lambda pair: (-met.count(pair), pair)))


#: Each kind as is usual, no margin.
NO_WISHES = Wishes()


def wishes_from(said: Mapping[str, Sequence[str]], margin: float) -> Wishes:
    """Wishes from what a person says: for each treatment a list of kinds ("knot") or numbers of single defects ("7").

    Raises PieceRefused for a kind that there is not, and where one thing is wished two ways.
    """
    by_kind: dict[str, str] = {}
    by_number: dict[int, str] = {}
    for treatment, names in said.items():
        for name in names:
            tidy = " ".join(name.lower().replace("-", " ").split())
            key: int | str = int(tidy) if tidy.isascii() and tidy.isdigit() else kind_named(name)
            wished: dict = by_number if isinstance(key, int) else by_kind
            if wished.get(key, treatment) != treatment:
                raise PieceRefused(f"{name} cannot be both {wished[key]} and {treatment}; say one of them.")
            wished[key] = treatment
    return Wishes(MappingProxyType(by_kind), MappingProxyType(by_number), margin)


def kind_named(name: str) -> str:
    """The kind a person means, whether written in the singular or plural. Raises PieceRefused."""
    tidy = " ".join(name.lower().replace("-", " ").replace("_", " ").split())
    for kind in KINDS:
        if tidy in (kind, f"{kind}s", kind.removesuffix("s")):
            return kind
    raise PieceRefused(f"'{name}' is no kind of defect known here; use one of {', '.join(KINDS)}.")
