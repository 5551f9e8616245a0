"""Hand-drawn outlines: read as drawn, or refused in one sentence."""

import json

import numpy as np
import pytest

from grainlog.errors import WrongUse
from grainlog.face.outline_file import read_outline

WIDTH, HEIGHT = 1600, 1200
WOOD = [[100, 200], [1500, 220], [1490, 800], [110, 780]]
HOLE = [[700, 400], [800, 400], [750, 500]]
BARK = [[80, 180], [1520, 200], [1510, 820], [90, 800]]


def write(tmp_path, content):
    path = tmp_path / "drawn"
    path.write_text(content if isinstance(content, str) else json.dumps(content))
    return path


def read(tmp_path, content):
    return read_outline(write(tmp_path, content), WIDTH, HEIGHT)


def refusal(tmp_path, content) -> str:
    with pytest.raises(WrongUse) as caught:
        read(tmp_path, content)
    sentence = str(caught.value)
    assert sentence.endswith(".") and "drawn" in sentence and str(tmp_path) not in sentence
    return sentence


def svg(inside, attributes=""):
    return f'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" {attributes}>{inside}</svg>'


def pairs(points):
    return " ".join(f"{x},{y}" for x, y in points)


def test_a_list_of_points(tmp_path):
    found = read(tmp_path, WOOD)
    assert found.wood_px.tolist() == WOOD and found.wood_px.dtype == np.float64
    assert found.wood_holes_px == () and found.bark_px is None


def test_wood_holes_and_bark(tmp_path):
    found = read(tmp_path, {"wood_px": WOOD, "wood_holes_px": [HOLE], "bark_px": BARK, "note": "ignored"})
    assert found.wood_px.tolist() == WOOD and found.bark_px.tolist() == BARK
    assert [hole.tolist() for hole in found.wood_holes_px] == [HOLE]


def test_a_closed_ring_and_doubled_points_are_opened(tmp_path):
    assert read(tmp_path, [*WOOD, WOOD[-1], WOOD[0]]).wood_px.tolist() == WOOD


def test_the_edge_of_the_photo_is_inside(tmp_path):
    whole = [[-0.5, -0.5], [WIDTH - 0.5, -0.5], [WIDTH - 0.5, HEIGHT - 0.5], [-0.5, HEIGHT - 0.5]]
    assert read(tmp_path, whole).wood_px.tolist() == whole


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        ("", "empty"),
        ("hello", "neither"),
        ("[" * 100_000, "neither"),
        ("7", "no wood"),
        ({"bark_px": BARK}, "no wood"),
        ([], "fewer than three"),
        (WOOD[:2], "fewer than three"),
        ([WOOD[0]] * 5, "fewer than three"),
        ([[1, 2, 3]] * 4, "list of points"),
        ([["1", "2"]] * 4, "ordinary numbers"),
        ([[True, False]] * 4, "ordinary numbers"),
        ("[[1, 2], [NaN, 3], [4, 5]]", "ordinary numbers"),
        ("[[1, 2], [Infinity, 3], [4, 5]]", "ordinary numbers"),
        ("[[1, 2], [1e400, 3], [4, 5]]", "ordinary numbers"),
        ([[1, 2], [10**400, 3], [4, 5]], "ordinary numbers"),
        ([[-3, 2], [500, 3], [400, 500]], "leaves the photo"),
        ([[3, 2], [500, 3], [400, 1200]], "leaves the photo"),
        ([[100, 100], [900, 900], [900, 100], [100, 900]], "crosses"),
        ([[100, 100], [200, 200], [300, 300]], "crosses"),
        ({"wood_px": WOOD, "wood_holes_px": [BARK]}, "not inside"),
        ({"wood_px": WOOD, "wood_holes_px": 3}, "not a list"),
        ({"wood_px": WOOD, "bark_px": BARK[:2]}, "bark outline"),
    ],
)
def test_what_is_no_outline_is_refused(tmp_path, content, reason):
    assert reason in refusal(tmp_path, content)


def test_files_that_cannot_be_read(tmp_path):
    for path in (tmp_path, tmp_path / "gone.json"):
        with pytest.raises(WrongUse, match="cannot be read"):
            read_outline(path, WIDTH, HEIGHT)
    (tmp_path / "binary").write_bytes(b"\xff\xd8\xff\xe0" * 9)
    with pytest.raises(WrongUse, match="cannot be read"):
        read_outline(tmp_path / "binary", WIDTH, HEIGHT)
    (tmp_path / "large").write_bytes(b" " * 10_000_001)
    with pytest.raises(WrongUse, match="too large"):
        read_outline(tmp_path / "large", WIDTH, HEIGHT)


@pytest.mark.parametrize(
    "shape",
    [
        f'<polygon points="{pairs(WOOD)}"/>',
        f'<polyline points="{pairs(WOOD)} 100,200"/>',
        '<path d="M100 200 L1500,220 1490 800 110 780 Z"/>',
        '<path d="M100,200 1500,220 1490,800 110,780z"/>',
        '<path d="m100 200l1400 20-10 580-1380-20z"/>',
        '<g><path d="M 1.0e2 200 L 1500 220 L 1490 800 L 110 780"/></g>',
    ],
)
def test_each_way_to_draw_in_svg(tmp_path, shape):
    """SVG counts from the corner of the first pixel, photos from its centre: half a pixel."""
    assert read(tmp_path, svg(shape)).wood_px == pytest.approx(np.array(WOOD) - 0.5)


def test_upright_and_level_segments(tmp_path):
    found = read(tmp_path, svg('<path d="M100 200H1500V800h-1400v-600z"/>'))
    assert found.wood_px == pytest.approx(np.array([[100, 200], [1500, 200], [1500, 800], [100, 800]]) - 0.5)


def test_parts_by_name_and_by_order(tmp_path):
    named = svg(f'<polygon id="bark-edge" points="{pairs(BARK)}"/><g id="holes"><polygon points="{pairs(HOLE)}"/></g>'
                f'<defs><path d="M0 0C1 1 2 2 3 3"/></defs><polygon class="wood" points="{pairs(WOOD)}"/>')
    by_order = svg(f'<path d="M{pairs(WOOD)}Z M{pairs(HOLE)}Z"/>')
    for content in (named, by_order):
        found = read(tmp_path, content)
        assert found.wood_px == pytest.approx(np.array(WOOD) - 0.5)
        assert found.wood_holes_px[0] == pytest.approx(np.array(HOLE) - 0.5)
    assert read(tmp_path, named).bark_px == pytest.approx(np.array(BARK) - 0.5)
    assert read(tmp_path, by_order).bark_px is None


def test_a_drawing_over_a_smaller_copy_is_scaled(tmp_path):
    half = (np.array(WOOD) / 2 + [10, 20]).tolist()
    found = read(tmp_path, svg(f'<polygon points="{pairs(half)}"/>', 'viewBox="10 20 800 600"'))
    assert found.wood_px == pytest.approx(np.array(WOOD) - 0.5)


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        ('<!DOCTYPE svg [<!ENTITY a "aaaa">]><svg><text>&a;</text></svg>', "document type"),
        ('<?xml version="1.0"?><!doctype svg SYSTEM "http://example.invalid/x"><svg/>', "document type"),
        ("<svg><polygon", "well-formed"),
        ("<html/>", "not an SVG"),
        (svg(""), "no polygon"),
        (svg("<path d='M1 1C2 2 3 3 4 4Z'/>"), "curves"),
        (svg("<path d='M1 1A5 5 0 0 1 9 9Z'/>"), "curves"),
        (svg("<path d='L1 1 5 5 1 5Z'/>"), "begin with a point"),
        (svg("<path d='Z'/>"), "begin with a point"),
        (svg("<path d='M1 1 L5'/>"), "broken off"),
        (svg("<path d='M1 1Z 5 5'/>"), "broken off"),
        (svg("<path d='M1 1 # 5'/>"), "not made of numbers"),
        (svg("<polygon points='1 2 3'/>"), "pairs"),
        (svg("<polygon points='1 2 nan 3'/>"), "pairs"),
        (svg(f"<g transform='rotate(3)'><polygon points='{pairs(WOOD)}'/></g>"), "transform"),
        (svg(f"<polygon points='{pairs(WOOD)}'/>", "viewBox='0 0 600 800'"), "another shape"),
        (svg(f"<polygon points='{pairs(WOOD)}'/>", "viewBox='0 0 0 800'"), "no size"),
        (svg(f"<polygon points='{pairs(WOOD)}'/>", "viewBox='0 0 all'"), "four numbers"),
        (svg("<polygon points='1e999,1 5,5 1,5'/>"), "ordinary numbers"),
        (svg(f"<g id='wood'><polygon points='{pairs(WOOD)}'/><polygon points='{pairs(HOLE)}'/></g>"), "one wood outline"),
    ],
)
def test_what_is_no_drawing_is_refused(tmp_path, content, reason):
    assert reason in refusal(tmp_path, content)
