"""Laying a later view on an earlier one: shrinkage comes out, and what is not the same slab is refused."""

from functools import cache

import numpy as np
import pytest

from grainlog.checks.register import LOOK_MM, Look, NotTheSame, look_at, register
from tests.checks.made_series import look, whole


@cache
def seen(seed, shrunk, photo_seed) -> Look:
    made, _ = look(seed, whole(seed, shrunk), photo_seed)
    return look_at(made.view, made.outline, made.holes, made.frame)


@pytest.mark.parametrize("shrunk", [0.0, 0.03, 0.07])
def test_shrinkage_across_the_grain_is_seen(shrunk):
    found = register(seen(1, 0.0, 0), seen(1, shrunk, 7 + round(100 * shrunk)))
    assert found.shrinkage == pytest.approx(shrunk, abs=0.003)
    assert abs(found.shrinkage - shrunk) < 4 * found.shrinkage_u
    assert abs(found.along - 1) < 0.004 and found.residual_mm < 3 and found.overlap > 0.95 and not found.notes


def test_a_view_lies_on_itself():
    found = register(seen(1, 0.0, 0), seen(1, 0.0, 0))
    assert np.abs(found.matrix - [[1, 0, 0], [0, 1, 0]]).max() < 0.05 and found.residual_mm < 0.2


def test_a_half_turn_is_undone():
    whole_look = seen(1, 0.0, 0)
    h, w = whole_look.light.shape
    far = whole_look.corner_mm + np.array([w - 1, -(h - 1)]) * LOOK_MM
    turned = Look(
        np.ascontiguousarray(whole_look.light[::-1, ::-1]), np.ascontiguousarray(whole_look.wood[::-1, ::-1]),
        np.array([700.0, 0]) - far, np.array([700.0, 0]) - whole_look.outline,
    )  # fmt: skip
    found = register(whole_look, turned)
    at = np.array([[100.0, 30], [600, -50]])
    assert found.to_earlier(np.array([700.0, 0]) - at) == pytest.approx(at, abs=0.5)


def test_another_slab_is_refused():
    with pytest.raises(NotTheSame) as refusal:
        register(seen(1, 0.0, 0), seen(2, 0.0, 1))
    assert refusal.value.code in ("another-slab", "too-little-figure")


def test_another_shape_is_another_slab():
    made, _ = look(3, whole(3, length=450.0), 2, length=450.0)
    with pytest.raises(NotTheSame) as refusal:
        register(seen(1, 0.0, 0), look_at(made.view, made.outline, made.holes, made.frame))
    assert refusal.value.code == "another-slab"


def test_the_other_face_is_noticed():
    """Turned over, the outline is a mirror image; the figure of the other face is another."""
    one, other = seen(1, 0.0, 0), seen(2, 0.0, 1)
    bent = one.outline + np.column_stack([np.zeros(len(one.outline)), 60 * (one.outline[:, 0] / 700) ** 2])
    with pytest.raises(NotTheSame) as refusal:
        register(Look(one.light, one.wood, one.corner_mm, bent), Look(other.light, other.wood, other.corner_mm, bent * [1, -1]))
    assert refusal.value.code == "turned-over"


def test_an_end_that_was_cut_off_is_said():
    one = seen(1, 0.0, 0)
    keep = round(one.light.shape[1] * 0.9)
    outline = one.outline.copy()
    outline[:, 0] = np.minimum(outline[:, 0], one.corner_mm[0] + keep * LOOK_MM)
    short = Look(np.ascontiguousarray(one.light[:, :keep]), np.ascontiguousarray(one.wood[:, :keep]), one.corner_mm, outline)
    found = register(one, short)
    assert [note.code for note in found.notes] == ["cut-shorter"] and "top end" in found.notes[0].message
    assert abs(found.across - 1) < 0.003


def ripped(one: Look, off_mm: float) -> Look:
    """The same look without a strip along its right edge."""
    keep = round((one.corner_mm[1] - (one.outline[:, 1].min() + off_mm)) / LOOK_MM)
    outline = one.outline.copy()
    outline[:, 1] = np.maximum(outline[:, 1], one.outline[:, 1].min() + off_mm)
    return Look(np.ascontiguousarray(one.light[:keep]), np.ascontiguousarray(one.wood[:keep]), one.corner_mm, outline)


@pytest.mark.parametrize("off_mm", [45.0, 100.0])
def test_a_slab_that_was_ripped_is_said(off_mm):
    found = register(seen(1, 0.0, 0), ripped(seen(1, 0.03, 10), off_mm))
    assert [note.code for note in found.notes] == ["ripped"] and "right edge" in found.notes[0].message
    assert found.shrinkage == pytest.approx(0.03, abs=0.006), "what was sawn off is not taken for shrinkage"


def test_what_is_left_of_a_narrow_rip_is_refused_not_guessed():
    with pytest.raises(NotTheSame) as refusal:
        register(seen(1, 0.0, 0), ripped(seen(1, 0.0, 7), 210.0))
    assert refusal.value.code in ("too-little-figure", "another-slab")
