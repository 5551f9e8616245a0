"""What a person draws on one of several photos, or on the joined picture: exact places, and the same result from each."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from grainlog.cli import grainlog
from grainlog.errors import WrongUse
from grainlog.face.dabs import Dabs
from grainlog.face.frame import slab_frame
from grainlog.face.measures import Thickness, measure_outline
from grainlog.survey import (
    HandOutline,
    Request,
    measure_photo,
    measure_photos,
    record_of,
)
from grainlog.survey.drawn import JOINED, Drawing, named
from grainlog.survey.said import by_hand_data, request_of, said_of
from grainlog.survey.several import measure_tied, tie_photos
from tests.scale.long_slab import LEFT, LIFT_MM, RIGHT, SIZE_PX, THICKNESS_MM, LongSlab

SLAB = LongSlab()
REQUEST = Request(
    "floor", thickness=Thickness.from_readings([THICKNESS_MM]), lift_mm=LIFT_MM, ground="hard", checks=False
)
PAIR = Path(__file__).parents[2] / "sample_images" / "several"
TRUTH = json.loads((PAIR / "long-walnut-right.json").read_text())
LAY = ("--thickness", f"{TRUTH['given']['thickness_mm']}mm", "--lift", f"{TRUTH['given']['lift_mm']}mm", "--no-checks")


@pytest.fixture(scope="module")
def photos():
    return SLAB.photo(LEFT, "left.jpg"), SLAB.photo(RIGHT, "right.jpg")


@pytest.fixture(scope="module")
def tied(photos):
    return tie_photos(photos, REQUEST)


def true_points() -> np.ndarray:
    """(n, 3) the true wood edge, each point in the photo that shows it farther from its frame."""
    seen = [SLAB.outline_px(stand) for stand in (LEFT, RIGHT)]
    inside = [np.minimum(px, np.array(SIZE_PX) - 1 - px).min(1) for px in seen]
    right = inside[1] > inside[0]
    return np.column_stack([np.where(right[:, None], seen[1], seen[0]), np.where(right, 2.0, 1.0)])


def test_an_outline_drawn_on_both_photos_measures_as_one_photo_does(tied):
    """True pixels of each photo: as good as the scale, which for one photo is 0.1 % of length and 0.3 % of area."""
    survey = measure_tied(tied, replace(REQUEST, outline=HandOutline(true_points(), as_drawn=True)))
    true = measure_outline(slab_frame(SLAB.outline).to_slab(SLAB.outline))
    for name in ("length_mm", "width_mean_mm", "area_mm2"):
        quantity = survey.measured.quantities[name]
        assert abs(quantity.value - getattr(true, name)) < 2 * quantity.u, name
    assert survey.measured.quantities["length_mm"].value == pytest.approx(true.length_mm, rel=0.002)
    assert survey.measured.quantities["area_mm2"].value == pytest.approx(true.area_mm2, rel=0.005)
    # The same, drawn on the joined picture, and replayed from the record.
    joined = HandOutline(named(tied.drawing.on_joined(true_points()), JOINED), as_drawn=True)
    again = measure_tied(tied, replace(REQUEST, outline=joined))
    assert np.abs(again.face.wood - survey.face.wood).max() < 1e-6
    record = record_of(again)
    kept = record["by_hand"]["outline"]
    assert {photo for *_, photo in kept["wood_px"]} == {1, 2}
    assert np.abs(np.array(record["by_hand_shown"]["outline"]["wood_px"]) - joined.wood_px[:, :2]).max() < 0.01
    replayed = request_of(said_of(json.loads(json.dumps(record))))
    laid = tied.drawing.to_mm(replayed.outline.wood_px)
    assert replayed.outline.as_drawn and np.abs(laid - tied.drawing.to_mm(true_points())).max() < 0.02


def test_what_was_drawn_stays_where_it_was_when_the_thickness_is_said_anew(photos, tied):
    """Pixels of the joined picture would move with the face; what is kept does not."""
    shown = tied.drawing.on_joined(true_points())
    first = measure_tied(tied, replace(REQUEST, outline=HandOutline(named(shown, JOINED), as_drawn=True)))
    thicker = replace(first.request, thickness=Thickness.from_readings([THICKNESS_MM + 5]))
    again = measure_photos(photos, thicker)
    drawn = first.request.outline.wood_px
    for photo, plane in enumerate(again.plane.planes, 1):
        on_it = drawn[drawn[:, 2] == photo, :2]
        off = shapely.distance(shapely.points(on_it), shapely.LinearRing(plane.to_px(again.face.wood)))
        assert len(on_it) > 50 and off.max() < 0.05
    assert np.abs(again.plane.to_px(first.plane.to_mm(shown)) - shown).max() > 3


def test_dabs_on_any_photo_mend_the_outline(tied):
    """A board's width of wood at the end is dabbed away on the second photo."""
    plain = measure_tied(tied, REQUEST)
    frame = plain.frame
    corner = frame.to_plane(np.array([[frame.length - 60.0, 0.0], [frame.length - 30.0, 30.0]]))
    if SLAB.outline_px(RIGHT)[:, 0].max() < tied.viewer.plane.planes[1].to_px(corner)[:, 0].max() - 200:
        corner = frame.to_plane(np.array([[60.0, 0.0], [30.0, 30.0]]))
    stroke = named(tied.viewer.plane.planes[1].to_px(corner), 2)
    mended = measure_tied(tied, replace(REQUEST, dabs=Dabs((), (stroke,))))
    assert not shapely.Polygon(mended.face.wood).contains(shapely.Point(corner[1]))
    assert shapely.Polygon(plain.face.wood).contains(shapely.Point(corner[1]))
    assert by_hand_data(mended.request)["dabs"]["not_wood_px"] == [np.round(stroke, 2).tolist()]


@settings(max_examples=60, deadline=None)
@given(st.floats(0, SIZE_PX[0] - 1), st.floats(0, SIZE_PX[1] - 1), st.sampled_from([1, 2]), st.booleans())
def test_points_come_back_to_the_place_on_the_slab(tied, x, y, photo, turned):
    drawing = Drawing(tied.viewer.plane, (1, 0) if turned else (0, 1))
    point = np.array([[x, y, float(photo)]])
    mm = drawing.to_mm(point)
    own = tied.viewer.plane.planes[2 - photo if turned else photo - 1]
    assert np.allclose(mm, own.to_mm(point[:, :2]))
    back = drawing.on_photos(named(drawing.on_joined(point), JOINED))
    assert np.abs(drawing.to_mm(back) - mm).max() < 1e-6
    assert (drawing.on_photos(point) == point).all()


def test_what_is_drawn_where_nothing_is_shown_is_refused(tied, photos):
    for points, word in (
        ([[-5.0, 10.0, 1]], "outside photo 1"),
        ([[10.0, 10.0, 3]], "photo 3, and there are 2"),
        ([[10.0, 10.0, 1.5]], "photo 1.5"),
        ([[-900.0, -900.0, JOINED]], "none of the photos"),
    ):
        with pytest.raises(WrongUse, match=word):
            measure_tied(tied, replace(REQUEST, dabs=Dabs((np.array(points),))))
    with pytest.raises(WrongUse, match="only one photo is given"):
        measure_photo(photos[0], replace(REQUEST, dabs=Dabs((np.array([[5.0, 5, 2]]),))))


@pytest.mark.parametrize("photo", ["2", True, 1.5])
def test_data_that_names_no_photo_is_refused(photo):
    with pytest.raises(WrongUse, match="which photo"):
        request_of({"dabs": {"wood_px": [[[1, 2]]], "photo": photo}})


def test_data_names_a_photo_for_all_its_points_or_for_each():
    request = request_of({"dabs": {"wood_px": [[[1, 2]], [[3, 4, 1]]], "photo": 2}})
    assert [stroke.tolist() for stroke in request.dabs.wood] == [[[1, 2, 2]], [[3, 4, 1]]]
    ring = [[0, 0], [9, 0], [9, 9]]
    assert (request_of({"outline": {"wood_px": ring, "photo": 0}}).outline.wood_px[:, 2] == JOINED).all()
    assert request_of({"outline": {"wood_px": ring}}).outline.wood_px.shape == (3, 2)


def run(*words):
    return CliRunner().invoke(grainlog, [str(word) for word in words], catch_exceptions=False)


def test_commands_take_outline_dabs_and_point_with_several_photos(tmp_path):
    left, right = PAIR / "long-walnut-left.jpg", PAIR / "long-walnut-right.jpg"
    both = ("measure", right, "--and", left, *LAY, "--json")
    ring, box = tmp_path / "ring.json", [[900, 500], [2100, 500], [2100, 800], [900, 800]]
    ring.write_text(json.dumps({"photo": "joined", "wood_px": box}))
    drawn = json.loads(run(*both, "--outline", ring, "--as-drawn").stdout)
    size = drawn["photos"]["mm_per_px"]
    assert drawn["face"]["area_mm2"]["value"] == pytest.approx(1200 * 300 * size**2, rel=1e-6)
    assert np.abs(np.array(drawn["by_hand_shown"]["outline"]["wood_px"]) - box).max() < 0.02
    # A point of the true outline's middle, on the photo that was given second.
    truth = json.loads((PAIR / "long-walnut-left.json").read_text())
    middle = np.array(truth["outline"]["wood_px"]).mean(0)
    dabs = tmp_path / "dabs.json"
    dabs.write_text(json.dumps({"photo": 2, "wood_px": [middle.tolist()]}))
    pointed = run(*both, "--dabs", dabs, "--at", f"{middle[0]},{middle[1]}", "--drawn-on", "2")
    assert pointed.exit_code == 0, pointed.output
    kept = json.loads(pointed.stdout)
    assert [stroke[0][2] for stroke in kept["by_hand"]["dabs"]["wood_px"]] == [2, 2]
    assert kept["face"]["length_mm"]["value"] == pytest.approx(TRUTH["measures"]["length_mm"], rel=2e-3)


@pytest.mark.parametrize(
    "content, words, told",
    [
        ({"photo": 3, "wood_px": [[5, 5]]}, (), "2 photos are given"),
        ({"photo": "left", "wood_px": [[5, 5]]}, (), 'The "photo"'),
        ({"photo": 2.0, "wood_px": [[5, 5]]}, (), 'The "photo"'),
        ({"photo": 1, "wood_px": [[5, 5]]}, ("--drawn-on", "2"), "say it once"),
        ({"photo": 2, "wood_px": [[99999, 5]]}, (), "outside the photo"),
    ],
)
def test_commands_refuse_what_names_no_photo(tmp_path, content, words, told):
    left, right = PAIR / "long-walnut-left.jpg", PAIR / "long-walnut-right.jpg"
    file = tmp_path / "dabs.json"
    file.write_text(json.dumps(content))
    with pytest.raises(WrongUse, match=told):
        run("measure", right, "--and", left, *LAY, "--dabs", file, *words)


def test_drawn_on_needs_something_drawn():
    with pytest.raises(WrongUse, match="--drawn-on says"):
        run("measure", PAIR / "long-walnut-left.jpg", *LAY, "--drawn-on", "2")
    answer = run("measure", PAIR / "long-walnut-left.jpg", *LAY, "--at", "5,5", "--drawn-on", "5")
    assert answer.exit_code == 2 and "is no photo" in answer.output
