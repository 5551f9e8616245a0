"""The answers of `find` and `pair` for programs: plain data for JSON, and CSV."""

import csv
import math
import sys
from typing import Any

import shapely

from grainlog.fit.laying import Laid
from grainlog.units import Quantity
from grainlog.yard.finding import Found, FoundSlab
from grainlog.yard.fit_pairs import FoundPair, FoundPairs
from grainlog.yard.tags import tag_of


def found_data(found: Found) -> dict[str, Any]:
    """A search's answers as plain data; lengths mm, areas mm2, angles degrees, slab frame."""
    return {
        "answers": [slab_data(one) for one in found.answers],
        "near_misses": [slab_data(one) for one in found.misses],
        "partly": [slab_data(one) | {"at_most": one.at_most} for one in found.partly],
        "looked_at": found.looked_at,
        "more_may_fit": found.stopped,
        "left_out": found.left_out,
        "widest": None if found.widest is None else {"slab": tag_of(found.widest[0]), "at_most_mm": found.widest[1]},
    }


def slab_data(one: FoundSlab) -> dict[str, Any]:
    """One answer as plain data."""
    candidate, spare = one.candidate, one.thickness_spare
    return {
        "slab": tag_of(candidate.number), "survey": candidate.survey, "face": candidate.side, "log": candidate.log,
        "species": candidate.species, "status": candidate.status, "place": candidate.place or None, "fits": one.fits,
        "pieces": [laid_data(laid) for laid in one.laid], "pieces_left_out": list(one.left_out),
        "waste_mm2": one.waste_mm2, "wood_mm2": one.wood.wood_mm2,
        "thickness_spare_mm": quantity_data(spare),
        "across_factor": None if one.dried is None else one.dried.across.value,
        "checks_seen": None if one.wood.checks is None else sum(one.wood.checks),
    }  # fmt: skip


def quantity_data(figure: Quantity | None) -> dict[str, float] | None:
    """A figure as plain data, None where there is none."""
    return None if figure is None else {"value": figure.value, "u": figure.u}


def laid_data(laid: Laid) -> dict[str, Any]:
    """One piece as laid."""
    return {
        "kind": laid.piece.kind, "length_mm": laid.piece.length, "width_mm": laid.piece.width,
        "spare_mm": {"value": laid.spare.value, "u": laid.spare.u}, "sure": laid.sure, "short_mm": laid.short,
        "missing_at_mm": laid.where, "angle_deg": math.degrees(laid.angle),
        "middle_mm": None if laid.shape is None else [round(laid.shape.centroid.x, 2), round(laid.shape.centroid.y, 2)],
        "outline_mm": None if laid.shape is None else shapely.get_coordinates(laid.shape.exterior).round(2).tolist(),
        "in_it": [{"kind": kind, "to_be": what} for kind, what in laid.met],
    }  # fmt: skip


def print_csv(found: Found) -> None:
    """One line per slab and piece."""
    writer = csv.writer(sys.stdout)
    writer.writerow(["slab", "log", "species", "status", "place", "fits", "piece", "length_mm", "width_mm", "spare_mm", "u_mm",
                     "angle_deg", "middle_x_mm", "middle_y_mm", "waste_mm2"])  # fmt: skip
    for one in (*found.answers, *found.misses):
        for index, laid in enumerate(one.laid):
            middle = (
                ["", ""] if laid.shape is None else [f"{laid.shape.centroid.x:.1f}", f"{laid.shape.centroid.y:.1f}"]
            )
            writer.writerow([
                tag_of(one.candidate.number), one.candidate.log, one.candidate.species or "", one.candidate.status or "",
                one.candidate.place, "yes" if one.fits else "no", index + 1, f"{laid.piece.length:.1f}", f"{laid.piece.width:.1f}",
                f"{laid.spare.value:.1f}", f"{laid.spare.u:.2f}", f"{math.degrees(laid.angle):.2f}", *middle,
                f"{one.waste_mm2:.0f}",
            ])  # fmt: skip


def pairs_data(found: FoundPairs) -> dict[str, Any]:
    """Pairs as plain data; parts in each slab's own frame, mm."""

    def data(one: FoundPair) -> dict[str, Any]:
        halves = zip((one.first, one.second), (one.pair.first, one.pair.second), strict=True)
        return {
            "kind": one.pair.kind, "width_mm": one.pair.width, "gap_mm": one.pair.gap, "overlap": one.pair.overlap,
            "spare_mm": {"value": one.spare.value, "u": one.spare.u}, "waste_mm2": one.waste_mm2,
            "faces_known": one.faces_known, "thickness_spare_mm": quantity_data(one.thickness_spare),
            "across_factors": None if one.dried is None else [dry.across.value for dry in one.dried],
            "slabs": [
                {"slab": tag_of(slab.number), "log": slab.log, "sawn_off_mm2": half.lost_mm2,
                 "outline_mm": shapely.get_coordinates(half.shape.exterior).round(2).tolist()}
                for slab, half in halves
            ],
        }  # fmt: skip

    return {
        "answers": [data(one) for one in found.answers], "near_misses": [data(one) for one in found.misses],
        "looked_at": found.looked_at, "more_may_fit": found.stopped, "left_out": found.left_out,
    }  # fmt: skip


def print_pairs_csv(found: FoundPairs) -> None:
    """One line per pair."""
    writer = csv.writer(sys.stdout)
    writer.writerow(["first", "second", "log", "kind", "width_mm", "spare_mm", "u_mm", "overlap", "waste_mm2"])
    for one in (*found.answers, *found.misses):
        writer.writerow([tag_of(one.first.number), tag_of(one.second.number), one.first.log, one.pair.kind,
                         f"{one.pair.width:.1f}", f"{one.spare.value:.1f}", f"{one.spare.u:.2f}", f"{one.pair.overlap:.3f}",
                         f"{one.waste_mm2:.0f}"])  # fmt: skip
