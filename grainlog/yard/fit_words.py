"""What is said of a found slab or pair, in words: on the command line and on the page alike."""

import math
from collections.abc import Sequence

from grainlog.fit.laying import Laid
from grainlog.fit.piece import Piece
from grainlog.units import Quantity, format_length, format_quantity, format_size
from grainlog.yard.finding import Found, FoundSlab
from grainlog.yard.fit_pairs import FoundPair


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


def remarks(found: Found) -> list[str]:
    """What the search left out, and whether there is more."""
    lines = []
    if found.stopped:
        lines.append("There may be more, with more waste; ask for more answers to see them.")
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
        told.append(f"{one.wood.checks[0]} end checks and {one.wood.checks[1]} others seen on the face")
    if one.wood.lost_defects:
        told.append(f"{one.wood.lost_defects} defects drawn on another survey could not be placed")
    if one.candidate.status:
        told.append(one.candidate.status)
    return told


def miss_text(one: FoundSlab, units: str) -> str:
    """ "11 mm too narrow at the butt"."""
    laid = one.laid[0]
    if laid.short is not None and laid.short < -laid.spare.value:
        return f"{format_length(laid.short, units)} too short"
    by = format_quantity(Quantity(-laid.spare.value, laid.spare.u), units)
    return f"{by} too narrow {where_text(one, laid)}"


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


def pair_notes(one: FoundPair) -> list[str]:
    """What a person should know of a pair."""
    if one.pair.kind == "gap":
        return [f"species {one.first.species or 'not said'} and {one.second.species or 'not said'}"]
    told = [f"the outlines cover each other {one.pair.overlap:.0%}"]
    if not one.faces_known:
        told.append("which faces met is not known: surveyed faces and the pith's place in the log would say")
    return told
