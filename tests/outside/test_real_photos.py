"""Real photos: how far the outline agrees with a hand trace, and with corners by eye. A yardstick, printed with `pytest -s`.

Photograph and trace: see the README of the folder; the trace is good to 5 to 10 px, includes visible flank, and is
itself only good to an IoU of about 0.96. The photo has no card; the scale is two points by hand, which the outline does
not depend on.
"""

from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely
from PIL import Image

from grainlog.scale.at_hand import two_points
from grainlog.survey import Request, SurveyError, measure_photo, record_of
from tests.real_pictures import DABS

SLABS = Path(__file__).parents[3] / "shared" / "real" / "slabs"


needs_photos = pytest.mark.skipif(
    not SLABS.is_dir(), reason="the folder of real photographs is not here (it is not part of the project)"
)
#: The plank's four corners in `plank_on_grass.jpg`, read off the photo by eye, good to about 5 px.
PLANK_PX = np.array([[500.0, 325], [739, 318], [1034, 1387], [176, 1387]])


@needs_photos
def test_rough_slab_on_concrete_against_its_hand_trace():
    request = Request("slab", reference=two_points(np.array([[850.0, 400], [350, 1840]]), 1830.0))
    record = record_of(measure_photo(SLABS / "raw_slab_on_concrete.jpg", request))
    with Image.open(SLABS / "raw_slab_on_concrete.mask.png") as image:
        trace = np.asarray(image.convert("L")) > 127
    agreement = {}
    for name in ("wood", "silhouette"):
        found = np.zeros(trace.shape, np.uint8)
        cv2.fillPoly(found, [np.round(record["outline"][f"{name}_px"]).astype(np.int32)], 1)
        for hole in record["outline"]["wood_holes_px"]:
            cv2.fillPoly(found, [np.round(hole).astype(np.int32)], 0)
        agreement[name] = (trace & (found > 0)).sum() / (trace | (found > 0)).sum()
    print(f"\nreal slab against its hand trace: IoU wood {agreement['wood']:.3f}, silhouette {agreement['silhouette']:.3f}")
    assert max(agreement.values()) > 0.9


@needs_photos
def test_plank_before_a_road_of_its_own_colour_is_refused_and_two_dabs_mend_it():
    """The finder takes the grey road behind the plank for wood, which it says may be."""
    photo, scale = SLABS / "plank_on_grass.jpg", two_points(np.array([[600.0, 160], [600, 1440]]), 1500.0)
    with pytest.raises(SurveyError, match="something else was taken for wood: .* dab"):
        measure_photo(photo, Request("slab", reference=scale, checks=False))
    survey = measure_photo(photo, Request("slab", reference=scale, checks=False, dabs=DABS["plank_on_grass"]))
    found, plank = shapely.Polygon(survey.plane.to_px(survey.face.wood)), shapely.Polygon(PLANK_PX)
    iou = found.intersection(plank).area / found.union(plank).area
    print(f"\nplank on grass, two dabs, against its corners by eye: IoU {iou:.3f}, confidence {survey.face.confidence:.2f}")
    assert iou > 0.95
