"""The figures that stand for a slab."""

import math

from hypothesis import given
from hypothesis import strategies as st

from grainlog.units.quantity import Quantity
from grainlog.yard.standing import Surveyed, newest_first, of_both_faces, standing

figures = st.builds(
    lambda value, parts: {"value": value, "u": math.hypot(*parts.values()), "budget": parts},
    st.floats(1, 1e9),
    st.dictionaries(st.sampled_from(["corners", "print", "outline"]), st.floats(1e-3, 1e3), min_size=1),
)
faces = st.fixed_dictionaries({"volume_mm3": st.none() | figures, "length_mm": figures})
surveys = st.lists(
    st.tuples(
        st.sampled_from(["2025-01-01", "2025-06-01", "2026-01-01"]), st.sampled_from(["bark", "heart", None]), faces
    ),
    min_size=1,
    max_size=6,
).map(lambda told: [Surveyed(day, day, key, side, face) for key, (day, side, face) in enumerate(told)])


@given(surveys)
def test_the_mean_lies_between_the_faces_and_is_no_surer_than_the_surer(told):
    stands = standing(told)
    volume = stands.figures["volume_mm3"]
    known = [survey.face["volume_mm3"] for survey in told if survey.face["volume_mm3"]]
    if not known:
        assert volume is None and stands.one_face_only
        return
    values, us = [each["value"] for each in known], [each["u"] for each in known]
    assert min(values) * (1 - 1e-12) <= volume.value <= max(values) * (1 + 1e-12)
    assert volume.u <= max(us) * (1 + 1e-9)
    # The Quantity contract: u**2 is the sum of the squares of its budget.
    assert math.isclose(volume.u, math.hypot(*volume.budget.values()), rel_tol=1e-9)


@given(surveys)
def test_the_order_in_which_surveys_are_read_does_not_matter(told):
    assert standing(told) == standing(list(reversed(told)))


@given(surveys)
def test_length_is_that_of_the_newest(told):
    newest = max(told, key=lambda survey: (survey.surveyed_at, survey.id))
    assert newest_first(told)[0] == newest
    assert standing(told).figures["length_mm"].value == newest.face["length_mm"]["value"]


def test_one_source_in_both_faces_does_not_average_down():
    def face(value):
        return {"volume_mm3": {"value": value, "u": 5.0, "budget": {"print": 3.0, "outline": 4.0}}}

    told = [Surveyed("2025", "2025", 1, "bark", face(100.0)), Surveyed("2025", "2025", 2, "heart", face(120.0))]
    mean, from_both = of_both_faces(told, "volume_mm3")
    assert from_both and mean == Quantity(110.0, 5.0, {"print": 3.0, "outline": 4.0})
