"""The committed sample photos for tests: one measured survey each, made once per test run."""

from dataclasses import replace
from functools import cache

import pytest

from grainlog.survey import Request, Survey, measure_photo
from tests.accuracy import Sample, samples

#: On the floor with four cards, and on the slab with two; both in a perfect world.
FLOOR, SLAB = "walnut-shed-floor", "maple-lawn"


class WithoutChecks(Sample):
    """A sample in which checks are not looked for: they have tests and photos of their own, and take a second."""

    @property
    def request(self) -> Request:
        """What the person tells the tool."""
        return replace(super().request, checks=False)


@cache
def sample(name: str) -> Sample:
    """A committed sample by name."""
    found = [one for one in samples() if one.photo.stem == name]
    if not found:
        pytest.fail(f"sample_images/{name}.jpg is missing")
    return WithoutChecks(found[0].photo, found[0].truth)


@cache
def surveyed(name: str) -> Survey:
    """The survey of a committed sample."""
    return measure_photo(sample(name).photo, sample(name).request)
