"""Heat against insects: facts with where they were read, no promise and no instruction."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Fact:
    """One fact in a sentence, and its source with its standing."""

    text: str
    source: str


FACTS = (
    Fact(
        "Holding the centre of infested lumber at 56 C (133 F) for 30 minutes effectively kills powderpost insects.",
        "Wood Handbook (FPL-GTR-190) ch. 14, verified",
    ),
    Fact(
        "The same handbook's list of pests that heat treatment covers reads 'Lyctidae (with some exceptions ...)', so not "
        "every powderpost beetle is covered by it.",
        "Wood Handbook (FPL-GTR-190) Table 20-1, verified",
    ),
    Fact(
        "The international standard for wood packaging asks for at least 56 C through the whole piece, core included, for "
        "at least 30 minutes without a break. It is a rule for packaging in trade, says nothing about dryness, and "
        "nothing that grainlog writes is a certificate of it.",
        "ISPM 15, from pages that restate it, verified; the standard itself was not read",
    ),
    Fact(
        "How long the core takes to get there depends on thickness and on how damp the hot air is: from about 15 minutes "
        "(1 in) to 300 minutes (6 in square) in air of 160 F.",
        "second hand; the study itself was not read",
    ),
    Fact("Heat protects for the day only: bare sapwood can be infested again afterwards.", "rules of the trade, from memory"),
    Fact(
        "Lyctid beetles attack large-pored hardwoods such as oak, ash and hickory, also walnut, cherry and maple, even "
        "kiln-dry at about 7 %.",
        "trade press, verified",
    ),
    Fact("They live in the sapwood only.", "from memory"),
    Fact(
        "Air drying alone does not reach such temperatures, so it kills no insects.",
        "follows from the temperatures above",
    ),
    Fact(
        "Hot kilns and boxes start fires and scald: what may be built and run, and who may treat wood for trade, is a "
        "matter of local rules and licensed practice.",
        "common practice, no source",
    ),
)
