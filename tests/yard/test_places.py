"""Where slabs lie: layers from the bottom, what lies above, restacking, taking out."""

from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from grainlog.yard import Yard
from grainlog.yard.errors import LifeRefused
from grainlog.yard.places import Lying
from tests.yard.filings import filing

ACTS = ("lay", "restack", "gone")


def fill(yard: Yard, photos: Path) -> None:
    for seed in range(6):
        yard.add(filing(photos, seed, size=50))


def order(yard: Yard, shed: str, stack: str) -> list[int]:
    return [lying.number for lying in yard.places.stack(shed, stack)]


def test_slabs_go_on_top_in_the_order_named(filled_yard):
    assert filled_yard.places.lay([3, 1, 2], "barn", "A") == [Lying(3, 1), Lying(1, 2), Lying(2, 3)]
    filled_yard.places.lay([4], "Barn ", " a")  # the same stack, however it is written
    assert order(filled_yard, "barn", "A") == [3, 1, 2, 4]
    assert filled_yard.places.above(1) == [Lying(4, 4), Lying(2, 3)]
    assert filled_yard.places.above(4) == [] and filled_yard.places.above(5) is None
    assert [count for *_, count in filled_yard.places.stacks()] == [4]


def test_restacking_reverses_the_order_in_one_act_and_is_kept(filled_yard):
    filled_yard.places.lay([1, 2, 3, 4], "barn", "A")
    assert [other.number for other in filled_yard.places.restack("barn", "A")] == [4, 3, 2, 1]
    filled_yard.places.lay([5], "barn", "B")
    filled_yard.places.restack("barn", "A", to_stack="B")
    assert order(filled_yard, "barn", "B") == [5, 1, 2, 3, 4]
    assert [change.what for change in filled_yard.lives.history(1)] == ["laid down", "restacked", "restacked"]
    assert filled_yard.stocktake() == []


def test_those_above_come_down_when_one_is_taken_out(filled_yard):
    filled_yard.places.lay([1, 2, 3, 4], "barn", "A")
    filled_yard.lives.set_status([2], "gone")
    assert filled_yard.places.stack("barn", "A") == [Lying(1, 1), Lying(3, 2), Lying(4, 3)]
    assert filled_yard.lives.of(2).shed is None
    assert "slab 2 was taken out below" in filled_yard.lives.history(4)[-1].note
    filled_yard.places.lay([1], "barn", "B")
    assert filled_yard.places.stack("barn", "A") == [Lying(3, 1), Lying(4, 2)]


def test_side_by_side(filled_yard):
    filled_yard.places.lay([1, 2], "barn", "A")
    with pytest.raises(LifeRefused, match="Layer 2 of that stack is slab 2;"):
        filled_yard.places.lay([3], "barn", "A", layer=2)
    filled_yard.places.lay([3], "barn", "A", layer=2, beside=True)
    filled_yard.places.lay([4], "barn", "A")
    assert filled_yard.places.above(1) == [Lying(4, 3), Lying(3, 2), Lying(2, 2)]
    filled_yard.lives.set_status([3], "sold")  # sold but still lying there
    assert filled_yard.lives.of(3).layer == 2
    filled_yard.lives.set_status([3], "gone")
    assert filled_yard.places.stack("barn", "A") == [Lying(1, 1), Lying(2, 2), Lying(4, 3)]


@pytest.mark.parametrize(
    "act, says",
    [
        (lambda places: places.lay([1], None), "Say where"),
        (lambda places: places.lay([1], "barn", layer=1), "name the stack too"),
        (lambda places: places.lay([1], "barn", "A", layer=0), "the lowest is 1"),
        (lambda places: places.lay([1], "barn", "A", layer=3), "hang in the air"),
        (lambda places: places.lay([1, 1], "barn", "A"), "each slab once"),
        (lambda places: places.stack("barn", "Z"), "Nothing lies in stack Z of shed barn; places with slabs are attic"),
        (lambda places: places.restack("barn", "Z"), "Nothing lies in"),
        (lambda places: places.restack("attic", None), "Name the stack"),
        (lambda places: places.lay([6], "barn", day=date(2020, 1, 1)), "in the order of their days"),
    ],
)
def test_bad_places_are_a_sentence(filled_yard, act, says):
    filled_yard.places.lay([6], "attic")
    before = filled_yard.lives.of_all()
    with pytest.raises(LifeRefused, match=says) as told:
        act(filled_yard.places)
    assert str(told.value).endswith(".") and filled_yard.lives.of_all() == before


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(moves=st.lists(st.tuples(st.sampled_from(ACTS), st.integers(1, 6), st.sampled_from("AB")), max_size=8))
def test_layers_are_always_1_to_the_top_and_only_reversed_by_restacking(filled_yard, moves):
    """Against a plain list of lists that does the same by hand."""
    stacks: dict[str, list[int]] = {"A": [], "B": []}
    day = date.today()
    for number in range(1, 7):
        filled_yard.lives.set_status([number], "gone", day=day)
    for what, number, stack in moves:
        if what == "restack":
            if not stacks[stack]:
                continue
            filled_yard.places.restack("s", stack, day=day)
            stacks[stack].reverse()
            continue
        for other in stacks.values():
            if number in other:
                other.remove(number)
        if what == "lay":
            filled_yard.lives.set_status([number], "drying", day=day)
            filled_yard.places.lay([number], "s", stack, day=day)
            stacks[stack].append(number)
        else:
            filled_yard.lives.set_status([number], "gone", day=day)
    for stack, numbers in stacks.items():
        if numbers:
            assert filled_yard.places.stack("s", stack) == [Lying(n, layer) for layer, n in enumerate(numbers, 1)]
