"""The committed weights give the committed figures, on views from seeds that training never saw."""

import hashlib
import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from calibration.face_model import scene, validate
from grainlog.face import network

CARD = Path(validate.__file__).with_name("MODEL_CARD.md")


@pytest.fixture(scope="module")
def sample():
    return scene.make(5003, held_out=True)


def test_weights_are_the_recorded_ones():
    digest = hashlib.sha256(validate.WEIGHTS.read_bytes()).hexdigest()
    assert digest == json.loads(validate.RECORD.read_text())["weights_sha256"]
    assert digest in CARD.read_text()
    assert validate.WEIGHTS.stat().st_size <= 8_000_000


def test_weights_give_the_recorded_figures():
    """Rounding differs a little between processors; a hundredth is far less than any change of the weights makes."""
    recorded, found = json.loads(validate.RECORD.read_text()), validate.recorded()
    assert found["views"] == recorded["views"] >= 15
    for name in ("precision", "recall", "wood_iou_median", "hidden_precision", "hidden_recall"):
        assert found[name] == pytest.approx(recorded[name], abs=0.01), name


def test_generator_repeats_itself():
    one, two = scene.make(11), scene.make(11)
    assert (one.rgb == two.rgb).all() and (one.label == two.label).all() and (one.camera == two.camera).all()
    assert (scene.make(12).rgb != one.rgb).any()


def test_labels_say_card_where_cards_are_told():
    """A told card is labelled as one but for what lies on it (a hand, a thing) and its soft rim."""
    told = 0
    for seed in (11, 12, 13, 14, 15):
        made = scene.make(seed)
        known = made.cards & made.seen
        if known.any():
            told += 1
            assert (made.label[known] == scene.CARD).mean() > 0.7
        assert (made.label[~made.seen] == scene.IGNORE).all() and made.label.max() <= scene.IGNORE
    assert told >= 2


def test_scores_are_probabilities_at_the_views_own_size(sample):
    view = sample.view()
    odd = replace(view, rgb=view.rgb[:-37, :-5], seen=view.seen[:-37, :-5])
    scores = network.class_scores(odd)
    assert scores.shape == (*odd.seen.shape, 5) and scores.dtype == np.float32
    assert scores.sum(-1) == pytest.approx(np.ones(odd.seen.shape), abs=1e-5)
    assert scores.min() >= 0
    hidden = network.looked_at(odd).hidden
    assert hidden.shape == odd.seen.shape and hidden.dtype == np.float32 and 0 <= hidden.min() and hidden.max() <= 1


def test_something_laid_over_the_slab_hides_it(sample):
    """A plain grey plate over the middle of an edge: the face goes on under it, and only there."""
    view = sample.view()
    wood = ((sample.label == scene.WOOD) & (sample.label != scene.IGNORE)).astype(np.uint8)
    row, column = np.argwhere(wood - cv2.erode(wood, np.ones((3, 3), np.uint8)))[0]
    plate = np.zeros(wood.shape, np.uint8)
    cv2.circle(plate, (int(column), int(row)), round(200 / view.mm_per_px), 1, -1)
    covered = replace(view, rgb=np.where(plate[..., None] > 0, np.uint8(90), view.rgb))
    before, after = network.looked_at(view).hidden, network.looked_at(covered).hidden
    under, beside = (plate & wood) > 0, plate == 0
    assert after[under].mean() > before[under].mean() + 0.3
    assert after[beside].mean() < before[beside].mean() + 0.05


def test_what_is_not_seen_is_everything_else(sample):
    view = sample.view()
    seen = view.seen.copy()
    seen[:, :100] = False
    said = network.looked_at(replace(view, seen=seen))
    assert (said.classes[:, :100].argmax(-1) == network.OTHER).all()
    assert (said.hidden[:, :100] == 0).all()


def test_a_finer_view_gets_the_same_classes(sample):
    view = sample.view()
    finer = replace(
        view,
        rgb=cv2.resize(view.rgb, None, fx=2, fy=2, interpolation=cv2.INTER_LINEAR),
        seen=np.kron(view.seen, np.ones((2, 2))) > 0,
        mm_per_px=view.mm_per_px / 2,
        origin_mm=view.to_mm(np.array([[-0.25, -0.25]]))[0],
    )
    coarse, fine = network.class_scores(view).argmax(-1), network.class_scores(finer).argmax(-1)
    assert (fine[::2, ::2] == coarse)[view.seen].mean() > 0.98


def test_loaded_once():
    assert network.face_network() is network.face_network()


def test_needs_no_torch():
    program = "import sys; from grainlog.face import network; network.face_network(); print('torch' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.stdout.strip() == "False", done.stderr
