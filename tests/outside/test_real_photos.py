"""The one real slab with a hand trace: how far the outline agrees with it. A yardstick, printed with `pytest -s`.

Photograph and trace: see the README of the folder; the trace is good to 5 to 10 px, includes visible flank, and is
itself only good to an IoU of about 0.96. The photo has no card; the scale is two points by hand, which the outline does
not depend on.
"""

from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from grainlog.scale.at_hand import two_points
from grainlog.survey import Request, measure_photo, record_of

SLABS = Path(__file__).parents[3] / "shared" / "real" / "slabs"


@pytest.mark.skipif(not SLABS.is_dir(), reason="the folder of real photographs is not here (it is not part of the project)")
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
