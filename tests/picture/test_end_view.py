"""The end view shows what the plan says."""

import io
import re

import numpy as np
import pytest
from PIL import Image

from grainlog.errors import WrongUse
from grainlog.fit.sawing_plan import Log, Mill, plan
from grainlog.picture.end_view import draw_end_view

LOG = Log(700, 760, 2700, 12)


def test_the_svg_names_every_slab_and_every_cut_that_is_too_wide():
    made = plan(LOG, Mill(63.5, 9.0, 740.0))
    text = draw_end_view(made, "Driveway elm", "mm", "svg").decode()
    said = [re.sub(r"<[^>]+>", "", each) for each in re.findall(r"<text.*?</text>", text, re.DOTALL)]
    assert sum(" BF" in each and "slab" not in each for each in said) == len(made.slabs)
    assert sum("too wide" in each for each in said) == sum(cut.excess_mm > 0 for cut in made.cuts) > 0
    assert any("Driveway elm" in each for each in said) and "trim" in said
    assert text == draw_end_view(made, "Driveway elm", "mm", "svg").decode()  # the same plan, the same file


def test_the_png_is_mostly_wood_where_the_slabs_are():
    made = plan(LOG, Mill(63.5, 9.0))
    picture = np.asarray(Image.open(io.BytesIO(draw_end_view(made, "Elm", "in"))).convert("RGB"), int)
    assert picture.shape == (1120, 1600, 3)
    wood = (picture[..., 0] - picture[..., 2] > 60) & (picture[..., 0] > 120)
    rows = np.flatnonzero(wood.sum(axis=1) > 100)
    # From the first slab's top to the last one's bottom, all but the kerfs.
    share = len(made.slabs) * 63.5 / (made.slabs[0].top_mm - made.slabs[-1].bottom_mm)
    assert len(rows) / (rows[-1] - rows[0] + 1) == pytest.approx(share, abs=0.06)


def test_another_format_is_refused():
    with pytest.raises(WrongUse, match="png or svg"):
        draw_end_view(plan(LOG, Mill(63.5, 9.0)), "Elm", "in", "pdf")
