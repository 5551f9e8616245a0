"""What is wrong with a photo is named, and the confidence falls with it."""

from dataclasses import replace

import numpy as np
import pytest

from grainlog.face import confidence, find_face
from grainlog.face.judge import _doubtful, overlap

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
    dark = replace(view, rgb=(view.rgb * 0.05).astype(np.uint8))
    found = find_face(dark, 60.0)
    assert "too-dark" in codes(found) and found.confidence < before.confidence


def test_a_doubtful_outline_says_what_to_do(clean):
    view, before = clean
    found = found_with(replace(view, rgb=worn_view.same_colour(Certain(3), view)), "blur")
    assert found.confidence < min(before.confidence, confidence.WARN_BELOW)
    assert "outline-doubtful" in codes(found)


def test_confidence_below_a_half_tells_the_way_out():
    assert "--dabs" in _doubtful(0.3) and "--outline" in _doubtful(0.3) and "again" in _doubtful(0.3)
    assert "0.62" in _doubtful(0.62)
