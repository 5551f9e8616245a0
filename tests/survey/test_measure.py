"""The whole pipeline on rendered photos: the record holds together, and what cannot be measured is refused."""

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely

from grainlog.face import FoundFace
from grainlog.photo import Photo
from grainlog.scale import FacePlane, NoCardError, ObliqueError, solve
from grainlog.scale.priors import HARD
from grainlog.survey import HandOutline, Request, SurveyError, measure_photo, record_of
from grainlog.survey.measure import STEPS, _require_cards_where_said, _require_whole
from grainlog.survey.request import FirstFace
from tests.accuracy import true_measures
from tests.samples import FLOOR, SLAB, sample, surveyed
from tests.scale.simulate import scene
from tests.scale.synthetic import photo_of_cards


@pytest.mark.parametrize("name", [FLOOR, SLAB])
def test_numbers_lie_within_their_intervals(name):
    """Three u: a fault in the pipeline is off by far more, and one in 400 honest results may be."""
    quantities, truth = surveyed(name).measured.quantities, true_measures(sample(name).truth)
    for measure in ("length_mm", "width_mean_mm", "width_max_mm", "area_mm2"):
        quantity = quantities[measure]
        assert abs(quantity.value - getattr(truth, measure)) < 3 * quantity.u, measure
    assert quantities["length_mm"].u < 0.01 * quantities["length_mm"].value


@pytest.mark.parametrize("name", [FLOOR, SLAB])
def test_record_holds_together(name):
    survey = surveyed(name)
    record = json.loads(json.dumps(record_of(survey)))
    outline, face = record["outline"], record["face"]
    wood = np.array(outline["wood_mm"])
    assert len(wood) == len(outline["wood_px"])
    assert np.abs(survey.plane.to_px(survey.frame.to_plane(wood)) - outline["wood_px"]).max() < 0.05
    area = shapely.Polygon(wood).area - sum(shapely.Polygon(hole).area for hole in outline["wood_holes_mm"])
    assert area == pytest.approx(face["area_mm2"]["value"], rel=1e-4)
    # Slab frame: x from 0 along the longer side, y about the axis, right-handed seen from above.
    assert wood[:, 0].min() == pytest.approx(0, abs=0.02)
    assert wood[:, 0].max() == pytest.approx(face["length_mm"]["value"], abs=0.02)
    assert wood[:, 1].max() == pytest.approx(-wood[:, 1].min(), abs=0.02)
    px = np.array(outline["wood_px"])
    assert np.sign(signed_area(wood)) == -np.sign(signed_area(px))  # pixel rows run down
    assert shapely.Polygon(outline["bark_mm"]).area >= shapely.Polygon(wood).area * 0.999
    assert record["scale"]["cards"] == sorted(card["id"] for card in sample(name).truth["cards"])
    assert record["checks"] == []
    feet = face["area_mm2"]["value"] * face["thickness_mm"] / 25.4**3 / 144
    assert face["board_feet"]["value"] == pytest.approx(feet)


def signed_area(points):
    x, y = points.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


def test_progress_names_each_step_once():
    seen = []
    measure_photo(sample(SLAB).photo, sample(SLAB).request, seen.append)
    assert tuple(seen) == STEPS[:-1]  # checks are not looked for here: see test_checks


def with_pixels(photo: Photo, pixels: np.ndarray) -> Photo:
    return replace(photo, pixels=np.ascontiguousarray(pixels), width=pixels.shape[1], height=pixels.shape[0])


def test_no_card_is_refused():
    photo = surveyed(SLAB).photo
    with pytest.raises(NoCardError, match="scale card"):
        measure_photo(with_pixels(photo, np.full_like(photo.pixels, 128)), sample(SLAB).request)


def test_slab_that_runs_out_of_the_frame_is_refused():
    """The found outline moved until it crosses the frame; a crop would change the camera as well."""
    survey = surveyed(SLAB)
    _require_whole(survey.face, survey.plane)
    reach = survey.plane.to_mm(np.array([[survey.photo.width - 1.0, survey.photo.height / 2]]))[0, 0]
    over = survey.face.wood + [reach - survey.face.wood[:, 0].max() + 20.0, 0.0]
    with pytest.raises(SurveyError, match="runs out of the photo"):
        _require_whole(fake_face(over), survey.plane)


def test_oblique_view_is_refused():
    """Two cards seen from 65 degrees off straight above."""
    tilt, focal, distance = np.radians(65), 1800.0, 2500.0
    rotation = np.array([[1, 0, 0], [0, -np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), -np.cos(tilt)]])
    matrix = np.array([[focal, 0, 1007.5], [0, focal, 755.5], [0, 0, 1]])
    placed = []
    for card, x in ((0, -350.0), (1, 350.0)):
        onto = np.column_stack([rotation[:, 0], rotation[:, 1], rotation[:, 0] * x + [0, 0, distance]])
        placed.append((card, matrix @ onto))
    rgb, _ = photo_of_cards(placed, (2016, 1512))
    photo = replace(with_pixels(surveyed(SLAB).photo, rgb), focal_35mm_mm=1800 / np.hypot(2016, 1512) * 43.2666)
    with pytest.raises(ObliqueError, match="straight above"):
        measure_photo(photo, Request("slab"))


def fake_face(wood) -> FoundFace:
    return replace(surveyed(SLAB).face, wood=wood, holes=(), bark=wood, silhouette=wood)


def test_card_over_the_edge_and_cards_where_they_were_not_said_to_lie():
    on_slab = scene(3, 2, "slab", HARD, imperfect=0.0)
    plane = FacePlane(solve([on_slab.view], on_slab.setup))
    wood = plane.to_mm(on_slab.outline_px)
    _require_cards_where_said(fake_face(wood), plane)
    card = plane.to_mm(plane.card_outlines_px()[0])
    x = card[:, 0].mean()
    sides = (shapely.box(-9e3, -9e3, x, 9e3), shapely.box(x, -9e3, 9e3, 9e3))
    rest = max((shapely.Polygon(wood).buffer(0).intersection(side) for side in sides), key=lambda part: part.area)
    cut = np.array(rest.exterior.coords)[:-1]
    with pytest.raises(SurveyError, match="covers the wood edge"):
        _require_cards_where_said(fake_face(cut), plane)
    with pytest.raises(SurveyError, match="lies beside it"):
        _require_cards_where_said(fake_face(wood + [0, 3000.0]), plane)
    on_floor = scene(3, 2, "floor", HARD, imperfect=0.0)
    plane = FacePlane(solve([on_floor.view], on_floor.setup))
    wide = plane.to_mm(on_floor.outline_px) * [1, 6]
    with pytest.raises(SurveyError, match="--slab-card"):
        _require_cards_where_said(fake_face(wide), plane)


def test_drawn_outline_is_taken_as_it_is_or_moved_to_the_edge():
    survey, truth = surveyed(SLAB), sample(SLAB).truth
    px = np.array(truth["outline"]["wood_px"])
    request = replace(sample(SLAB).request, outline=HandOutline(px, as_drawn=True))
    drawn = measure_photo(survey.photo, request)
    assert drawn.measured.quantities["area_mm2"].value == pytest.approx(true_measures(truth).area_mm2, rel=0.003)
    middle = px.mean(0)
    rough = replace(sample(SLAB).request, outline=HandOutline(middle + (px - middle) * [1.001, 1.006]))
    refined = measure_photo(survey.photo, rough)
    as_rough = measure_photo(survey.photo, replace(rough, outline=replace(rough.outline, as_drawn=True)))
    off = [abs(s.measured.quantities["area_mm2"].value / true_measures(truth).area_mm2 - 1) for s in (refined, as_rough)]
    assert off[0] < off[1]


def test_a_later_photo_from_the_other_side_keeps_the_same_end_at_zero():
    survey = surveyed(SLAB)
    first = np.array(record_of(survey)["outline"]["wood_mm"])
    turned = with_pixels(survey.photo, survey.photo.pixels[::-1, ::-1])
    again = measure_photo(turned, replace(sample(SLAB).request, first=FirstFace(first, None)))
    overlap = shapely.Polygon(first).intersection(shapely.Polygon(again.frame.to_slab(again.face.wood))).area
    assert overlap / shapely.Polygon(first).area > 0.985
    plain = measure_photo(turned, sample(SLAB).request)
    swapped = shapely.Polygon(plain.frame.to_slab(plain.face.wood))
    assert shapely.Polygon(first).intersection(swapped).area < overlap


def test_half_the_pixels_give_the_same_numbers():
    survey = surveyed(FLOOR)
    h, w = survey.photo.pixels.shape[:2]
    half = with_pixels(survey.photo, cv2.resize(survey.photo.pixels, (w // 2, h // 2), interpolation=cv2.INTER_AREA))
    other = measure_photo(half, sample(FLOOR).request)
    for name in ("length_mm", "width_mean_mm", "area_mm2"):
        both = survey.measured.quantities[name], other.measured.quantities[name]
        assert abs(both[0].value - both[1].value) < both[1].u, name
