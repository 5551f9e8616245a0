"""Sharing: every division is whole, keeps wishes and groups, and small ones are as even as any there is."""

import random
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grainlog.fit.share_search import Lot, Search, solve
from grainlog.fit.shares import ShareRefused, divide


def evenest(worth: dict[int, int], people: list[str], allowed) -> int:
    """The least difference of all divisions, by trying every one."""
    best = None
    for owners in product(range(len(people)), repeat=len(worth)):
        owner_of = dict(zip(worth, owners, strict=True))
        if allowed(owner_of):
            totals = [sum(worth[item] for item in worth if owner_of[item] == person) for person in range(len(people))]
            gap = max(totals) - min(totals)
            best = gap if best is None or gap < best else best
    return best


AMOUNTS = st.lists(st.integers(1, 60), min_size=1, max_size=7)


@settings(max_examples=60, deadline=None)
@given(amounts=AMOUNTS, count=st.integers(2, 4), data=st.data())
def test_small_hauls_are_shared_as_evenly_as_can_be(amounts, count, data):
    people = ["ann", "bob", "cyd", "dan"][:count]
    worth = dict(enumerate(amounts))
    pair = (
        data.draw(st.lists(st.sampled_from(list(worth)), min_size=2, max_size=2, unique=True)) if len(worth) > 1 else []
    )
    wished = data.draw(st.dictionaries(st.sampled_from(list(worth)), st.sampled_from(people), max_size=2))
    if pair and len({wished[item] for item in pair if item in wished}) > 1:
        wished = {}
    made = divide(worth, people, [pair] if pair else [], wished)

    def allowed(owner_of: dict[int, int]) -> bool:
        together = not pair or owner_of[pair[0]] == owner_of[pair[1]]
        return together and all(people[owner_of[item]] == person for item, person in wished.items())

    assert made.best and made.difference == pytest.approx(evenest(worth, people, allowed))
    assert sorted(item for items in made.shares.values() for item in items) == list(worth)
    assert all(item in made.shares[person] for item, person in wished.items())
    assert not pair or any(set(pair) <= set(items) for items in made.shares.values())
    for person, items in made.shares.items():
        assert made.totals[person] == pytest.approx(sum(worth[item] for item in items))


@settings(max_examples=12, deadline=None)
@given(amounts=AMOUNTS, count=st.integers(2, 3))
def test_search_and_mixed_integer_program_agree(amounts, count):
    """The search to the end, and the long way of large hauls (one way down, evened out two by two, HiGHS)."""
    people, worth = ["ann", "bob", "cyd"][:count], dict(enumerate(amounts))
    assert divide(worth, people, nodes=1).difference == divide(worth, people).difference


@settings(max_examples=25, deadline=None)
@given(amounts=st.lists(st.integers(1, 500), min_size=1, max_size=8), count=st.integers(2, 3))
def test_the_solver_alone_finds_what_the_search_finds(amounts, count):
    """HiGHS shares no code with the search."""
    lots = [Lot((place,), amount, None) for place, amount in enumerate(sorted(amounts, reverse=True))]
    owners, bound, proved = solve(lots, count, 5.0)
    sums = [sum(lot.worth for lot, owner in zip(lots, owners, strict=True) if owner == who) for who in range(count)]
    _, least, done = Search(lots, count, 0, 100_000).run()
    assert proved and done and max(sums) - min(sums) == least == bound


def test_a_large_haul_is_divided_and_says_how_well():
    chance = random.Random(6)
    worth = {number: chance.uniform(15, 60) for number in range(60)}
    made = divide(worth, ["ann", "bob", "cyd", "dan"], [(0, 1), (2, 3, 4)], {5: "cyd"}, seconds=2)
    assert made.bound <= made.difference <= 0.05 and 5 in made.shares["cyd"]
    assert max(made.totals.values()) - min(made.totals.values()) == pytest.approx(made.difference, abs=0.31)


def test_one_great_slab_sets_the_bound():
    made = divide({"great": 100.0, "a": 10.0, "b": 10.0}, ["ann", "bob"])
    assert made.difference == made.bound == 80.0 and made.best


@pytest.mark.parametrize(
    "worth, people, together, wishes, says",
    [
        ({1: 1.0}, ["ann"], [], {}, "at least two people"),
        ({1: 1.0}, ["ann", "ann"], [], {}, "named once"),
        ({}, ["ann", "bob"], [], {}, "nothing to share"),
        ({1: float("nan")}, ["ann", "bob"], [], {}, "slab 1 is worth is not known"),
        ({1: -2.0}, ["ann", "bob"], [], {}, "is not known"),
        ({1: 1.0}, ["ann", "bob"], [(1, 2)], {}, "Slab 2 is not one of those"),
        ({1: 1.0}, ["ann", "bob"], [], {3: "ann"}, "Slab 3 is not one of those"),
        ({1: 1.0}, ["ann", "bob"], [], {1: "cyd"}, "cyd wishes for a slab but"),
        (
            {1: 1.0, 2: 1.0},
            ["ann", "bob"],
            [(1, 2)],
            {1: "ann", 2: "bob"},
            "Slabs 1 and 2 stay together, but ann and bob",
        ),
        (dict.fromkeys(range(500), 1.0), ["ann", "bob"], [], {}, "share haul by haul"),
        ({1: 1.0}, [str(number) for number in range(60)], [], {}, "at most 50 people"),
    ],
)
def test_what_cannot_be_shared_is_a_sentence(worth, people, together, wishes, says):
    with pytest.raises(ShareRefused, match=says) as told:
        divide(worth, people, together, wishes)
    assert str(told.value).endswith(".")
