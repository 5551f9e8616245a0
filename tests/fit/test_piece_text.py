"""What people type for the pieces they want."""

import pytest

from grainlog.errors import GrainlogError
from grainlog.fit.piece_text import read_pieces


@pytest.mark.parametrize(
    ("text", "kind", "length", "width"),
    [
        ("72x34in", "straight", 1828.8, 863.6),
        ("34 x 72 in", "straight", 1828.8, 863.6),
        ("40in round", "round", 1016.0, 1016.0),
        ("round 40in", "round", 1016.0, 1016.0),
        ("Round, 1 m", "round", 1000.0, 1000.0),
        ("60x40in oval", "oval", 1524.0, 1016.0),
        ("72x20in live edges", "both live edges", 1828.8, 508.0),
        ("72x20in both live edges", "both live edges", 1828.8, 508.0),
        ("72x20in one live edge", "one live edge", 1828.8, 508.0),
        ("6' 4 1/2\" x 800mm", "straight", 1943.1, 800.0),
    ],
)
def test_a_piece_is_read(text, kind, length, width):
    (piece,) = read_pieces(text)
    assert (piece.kind, piece.length, piece.width) == (kind, pytest.approx(length), pytest.approx(width))


def test_several_pieces_are_read():
    for text in ("30in round and 24x12in", "30in round; 24x12in", "30in round + 24x12in", "30in round AND 24x12in"):
        assert [piece.kind for piece in read_pieces(text)] == ["round", "straight"]


def test_a_bare_number_takes_the_unit_of_the_one_who_types():
    assert read_pieces("1800x800", "mm")[0].length == 1800
    assert read_pieces("72x32", "in")[0].length == pytest.approx(1828.8)
    with pytest.raises(GrainlogError, match="no unit"):
        read_pieces("72x32")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "  ",
        "and",
        "72in",
        "round",
        "40in round oval",
        "0x4in",
        "-3x4in",
        "x" * 300,
        "40in roundish",
        " and ".join(["9x9in"] * 13),
    ],
)
def test_what_cannot_be_meant_is_said(text):
    with pytest.raises(GrainlogError):
        read_pieces(text)
