"""Pieces on wood: what fits, by how much, how sure, and what is in the way."""

import numpy as np
import pytest
import shapely

from grainlog.fit import piece as pieces
from grainlog.fit.curve import curve_of
from grainlog.fit.defects import Defect, Wishes, kind_named, wishes_from
from grainlog.fit.errors import PieceRefused
from grainlog.fit.laying import Sureness, lay, missing_length
from grainlog.fit.region import region_of
from grainlog.fit.several import pack
from tests.fit.made import slab_outline

BOARD = np.array([[0.0, 0], [2000, 0], [2000, 700], [0, 700]])
SURE = Sureness(np.array([0.0, 1000, 2000]), np.array([1.0, 3.0, 1.0]), 2.0)
ALL = [
    pieces.straight(1200, 300),
    pieces.with_live_edges(1200, 300, 2),
    pieces.with_live_edges(1200, 300, 1),
    pieces.round_top(350),
    pieces.oval(1000, 320),
    pieces.free(np.array([[0.0, 0], [900, 0], [900, 300], [500, 300], [500, 200], [0, 200]])),
]


@pytest.mark.parametrize("piece", ALL, ids=lambda piece: piece.kind)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_is_said_to_fit_lies_on_the_wood(piece, seed):
    wood = slab_outline(seed)
    region = region_of(wood)
    laid = lay(region, piece, SURE, trim=5.0)
    assert laid.fits and laid.spare.value > 0
    assert region.holds(laid.cut) and laid.cut.covers(laid.shape.buffer(-1e-3))
    assert laid.shape.area >= piece.area * (1 - 1e-6)
    assert piece.grown(5.0).may_lie_on(curve_of(wood))


@pytest.mark.parametrize("piece", ALL, ids=lambda piece: piece.kind)
def test_growing_by_more_than_the_spare_no_longer_fits(piece):
    region = region_of(slab_outline(4))
    spare = lay(region, piece, SURE).spare.value
    if piece.kind in ("round", "oval"):
        share = 1 + spare / piece.width
        less, more = (
            (piece.length * (1 + by * (share - 1)), piece.width * (1 + by * (share - 1))) for by in (0.97, 1.03)
        )
        remade = [pieces.round_top(one[0]) if piece.kind == "round" else pieces.oval(*one) for one in (less, more)]
    elif piece.kind == "free":
        # The spare is a distance all round, so corners grow round.
        grown = [shapely.Polygon(piece.outline).buffer(by * spare / 2) for by in (0.93, 1.02)]
        remade = [pieces.free(shapely.get_coordinates(one.exterior)) for one in grown]
    else:
        edges = {"straight": None, "both live edges": 2, "one live edge": 1}[piece.kind]
        wide = [piece.width + by * spare for by in (0.97, 1.03)]
        remade = [
            pieces.straight(piece.length, w) if edges is None else pieces.with_live_edges(piece.length, w, edges)
            for w in wide
        ]
    assert [lay(region, one, SURE).fits for one in remade] == [True, False]


def test_how_sure_follows_the_place():
    laid = lay(region_of(BOARD), pieces.straight(1500, 690), SURE)
    assert laid.spare.value == pytest.approx(10) and laid.spare.u == pytest.approx(3.0, rel=0.01) and laid.sure
    assert not lay(region_of(BOARD), pieces.straight(1500, 695), SURE).sure


def test_as_long_as_the_slab_is_never_sure():
    """Two standard uncertainties less of slab would be too short: the width to spare says nothing then."""
    laid = lay(region_of(BOARD), pieces.straight(1999.0, 500), SURE)
    assert laid.fits and not laid.sure


def test_a_miss_says_where_and_by_how_much():
    waist = np.array([[0.0, 0], [2000, 0], [2000, 700], [300, 700], [200, 640], [100, 700], [0, 700]])
    laid = lay(region_of(waist), pieces.straight(1950, 660), SURE)
    assert not laid.fits and laid.spare.value == pytest.approx(-20, abs=1.5)
    assert laid.where == pytest.approx(200, abs=30)
    assert laid.tried is not None and laid.shape is None


def test_too_short_is_found_to_two_millimetres():
    region = region_of(BOARD)
    assert missing_length(region, pieces.straight(2030, 500), 75.0) == pytest.approx(30, abs=2.1)
    assert missing_length(region, pieces.straight(2500, 500), 75.0) is None


def test_defects_are_kept_clear_of_or_named():
    knot = Defect("knot", np.array([[1000.0, 350]]), size=80.0, number=4)
    piece = pieces.straight(1900, 400)
    left = lay(region_of(BOARD), piece, SURE, defects=[knot])
    assert left.fits and left.met == (("knot", "leave"),)
    avoid = Wishes(by_kind={"knot": "avoid"}, margin=10.0)
    region = region_of(BOARD, keep_out=avoid.keep_out([knot]))
    assert lay(region, piece, SURE, defects=[knot], wishes=avoid).spare.value == pytest.approx(300 - 400, abs=0.5)
    short = lay(region, pieces.straight(900, 400), SURE, defects=[knot], wishes=avoid)
    assert short.fits and short.met == () and short.shape.distance(knot.shape) >= 10 - 1e-6
    one = Wishes(by_kind={"knot": "avoid"}, by_number={4: "fill"})
    assert one.keep_out([knot]) is None and one.met_by(left.shape, [knot]) == (("knot", "fill"),)


def test_a_live_edge_top_has_nothing_avoided_in_it():
    rot = Defect("rot", np.array([[1000.0, 350]]), size=80.0)
    region = region_of(BOARD, keep_out=Wishes().keep_out([rot]))
    both = lay(region, pieces.with_live_edges(900, 600, 2), SURE)
    assert both.fits and both.shape.distance(rot.shape) > -1 and not both.shape.intersects(rot.shape.buffer(-1))
    assert not lay(region, pieces.with_live_edges(1200, 600, 2), SURE).fits
    one = lay(region, pieces.with_live_edges(1800, 300, 1), SURE)
    assert one.fits and not one.shape.interiors


def test_wishes_are_read_and_contradictions_refused():
    wishes = wishes_from({"avoid": ["knots", "7"], "fill": ["Bark-pocket"], "leave": []}, 5.0)
    assert wishes.by_kind == {"knot": "avoid", "bark pocket": "fill"} and wishes.by_number == {7: "avoid"}
    with pytest.raises(PieceRefused, match="cannot be both"):
        wishes_from({"avoid": ["knot"], "fill": ["knot"]}, 0.0)
    with pytest.raises(PieceRefused, match="no kind of defect"):
        kind_named("wormy")


@pytest.mark.parametrize("size", [(0, 10), (-5, 10), (float("nan"), 1), (float("inf"), 1)])
def test_no_size_is_refused(size):
    for make in (
        pieces.straight,
        pieces.oval,
        lambda *of: pieces.with_live_edges(*of, 2),
        lambda *of: pieces.round_top(of[0]),
    ):
        with pytest.raises(PieceRefused):
            make(*size)


def test_a_shape_that_crosses_itself_is_refused():
    with pytest.raises(PieceRefused, match="crosses itself"):
        pieces.free(np.array([[0.0, 0], [100, 100], [100, 0], [0, 100]]))


def test_several_pieces_keep_a_kerf_and_say_what_is_left_out():
    asked = [pieces.straight(1200, 600), pieces.straight(700, 300), pieces.straight(700, 300), pieces.round_top(650)]
    packed = pack(region_of(BOARD), asked, trim=5.0, kerf=4.0)
    assert [index for index, *_ in packed.placed] == [0, 1, 2] and packed.left_out == (3,)
    cuts = [cut for _, _, cut, _ in packed.placed]
    assert all(region_of(BOARD).holds(cut) for cut in cuts)
    assert min(a.distance(b) for i, a in enumerate(cuts) for b in cuts[:i]) >= 4.0 - 1e-3
    used = 1200 * 600 + 2 * 700 * 300
    assert packed.waste_mm2 == pytest.approx(2000 * 700 - used)
    with pytest.raises(PieceRefused):
        pack(region_of(BOARD), [])


def test_allowances_grow_only_what_is_cut():
    assert (pieces.straight(100, 50).grown(5).length, pieces.straight(100, 50).grown(5).width) == (110, 60)
    assert pieces.with_live_edges(100, 50, 2).grown(5).width == 50
    assert pieces.with_live_edges(100, 50, 1).grown(5).width == 55
    assert pieces.free(np.array([[0.0, 0], [100, 0], [100, 50], [0, 50]])).grown(5).area == pytest.approx(110 * 60)
    assert shapely.Polygon(pieces.round_top(100).shape).area >= np.pi * 2500
