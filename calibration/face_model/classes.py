"""The classes of a pixel, in the order of the network's outputs."""

WOOD, FLANK, VOID, CARD, OTHER, IGNORE = range(6)
CLASSES = (
    "wood face",
    "bark or flank",
    "check or hole",
    "card or tag",
    "everything else",
)
