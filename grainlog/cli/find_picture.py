"""The answers of `find` and `pair` as a picture."""

from pathlib import Path

from grainlog.picture.laid_out import Drawing, draw_laid_out
from grainlog.sheets.files import write_whole
from grainlog.yard.finding import Found
from grainlog.yard.fit_pairs import FoundPairs
from grainlog.yard.fit_words import miss_text, pair_fits_text, spare_text
from grainlog.yard.tags import tag_of


def drawings(found: Found, units: str) -> list[Drawing]:
    """The answers and near misses for the picture."""
    drawn = []
    for one in (*found.answers, *found.misses):
        fits = (
            "fits by " + spare_text(min(one.laid, key=lambda laid: laid.spare.value), units)
            if one.fits
            else miss_text(one, units)
        )
        said = [one.candidate.species or "species not said", fits]
        if one.fits:
            said.append(f"{one.waste_share:.0%} of the wood is left over")
        if one.candidate.place:
            said.append(one.candidate.place)
        drawn.append(Drawing(
            f"Slab {tag_of(one.candidate.number)}", tuple(said), (one.wood.outline,),
            tuple(laid.shape for laid in one.laid if laid.shape is not None),
            tuple(laid.tried for laid in one.laid if laid.tried is not None and laid.shape is None),
            tuple((defect.shape, treatment) for defect, treatment in one.treated),
        ))  # fmt: skip
    return drawn


def pair_drawings(found: FoundPairs, units: str) -> list[Drawing]:
    """Pairs for the picture: both slabs with the part that goes into the top."""
    return [
        Drawing(
            f"Slabs {tag_of(one.first.number)} and {tag_of(one.second.number)}",
            (
                *pair_fits_text(one, units).split(", "),
                f"{one.waste_share:.0%} of the wood is left over",
            ),
            *one.above_each_other(),
        )
        for one in (*found.answers, *found.misses)
    ]


def write_drawn(path: Path, drawn: list[Drawing], heading: str, units: str) -> None:
    """Write the picture whole or not at all."""
    write_whole(path, draw_laid_out(drawn, heading, units, path.suffix.lower().removeprefix(".")))
