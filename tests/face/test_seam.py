"""Two slabs edge to edge, taken for one: the seam between them is measured, and a single slab's marks are none."""

import numpy as np
import pytest

from grainlog.face import network
from grainlog.face.seam import TWO_SLABS, seam_notes, seam_of
from grainlog.scale.flat import FlatView

LENGTH, WIDTH, MM_PER_PX = 2000.0, 600.0, 4.0
WOOD = np.array([[0.0, 0], [LENGTH, 0], [LENGTH, WIDTH], [0, WIDTH]])


def looked_at(marks) -> tuple[FlatView, np.ndarray]:
    """A view of a plain face and scores of pure wood, but for marks: (class, x from, x to, y from, y to), mm."""
    shape = round(WIDTH / MM_PER_PX) + 40, round(LENGTH / MM_PER_PX) + 40
    origin = np.array([-80.0, WIDTH + 80.0])
    view = FlatView(np.zeros((*shape, 3), np.uint8), np.ones(shape, bool), MM_PER_PX, origin, (), (), np.array([1000.0, 300, 2000]))
    scores = np.zeros((*shape, 5), np.float32)
    scores[..., network.WOOD] = 1
    for kind, left, right, low, high in marks:
        (x0, y1), (x1, y0) = np.round(view.to_px(np.array([[left, low], [right, high]]))).astype(int)
        scores[y0:y1, x0:x1] = np.eye(5, dtype=np.float32)[kind]
    return view, scores


@pytest.mark.parametrize(
    "marks, seam",
    [
        ([], 0.0),
        ([(network.FLANK, 0, LENGTH, 290, 320)], 1.0),
        ([(network.OTHER, 0, LENGTH / 2, 290, 320)], 0.5),
        ([(network.FLANK, 0, 1000, 250, 290), (network.OTHER, 1000, LENGTH, 290, 330)], 1.0),
        # What a single slab has too: bark at its edges, a check from end to end, a knot, something lying across.
        ([(network.FLANK, 0, LENGTH, 0, 100), (network.FLANK, 0, LENGTH, 500, 600)], 0.0),
        ([(network.VOID, 0, LENGTH, 290, 310)], 0.5),
        ([(network.FLANK, 900, 1020, 240, 360)], 0.06),
        ([(network.OTHER, 900, 1000, 0, 600)], 0.05),
    ],
)
def test_the_seam_is_the_share_of_the_length_that_is_no_wood(marks, seam):
    found = seam_of(WOOD, *looked_at(marks))
    assert found == pytest.approx(seam, abs=0.02)
    assert bool(seam_notes(found)) == (seam > TWO_SLABS)


def test_it_does_not_matter_how_the_slab_lies():
    view, scores = looked_at([(network.FLANK, 0, LENGTH, 290, 320)])
    turned = FlatView(
        np.ascontiguousarray(np.rot90(view.rgb)), np.ascontiguousarray(np.rot90(view.seen)), MM_PER_PX, view.origin_mm, (), (), view.camera_mm
    )  # fmt: skip
    # A quarter turn of the picture, in its own pixels.
    px = view.to_px(WOOD)
    ring = turned.to_mm(np.column_stack([px[:, 1], scores.shape[1] - 1 - px[:, 0]]))
    assert seam_of(ring, turned, np.ascontiguousarray(np.rot90(scores))) == pytest.approx(1.0, abs=0.02)


def test_an_outline_of_nothing_has_no_seam():
    assert seam_of(WOOD * 1e-3, *looked_at([])) == 0.0
