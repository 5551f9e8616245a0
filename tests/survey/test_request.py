"""What must be said is asked for, never guessed."""

import pytest

from grainlog.errors import WrongUse
from grainlog.face.measures import Thickness
from grainlog.survey import Request

THICK = Thickness.from_readings([63.5])


def test_floor_cards_need_thickness():
    with pytest.raises(WrongUse, match="thickness"):
        Request("floor", lift_mm=0.0).setup()


def test_floor_cards_need_the_lift_said_even_when_it_is_nothing():
    with pytest.raises(WrongUse, match="--lift 0mm"):
        Request("floor", thickness=THICK).setup()
    assert Request("floor", thickness=THICK, lift_mm=0.0).setup().lift_mm == 0.0


def test_slab_cards_need_neither():
    setup = Request("slab").setup()
    assert setup.thickness_mm is None and setup.on_slab(3)


def test_readings_around_the_slab_carry_their_spread_into_the_setup():
    one = Request("floor", thickness=THICK, lift_mm=0.0).setup()
    many = Request("floor", thickness=Thickness.from_readings([60.0, 63.0, 68.0]), lift_mm=0.0).setup()
    assert one.thickness_u_mm == pytest.approx(1.0)
    assert many.thickness_mm == pytest.approx(191 / 3) and many.thickness_u_mm > 1.0
