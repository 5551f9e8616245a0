"""One slab in several photos, from pixels to the record, and every way in which such photos can be wrong."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from PIL import Image
from scipy.optimize import minimize
from shapely import affinity

from grainlog.cli import grainlog
from grainlog.errors import WrongUse
from grainlog.face.frame import slab_frame
from grainlog.face.measures import Thickness, measure_outline
from grainlog.scale.detect import CardsSeen, RejectedCard, SeenCard
from grainlog.scale.errors import ScaleError
from grainlog.scale.mosaic import MosaicPlane
from grainlog.scale.mosaic_view import MosaicViewer
from grainlog.scale.rectangle import SHEETS
from grainlog.scale.solve import Solution, solve
from grainlog.survey import Request, SurveyError, measure_photos
from grainlog.survey.overlap import agreement_of
from grainlog.survey.several import _chained, _require_all_tied, _require_unmoved
from grainlog.yard import Yard
from grainlog.yard.check_view import look_at_survey, mapped
from tests.scale.long_slab import (
    CARDS,
    LEFT,
    LIFT_MM,
    RIGHT,
    SETUP,
    THICKNESS_MM,
    LongSlab,
)

SLAB = LongSlab()
PAIR = Path(__file__).parents[2] / "sample_images" / "several"
TRUTH = json.loads((PAIR / "long-walnut-right.json").read_text())
REQUEST = Request("floor", thickness=Thickness.from_readings([THICKNESS_MM]), lift_mm=LIFT_MM, ground="hard")


@pytest.fixture(scope="module")
def photos():
    return SLAB.photo(LEFT, "left.jpg"), SLAB.photo(RIGHT, "right.jpg")


def run(*words):
    return CliRunner().invoke(grainlog, [str(word) for word in words], catch_exceptions=False)


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    """The whole command: a rendered pair into a yard, the right one named first; the survey's entry."""
    yard = tmp_path_factory.mktemp("yards") / "yard"
    assert run("start", yard).exit_code == 0
    given = TRUTH["given"]
    words = ["add", PAIR / "long-walnut-right.jpg", "--and", PAIR / "long-walnut-left.jpg", "--log", "long walnut"]
    words += ["--thickness", f"{given['thickness_mm']}mm", "--lift", f"{given['lift_mm']}mm", "--yard", yard]
    answer = run(*words)
    assert answer.exit_code == 0, answer.output
    assert "long-walnut-right.jpg: slab 1" in answer.stdout
    with Yard.open(yard) as opened:
        return opened.slab(1).surveys[0]


def pixels_of(path) -> np.ndarray:
    with Image.open(path) as picture:
        return np.asarray(picture).astype(int)


def test_numbers_lie_within_their_intervals(measured):
    """As good as one photo: the sample photos' lengths are good to 0.12 % in a perfect world, outlines overlap by 0.98."""
    face = measured.record["face"]
    wood = np.array(TRUTH["outline"]["wood_mm"])
    true = measure_outline(slab_frame(wood).to_slab(wood))
    for name in ("length_mm", "width_mean_mm", "area_mm2"):
        assert abs(face[name]["value"] - getattr(true, name)) < 2 * face[name]["u"], name
    assert face["length_mm"]["value"] == pytest.approx(true.length_mm, rel=0.002)
    assert face["area_mm2"]["value"] == pytest.approx(true.area_mm2, rel=0.008)
    assert face["length_mm"]["u"] < 0.005 * true.length_mm
    found = shapely.Polygon(measured.record["outline"]["wood_mm"])
    laid = shapely.Polygon(slab_frame(wood).to_slab(wood)).simplify(0.3)
    turned = affinity.rotate(laid, 180, (true.length_mm / 2, 0))
    assert max(best_overlap(found, laid), best_overlap(found, turned)) > 0.99


def test_checks_are_looked_for_in_the_joined_picture(measured):
    """And the face can be shown again from what the yard keeps: its flat view is the joined picture."""
    record = measured.record
    assert record["check_summary"]["mm_per_px"] == pytest.approx(record["scale"]["mm_per_px"])
    way = mapped(record)
    for check in record["checks"]:
        assert np.abs(way.to_px(np.array(check["path_mm"])) - check["path_px"]).max() < 0.05
    look = look_at_survey(measured)
    assert look.wood.mean() > 0.7 and look.light[look.wood].std() > 2


def best_overlap(found, true) -> float:
    """Overlap (IoU) of two outlines, laid on each other as well as they go: each has its own frame."""

    def missing(move) -> float:
        moved = affinity.translate(affinity.rotate(true, move[2] / 100, "centroid"), move[0], move[1])
        return 1 - found.intersection(moved).area / found.union(moved).area

    simplex = np.array([[0, 0, 0], [8, 0, 0], [0, 8, 0], [0, 0, 40.0]])
    return 1 - minimize(missing, np.zeros(3), method="Nelder-Mead", options={"initial_simplex": simplex, "maxiter": 80}).fun


def test_record_says_which_photos_and_its_pixels_are_those_of_the_joined_picture(measured):
    record, flat = measured.record, pixels_of(measured.flat)
    assert record["photo"]["name"] == "long-walnut-right.jpg, long-walnut-left.jpg"
    assert record["photo"]["name"] == ", ".join(photo["name"] for photo in record["photos"]["joined"])
    assert record["photo"]["sha256"] == record["photos"]["joined"][0]["sha256"]
    assert flat.shape[1::-1] == (record["photo"]["width_px"], record["photo"]["height_px"])
    assert record["scale"]["cards"] == [0, 1, 2, 3]
    assert [photo["cards"] for photo in record["photos"]["joined"]] == [[1, 2, 3], [0, 1, 2]]
    (overlap,) = record["photos"]["overlaps"]
    assert overlap["apart_mm"]["value"] < 3 * overlap["apart_mm"]["u"]
    assert overlap["alike"] > 0.8
    # Slab frame to pixels: a turn, a shift and the size of a pixel, nothing else.
    px, mm = np.array(record["outline"]["wood_px"]), np.array(record["outline"]["wood_mm"])
    sizes = np.linalg.norm(np.diff(px, axis=0), axis=1) * record["photos"]["mm_per_px"]
    assert np.abs(sizes - np.linalg.norm(np.diff(mm, axis=0), axis=1)).max() < 0.05
    # The wood is brown, the ground grey: the picture shows it where the record says.
    wood, ground = shapely.Polygon(px).buffer(-8), shapely.Polygon(px).buffer(60).difference(shapely.Polygon(px).buffer(25))
    rows, columns = np.mgrid[: flat.shape[0] : 5, : flat.shape[1] : 5]
    brown = flat[rows, columns, 0] - flat[rows, columns, 2] > 12
    assert brown[shapely.contains_xy(wood, columns, rows)].mean() > 0.98
    assert brown[shapely.contains_xy(ground, columns, rows)].mean() < 0.2
    assert pixels_of(measured.overlay).shape[1] == min(2000, flat.shape[1])
    assert len(measured.further) == 1


@pytest.mark.parametrize("count", [1, 5])
def test_too_few_and_too_many_photos_are_refused(photos, count):
    with pytest.raises(WrongUse, match="up to 4 photos"):
        measure_photos([photos[0]] * count, REQUEST)


def test_what_belongs_to_one_photo_is_refused(photos):
    with pytest.raises(WrongUse, match="belong to one photo"):
        measure_photos(photos, replace(REQUEST, reference=SHEETS["a4"]))
    with pytest.raises(WrongUse, match="left.jpg is given twice"):
        measure_photos([photos[0], photos[0]], REQUEST)
    with pytest.raises(WrongUse, match="--lift"):
        measure_photos(photos, replace(REQUEST, lift_mm=None))


def test_commands_refuse_what_cannot_be_one_slab(measured):
    same, lay = measured.original, ("--thickness", "60mm", "--lift", "20mm")
    with pytest.raises(WrongUse, match="given twice"):
        run("measure", same, "--and", same, *lay)
    with pytest.raises(WrongUse, match="--and.* belong to one photo"):
        run("add", same, same, "--and", same, "--log", "long ash", *lay)


def test_a_photo_without_cards_is_named(photos):
    bare = replace(photos[1], pixels=np.full_like(photos[1].pixels, 120), sha256="0" * 64)
    with pytest.raises(ScaleError, match="right.jpg"):
        measure_photos([photos[0], bare], REQUEST)


def seen(*numbers):
    return CardsSeen(tuple(SeenCard(number, np.arange(12), np.zeros((12, 2)), 20.0) for number in numbers), ())


def test_photos_are_put_into_an_order_in_which_each_shares_a_card(photos):
    left, right = photos
    middle = replace(left, name="middle.jpg")
    chained, cards = _chained([left, right, middle], [seen(0, 1), seen(3, 4), seen(1, 3)])
    assert [photo.name for photo in chained] == ["left.jpg", "middle.jpg", "right.jpg"]
    assert [card.card for card in cards[2].cards] == [3, 4]
    with pytest.raises(ScaleError, match="right.jpg and another"):
        _chained([left, right, middle], [seen(0, 1), seen(3, 4), seen(1, 2)])
    with pytest.raises(ScaleError, match="left.jpg and another"):
        _chained([left, right, middle], [seen(0, 1), seen(3, 4), seen(2, 3)])


def solved(slab: LongSlab = SLAB):
    return solve([slab.view(LEFT), slab.view(RIGHT)], SETUP)


def without(solution: Solution, *cards: int) -> Solution:
    """As if these cards had been found to contradict the others (such a solution takes its time)."""
    return replace(solution, left_out=tuple(RejectedCard(card, "it contradicts the other cards") for card in cards))


def as_seen(slab: LongSlab = SLAB):
    return [CardsSeen(slab.view(stand).cards, ()) for stand in (LEFT, RIGHT)]


def test_which_of_two_shared_cards_was_moved_cannot_be_told(photos, still):
    """With the wrong one left out, the length would be off by as much as the other was moved."""
    _require_all_tied(photos, as_seen(), still.solution)
    _require_all_tied(photos, as_seen(), without(still.solution, 3))
    for card in (1, 2):
        with pytest.raises(ScaleError, match="Cards 1 and 2 do not lie in right.jpg as they lie in left.jpg"):
            _require_all_tied(photos, as_seen(), without(still.solution, card))
    three = LongSlab(cards={**CARDS, 4: (60.0, 640.0, 0.4)})
    _require_all_tied(photos, as_seen(three), without(still.solution, 1))
    with pytest.raises(ScaleError, match="The only card that ties right.jpg"):
        _require_all_tied(photos, [seen(0, 1), seen(1)], without(still.solution, 1))


def test_a_card_that_lies_elsewhere_in_one_photo_is_named(photos, still):
    _require_unmoved(photos, still)
    vector = still.solution.vector.copy()
    vector[still.solution.problem.index["x", "card", 2]] += 0.4
    off = replace(still.solution, vector=vector)
    with pytest.raises(SurveyError, match="Card 2 does not lie in (left|right).jpg where the other photos have it .4 mm off"):
        _require_unmoved(photos, MosaicPlane.of(off))


@pytest.fixture(scope="module")
def still():
    return MosaicPlane.of(solved())


def agreement(plane, *pictures):
    each = [own.to_mm(SLAB.outline_px(stand)) for own, stand in zip(plane.planes, (LEFT, RIGHT))]
    wood = np.array([each[k][point] for point, k in enumerate(plane.shares.photo_of(each[0]))])
    (found,) = agreement_of(MosaicViewer(plane, tuple(photo.pixels for photo in pictures)), wood)
    return found


def test_the_wood_itself_says_that_nothing_was_moved(photos, still):
    found = agreement(still, *photos)
    assert found.apart_mm < 2.0
    assert found.alike > 0.9
    found.require(["left.jpg", "right.jpg"])


def test_a_slab_that_was_moved_between_the_photos_is_refused(photos, still):
    """No card can know; the wood does."""
    moved = SLAB.photo(RIGHT, "right.jpg", {"slab": (45.0, 8.0)})
    found = agreement(still, photos[0], moved)
    assert found.apart_mm == pytest.approx(np.hypot(45.0, 8.0), abs=2.0)
    with pytest.raises(SurveyError, match="The wood lies 4[4-7] mm apart in left.jpg and right.jpg"):
        found.require(["left.jpg", "right.jpg"])


def test_photos_of_different_slabs_are_refused(photos, still):
    with pytest.raises(SurveyError, match="do not show the same wood"):
        agreement(still, photos[0], LongSlab(9).photo(RIGHT)).require(["left.jpg", "right.jpg"])


def test_too_little_wood_in_common_compares_nothing(photos, still):
    """A slab that only one of the photos shows."""
    foot = still.planes[0].camera_mm[:2]
    left = foot + [[-700, -200], [-500, -200], [-500, 200], [-700, 200]]
    assert agreement_of(MosaicViewer(still, tuple(photo.pixels for photo in photos)), left) == ()
