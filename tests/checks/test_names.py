"""Names for life: whatever is added, moved or taken away, a check that had a name keeps it."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from grainlog.checks.follow import IDENTITY, CheckLook, follow
from grainlog.checks.names import kept_names, renamed
from tests.checks.test_follow import check


def called(looks, given_names, ever):
    """Names of each look's checks, by the height at which they lie."""
    history = follow([look for _, look in looks])
    places = [{id(one): (key, place) for place, one in enumerate(look.checks)} for key, look in looks]
    names = kept_names(history, places, given_names, ever)
    told = [renamed(sightings, names) for sightings in history]
    return [
        {where[id(one.check)]: one.name for one in sightings if one.check is not None} for sightings, where in zip(told, places)
    ], told


def look(day, *heights, kind="surface"):
    return CheckLook(day, tuple(check(100, 200, y, kind) for y in heights), IDENTITY)


def test_a_look_put_in_between_renames_nothing():
    first, last = (1, look(0, 0)), (2, look(40, 60, 0))
    names, _ = called([first, last], {}, set())
    given_names = {place: name for one in names for place, name in one.items()}
    assert set(given_names.values()) == {"S1", "S2"}
    again, _ = called([first, (3, look(20, 60, 120)), last], given_names, set(given_names.values()))
    for before, after in zip(names, (again[0], again[2])):
        assert before == after
    assert again[1] == {(3, 0): given_names[2, 0], (3, 1): "S3"}


def test_an_older_look_in_front_renames_nothing():
    names, _ = called([(1, look(10, 0, 60))], {}, set())
    given_names = dict(names[0])
    again, _ = called([(2, look(0, 60, 90)), (1, look(10, 0, 60))], given_names, set(given_names.values()))
    assert again[1] == given_names and again[0] == {(2, 0): given_names[1, 1], (2, 1): "S3"}


def test_a_name_is_never_given_twice_even_where_its_look_is_gone():
    names, _ = called([(1, look(0, 0))], {}, {"S1", "S2"})
    assert set(names[0].values()) == {"S3"}


def test_joining_is_told_with_the_names_for_life():
    looks = [
        (1, CheckLook(0, (check(0, 90, 0, "end"), check(110, 150, 1)), IDENTITY)),
        (2, CheckLook(30, (check(0, 170, 0, "end"),), IDENTITY)),
    ]
    given_names = {(1, 0): "E7", (1, 1): "S4"}
    _, told = called(looks, given_names, {"E7", "S4"})
    joined = next(one for one in told[1] if one.name == "S4")
    assert joined.change.state == "joined" and joined.change.into == "E7" and "E7" in joined.change.why


@given(st.lists(st.sampled_from(range(0, 200, 20)), min_size=1, max_size=6, unique=True), st.randoms())
@settings(max_examples=60, deadline=None)
def test_asked_again_the_names_are_the_same(heights, chance):
    looks = [(key, look(10 * key, *chance.sample(heights, chance.randint(0, len(heights))))) for key in range(4)]
    first, _ = called(looks, {}, set())
    given_names = {place: name for one in first for place, name in one.items()}
    again, _ = called(looks, given_names, set(given_names.values()))
    assert again == first
    # One name, one place on the face.
    at: dict[str, set] = {}
    for (key, one), names in zip(looks, first):
        for (_, place), name in names.items():
            at.setdefault(name, set()).add(float(np.round(one.checks[place].path[0, 1])))
    assert all(len(heights) == 1 for heights in at.values())
