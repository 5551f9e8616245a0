"""What is said of a found slab or pair, in words: on the command line and on the page alike."""

import math
from collections.abc import Sequence

from grainlog.fit.laying import Laid
from grainlog.fit.piece import Piece
from grainlog.units import Quantity, format_length, format_quantity, format_size
from grainlog.units.factors import MM_PER_INCH
from grainlog.yard.figure_words import counted
from grainlog.yard.finding import Found, FoundSlab
from grainlog.yard.fit_pairs import FoundPair, FoundPairs
from grainlog.yard.tags import tag_of


def title(pieces: Sequence[Piece], units: str) -> str:
    """What was looked for, in a few words."""
    return "Which slab for " + " and ".join(piece_name(piece, units) for piece in pieces)


def piece_name(piece: Piece, units: str) -> str:
    """A piece in a few words."""
    if piece.kind == "round":
        return f"a round top {format_length(piece.length, units)} across"
    size = format_size(piece.length, piece.width, units)
    return {"straight": f"a top {size}", "oval": f"an oval {size}", "free": f"a shape {size}"}.get(
        piece.kind, f"a top {size} at its narrowest, {piece.kind} kept"
    )


def nothing_text(found: Found, piece: Piece, units: str) -> str:
    """That no slab holds a piece, and how far the best of them is from it."""
    if not found.anything:
        return "The yard holds no slab with an outline yet."
    said = "No slab in the yard holds that."
    if found.widest is None:
        return said
    slab, width = found.widest
    where = "at its widest" if piece.kind == "round" else f"over {format_length(piece.length, units)}"
    return f"{said} Of those asked for, slab {tag_of(slab)} is the widest: {format_length(width, units)} {where}, at the very most."


def remarks(found: Found) -> list[str]:
    """What the search left out, and whether there is more."""
    lines = [partly_text(one) for one in found.partly]
    if found.stopped:
        lines.append("There may be more, with more waste; ask for more answers to see them.")
    return lines + _left_out(found)


def pair_remarks(found: FoundPairs) -> list[str]:
    """What a search for pairs left out, and whether there is more."""
    stopped = f"{found.looked_at} pairs were looked at and there are more; narrow the search by log or species."
    return ([stopped] if found.stopped else []) + _left_out(found)


def partly_text(one: FoundSlab) -> str:
    """How many of several pieces found a place on a slab, and whether a better layout is ruled out."""
    placed, asked = len(one.laid), len(one.laid) + len(one.left_out)
    said = f"On slab {tag_of(one.candidate.number)} {placed} of {asked} pieces found a place"
    if one.at_most is not None and one.at_most <= placed:
        return f"{said}; by its sizes no layout holds more."
    most = "" if one.at_most is None or one.at_most == asked else f" of at most {one.at_most}"
    return f"{said}; a better layout{most} is not ruled out."


def _left_out(found: Found | FoundPairs) -> list[str]:
    lines = []
    for why, count in found.left_out.items():
        lines.append(f"Left out, {count} slab{'s' if count > 1 else ''}: {why}.")
    if found.why_no_dry_size:
        lines.append(f"For one, {found.why_no_dry_size}.")
    return lines


def spare_text(laid: Laid, units: str) -> str:
    """ "14 mm ± 4", and that it is not sure where it is not."""
    written = format_quantity(laid.spare, units)
    return written if laid.sure else f"{written}, not sure"


def lies_text(laid: Laid, units: str) -> str:
    """Where the piece's middle lies and how it is turned."""
    middle = laid.shape.centroid
    turned = math.remainder(math.degrees(laid.angle), 180)
    return f"middle {format_length(middle.x, units)} along, {signed(middle.y, units)} across, turned {turned:.1f}°"


def signed(mm: float, units: str) -> str:
    """A length to one side or the other of the slab's middle line."""
    return f"{'-' if mm < 0 else '+'}{format_length(abs(mm), units)}"


def notes(one: FoundSlab, units: str) -> list[str]:
    """What a person should know of an answer."""
    told = []
    if one.thickness_spare is not None:
        told.append(f"thickness to spare {format_quantity(one.thickness_spare, units)}")
    met = sorted({pair for laid in one.laid for pair in laid.met})
    told += [f"{kind} in it, to be {'filled' if what == 'fill' else 'left as it is'}" for kind, what in met]
    if one.wood.checks is None:
        told.append("nobody looked for checks yet")
    elif sum(one.wood.checks):
        ends, others = one.wood.checks
        told.append(f"{counted(ends, 'end check')} and {counted(others, 'other')} seen on the face")
    if one.wood.lost_defects:
        told.append(f"{counted(one.wood.lost_defects, 'defect')} drawn on another survey could not be placed")
    if one.candidate.status:
        told.append(one.candidate.status)
    return told


def miss_text(one: FoundSlab, units: str) -> str:
    """ "11 mm too narrow at the butt"."""
    laid = one.laid[0]
    if laid.short is not None and laid.short < -laid.spare.value:
        return f"{format_length(laid.short, units)} too short"
    return f"{missed_text(laid.spare, units)} too narrow {where_text(one, laid)}"


def missed_text(spare: Quantity, units: str) -> str:
    """By how much something is missed; a miss that would be written as nothing at all is "under" the least that can be said."""
    written = format_quantity(Quantity(abs(spare.value), spare.u), units)
    if written.split()[0].strip("0.,"):
        return written
    finest = MM_PER_INCH / 16 if units == "in" else 0.1
    return f"under {format_length(max(2 * spare.u, finest), units)}"


def pair_fits_text(one: FoundPair, units: str) -> str:
    """How wide the top of a pair is, and by how much that is more or less than asked."""
    wide = f"{format_length(one.pair.width, units)} wide at the narrowest"
    if one.spare.value >= 0:
        return f"{wide}, {format_quantity(one.spare, units)} more than asked"
    return f"{wide}, {missed_text(one.spare, units)} too narrow"


def where_text(one: FoundSlab, laid: Laid) -> str:
    """Whereabouts along the slab."""
    if laid.where is None:
        return "everywhere"
    left, _, right, _ = one.wood.outline.bounds
    share = (laid.where - left) / (right - left)
    if 1 / 3 < share < 2 / 3:
        return "about the middle"
    if one.wood.butt_known:
        return "at the butt" if share <= 1 / 3 else "at the top end"
    return "at the left end of its photo" if share <= 1 / 3 else "at the right end of its photo"


def pair_notes(one: FoundPair, units: str = "mm") -> list[str]:
    """What a person should know of a pair."""
    told = []
    if one.thickness_spare is not None:
        told.append(f"thickness to spare {format_quantity(one.thickness_spare, units)}, of the thinner one")
    if one.pair.kind == "gap":
        return [*told, f"species {one.first.species or 'not said'} and {one.second.species or 'not said'}"]
    told.append(f"the outlines cover each other {one.pair.overlap:.0%}")
    if not one.faces_known:
        told.append("which faces met is not known: surveyed faces and the pith's place in the log would say")
    return told
