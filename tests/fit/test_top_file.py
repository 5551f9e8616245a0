"""Free shapes from files, in true size."""

import ezdxf
import numpy as np
import pytest
import shapely

from grainlog.fit.errors import PieceRefused
from grainlog.fit.piece import free
from grainlog.fit.top_file import read_top


def svg(tmp_path, inner, head='width="200mm" height="100mm" viewBox="0 0 2000 1000"'):
    path = tmp_path / "top.svg"
    path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{inner}</svg>')
    return path


def test_svg_in_true_size(tmp_path):
    top = read_top(svg(tmp_path, '<rect x="100" y="100" width="1000" height="500"/>'))
    assert np.ptp(top, axis=0) == pytest.approx([100, 50], abs=1e-3)
    top = read_top(svg(tmp_path, '<g transform="scale(2)"><polygon points="0,0 500,0 500,200 0,200"/></g>'))
    assert np.ptp(top, axis=0) == pytest.approx([100, 40], abs=1e-3)
    assert np.ptp(read_top(svg(tmp_path, '<rect width="96" height="48"/>', "")), axis=0) == pytest.approx(
        [25.4, 12.7], abs=1e-3
    )


def test_svg_curves_and_which_way_up(tmp_path):
    circle = shapely.Polygon(read_top(svg(tmp_path, '<circle cx="500" cy="500" r="400"/>')))
    assert circle.area == pytest.approx(np.pi * 40**2, rel=0.005)
    corner = read_top(svg(tmp_path, '<path d="M0 0 L1000 0 L0 500 Z"/>'))
    # Down in SVG is down on the slab as seen in its photo, where y counts up.
    assert {tuple(p) for p in corner.round(3).tolist()} == {(0.0, 0.0), (100.0, 0.0), (0.0, -50.0)}


@pytest.mark.parametrize(
    ("inner", "says"),
    [
        ("", "no closed line"),
        ('<path d="M0 0 L1000 0 L500 500"/>', "no closed line"),
        ('<path d="M0 0 L1000 1000 L1000 0 L0 1000 Z"/>', "crosses itself"),
        ('<rect width="10" height="10"/><rect x="500" width="10" height="10"/>', "side by side"),
        ("<rect", "not well-formed"),
    ],
)
def test_svg_that_cannot_be_used(tmp_path, inner, says):
    with pytest.raises(PieceRefused, match=says):
        read_top(svg(tmp_path, inner))


def test_svg_with_entities_is_refused(tmp_path):
    path = tmp_path / "bad.svg"
    path.write_text('<!DOCTYPE svg [<!ENTITY a "b">]><svg xmlns="http://www.w3.org/2000/svg"/>')
    with pytest.raises(PieceRefused, match="entities"):
        read_top(path)


@pytest.mark.parametrize(("unit", "mm"), [(4, 1.0), (1, 25.4), (5, 10.0)])
def test_dxf_in_its_unit(tmp_path, unit, mm):
    drawing = ezdxf.new()
    drawing.header["$INSUNITS"] = unit
    drawing.modelspace().add_lwpolyline([(0, 0), (40, 0), (40, 20), (0, 20)], close=True)
    drawing.saveas(tmp_path / "top.dxf")
    assert np.ptp(read_top(tmp_path / "top.dxf"), axis=0) == pytest.approx([40 * mm, 20 * mm])


def test_dxf_of_single_lines_and_an_arc(tmp_path):
    drawing = ezdxf.new()
    drawing.header["$INSUNITS"] = 4
    space = drawing.modelspace()
    space.add_line((0, 0), (400, 0))
    space.add_line((400, 200), (0, 200))
    space.add_line((0, 200), (0, 0))
    space.add_arc((400, 100), 100, -90, 90)
    drawing.saveas(tmp_path / "top.dxf")
    assert free(read_top(tmp_path / "top.dxf")).area == pytest.approx(400 * 200 + np.pi * 100**2 / 2, rel=0.002)


def test_files_that_are_no_shape(tmp_path):
    for name, content in (("a.dxf", b"not a drawing"), ("a.svg", b"\xff\xfe\x00"), ("a.png", b"x")):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(PieceRefused):
            read_top(tmp_path / name)
    with pytest.raises(PieceRefused, match="cannot be read"):
        read_top(tmp_path / "missing.svg")
