"""The colour of a slab on the wall by its species: a calm tone for each group, so that a wall can be read at a glance.

A drawing's colours, of nothing measured; which heartwood is pale, tan, red or brown is common knowledge, no source.
"""

#: Tone by word of the species; the first word found counts, so "butternut" stands before "nut".
_TONES = (
    ("brown", ("walnut", "butternut", "catalpa", "sassafras", "coffeetree", "teak")),
    ("red", ("cherry", "redcedar", "red cedar", "redwood", "madrone", "apple", "pear", "plum", "mahogany", "yew")),
    ("gold", ("locust", "osage", "mulberry", "larch", "tamarack", "pine", "fir", "spruce", "hemlock", "cedar", "cypress",
              "tulip", "poplar")),
    ("pale", ("maple", "ash", "birch", "basswood", "linden", "holly", "aspen", "cottonwood", "buckeye", "willow",
              "sycamore", "box elder", "boxelder", "hornbeam")),
    ("tan", ("oak", "elm", "chestnut", "hickory", "pecan", "hackberry", "beech", "alder", "gum", "tupelo", "magnolia",
             "persimmon", "plane")),
)  # fmt: skip


def tone(species: str | None) -> str:
    """The tone of a species by name: one of "pale", "tan", "gold", "red", "brown", and "grey" for any other or none."""
    words = (species or "").lower()
    return next((name for name, kinds in _TONES if any(kind in words for kind in kinds)), "grey")
