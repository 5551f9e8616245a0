"""Where slabs lie: layers from the bottom, what lies above, restacking, taking out."""

from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from grainlog.yard import Yard
from grainlog.yard.errors import LifeRefused
from grainlog.yard.places import Lying
from tests.yard.filings import filing

ACTS = ("lay", "restack", "gone")


@pytest.fixture
def stocked(yard, scratch) -> Yard:
    for seed in range(6):
        yard.add(filing(scratch, seed, size=50))
    return yard


def order(yard: Yard, shed: str, stack: str) -> list[int]:
    return [lying.number for lying in yard.places.stack(shed, stack)]


def test_slabs_go_on_top_in_the_order_named(stocked):
    assert stocked.places.lay([3, 1, 2], "barn", "A") == [Lying(3, 1), Lying(1, 2), Lying(2, 3)]
    stocked.places.lay([4], "Barn ", " a")  # the same stack, however it is written
    assert order(stocked, "barn", "A") == [3, 1, 2, 4]
    assert stocked.places.above(1) == [Lying(4, 4), Lying(2, 3)]
    assert stocked.places.above(4) == [] and stocked.places.above(5) is None
    assert [count for *_, count in stocked.places.stacks()] == [4]


def test_restacking_reverses_the_order_in_one_act_and_is_kept(stocked):
    stocked.places.lay([1, 2, 3, 4], "barn", "A")
    assert [other.number for other in stocked.places.restack("barn", "A")] == [4, 3, 2, 1]
    stocked.places.lay([5], "barn", "B")
    stocked.places.restack("barn", "A", to_stack="B")
    assert order(stocked, "barn", "B") == [5, 1, 2, 3, 4]
    assert [change.what for change in stocked.lives.history(1)] == ["laid down", "restacked", "restacked"]
    assert stocked.stocktake() == []


def test_those_above_come_down_when_one_is_taken_out(stocked):
    stocked.places.lay([1, 2, 3, 4], "barn", "A")
    stocked.lives.set_status([2], "gone")
    assert stocked.places.stack("barn", "A") == [Lying(1, 1), Lying(3, 2), Lying(4, 3)]
    assert stocked.lives.of(2).shed is None
    assert "slab 2 was taken out below" in stocked.lives.history(4)[-1].note
    stocked.places.lay([1], "barn", "B")
    assert stocked.places.stack("barn", "A") == [Lying(3, 1), Lying(4, 2)]


def test_side_by_side(stocked):
    stocked.places.lay([1, 2], "barn", "A")
    with pytest.raises(LifeRefused, match="Layer 2 of that stack is slab 2;"):
        stocked.places.lay([3], "barn", "A", layer=2)
    stocked.places.lay([3], "barn", "A", layer=2, beside=True)
    stocked.places.lay([4], "barn", "A")
    assert stocked.places.above(1) == [Lying(4, 3), Lying(3, 2), Lying(2, 2)]
    stocked.lives.set_status([3], "sold")  # sold but still lying there
    assert stocked.lives.of(3).layer == 2
    stocked.lives.set_status([3], "gone")
    assert stocked.places.stack("barn", "A") == [Lying(1, 1), Lying(2, 2), Lying(4, 3)]


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
def test_bad_places_are_a_sentence(stocked, act, says):
    stocked.places.lay([6], "attic")
    before = stocked.lives.of_all()
    with pytest.raises(LifeRefused, match=says) as told:
        act(stocked.places)
    assert str(told.value).endswith(".") and stocked.lives.of_all() == before


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(moves=st.lists(st.tuples(st.sampled_from(ACTS), st.integers(1, 6), st.sampled_from("AB")), max_size=8))
def test_layers_are_always_1_to_the_top_and_only_reversed_by_restacking(stocked, moves):
    """Against a plain list of lists that does the same by hand."""
    stacks: dict[str, list[int]] = {"A": [], "B": []}
    day = date.today()
    for number in range(1, 7):
        stocked.lives.set_status([number], "gone", day=day)
    for what, number, stack in moves:
        if what == "restack":
            if not stacks[stack]:
                continue
            stocked.places.restack("s", stack, day=day)
            stacks[stack].reverse()
            continue
        for other in stacks.values():
            if number in other:
                other.remove(number)
        if what == "lay":
            stocked.lives.set_status([number], "drying", day=day)
            stocked.places.lay([number], "s", stack, day=day)
            stacks[stack].append(number)
        else:
            stocked.lives.set_status([number], "gone", day=day)
    for stack, numbers in stacks.items():
        if numbers:
            assert stocked.places.stack("s", stack) == [Lying(n, layer) for layer, n in enumerate(numbers, 1)]
