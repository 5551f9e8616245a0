"""What is wrong with a photo is named, and the confidence falls with it."""

from dataclasses import replace

import numpy as np
import pytest

from grainlog.face import confidence, find_face, network
from grainlog.face.judge import _doubtful, broken_share, overlap
from grainlog.scale.flat import FlatView

from . import made_view, worn_view


@pytest.fixture(scope="module")
def clean():
    view = made_view.make(903, "concrete")
    return view, find_face(view, 60.0)


class Certain:
    """Random numbers that are the upper bound always: the fault at its worst."""

    def __init__(self, seed):
        self._rng = np.random.default_rng(seed)

    def uniform(self, low, high):
        return high

    def __getattr__(self, name):
        return getattr(self._rng, name)


def found_with(view, fault):
    return find_face(replace(view, rgb=worn_view.WEAR[fault](Certain(5), view)), 60.0)


def codes(found):
    return [note.code for note in found.notes]


def test_a_clean_view_is_believed(clean):
    view, found = clean
    assert overlap(found.wood, view.wood) > confidence.SOUND_OVERLAP
    assert found.confidence > confidence.WARN_BELOW
    assert not {"glare", "too-dark", "face-covered", "wood-beyond-edge", "outline-doubtful"} & set(codes(found))
    assert found.features.clear > 0.99 and found.features.closed > 0.95


def test_glare_is_named(clean):
    view, before = clean
    found = found_with(view, "glare")
    assert "glare" in codes(found)
    assert found.features.clear < before.features.clear


def test_darkness_is_named(clean):
    view, before = clean
    dark = replace(view, rgb=(view.rgb * 0.03).astype(np.uint8))
    found = find_face(dark, 60.0)
    assert "too-dark" in codes(found) and found.confidence < before.confidence


def test_a_person_over_the_edge_is_named():
    view, faults = worn_view.worn(20001)
    assert faults == ("person",)
    found = find_face(view, 60.0)
    assert overlap(found.wood, view.wood) < confidence.SOUND_OVERLAP
    assert "slab-hidden" in codes(found) and found.confidence < confidence.WARN_BELOW
    assert 0.7 < (1 - found.features.in_sight) / (1 - overlap(found.wood, view.wood)) < 1.4  # as much as the outline lacks


def notched(wood: np.ndarray, wide: float, deep: float) -> np.ndarray:
    """A rectangle `wood` (two corners) with a notch in the middle of its upper edge, anticlockwise."""
    (left, low), (right, high) = wood
    middle = (left + right) / 2
    notch = [(middle + wide / 2, high), (middle + wide / 2, high - deep), (middle - wide / 2, high - deep), (middle - wide / 2, high)]
    return np.array([(left, low), (right, low), (right, high), *notch, (left, high)])


@pytest.mark.parametrize(("wide", "deep"), [(200, 100), (400, 150), (150, 250)])
def test_a_sharp_dent_counts_by_its_area(wide, deep):
    asked = FlatView(np.zeros((200, 500, 3), np.uint8), np.ones((200, 500), bool), 4.0, np.array([-100.0, 600.0]), (), (), np.array([0, 0, 2e3]))
    ring, scores = notched(np.array([[0, 0], [1600, 500]]), wide, deep), np.zeros((200, 500, 5), np.float32)
    scores[..., network.OTHER] = 1
    share = broken_share(ring, asked, scores)
    whole = wide * deep / (1600 * 500 - wide * deep)
    assert 0.65 * whole < share < 1.01 * whole  # a wide mouth is closed by a shallow bow
    scores[..., network.FLANK] = 1  # bark all round: it grew so
    assert broken_share(ring, asked, scores) == 0


@pytest.mark.parametrize(
    "ring",
    [
        [(0, 0), (0, 400), (1600, 0), (1600, 400)],  # crosses itself: two triangles that touch
# two pieces that hang together by a thread
        [(0, 0), (300, 0), (300, 200), (2300, 200), (2300, 0), (2600, 0), (2600, 400), (2300, 400), (2300, 200), (300, 200), (300, 400), (0, 400)],
    ],
)
def test_an_outline_in_two_lobes_is_judged_too(ring):
    asked = FlatView(np.zeros((200, 700, 3), np.uint8), np.ones((200, 700), bool), 4.0, np.array([-100.0, 600.0]), (), (), np.array([0, 0, 2e3]))
    assert 0 <= broken_share(np.array(ring, float), asked, np.zeros((200, 700, 5), np.float32)) <= 1


def test_a_hollow_of_the_edge_is_no_dent():
    x = np.linspace(1600, 0, 60)
    ring = np.vstack([[(0, 0), (1600, 0)], np.column_stack([x, 500 - 45 * np.sin(np.pi * x / 1600) ** 2])])
    asked = FlatView(np.zeros((200, 500, 3), np.uint8), np.ones((200, 500), bool), 4.0, np.array([-100.0, 600.0]), (), (), np.array([0, 0, 2e3]))
    assert broken_share(ring, asked, np.zeros((200, 500, 5), np.float32)) == 0


def test_a_doubtful_outline_says_what_to_do(clean):
    view, before = clean
    found = found_with(replace(view, rgb=worn_view.same_colour(Certain(3), view)), "blur")
    assert found.confidence < min(before.confidence, confidence.WARN_BELOW)
    assert "outline-doubtful" in codes(found)


def test_confidence_below_a_half_tells_the_way_out():
    assert "--dabs" in _doubtful(0.3) and "--outline" in _doubtful(0.3) and "again" in _doubtful(0.3)
    assert "0.62" in _doubtful(0.62)
