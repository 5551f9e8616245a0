"""What the tags in a photo mean in this yard: which slab, a number that waits for its slab, or a question to be answered."""

import secrets
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, select

from grainlog.notes import Note
from grainlog.scale.tag import (
    IDENTITY_LENGTH,
    IDENTITY_LETTERS,
    MARKERS,
    TagText,
    marker_of,
)
from grainlog.scale.tag_code import code_likeness
from grainlog.scale.tag_find import SeenTag
from grainlog.survey.tags import ON, PlacedTag
from grainlog.yard.database import Database
from grainlog.yard.errors import FilingRefused
from grainlog.yard.life_state import read_life
from grainlog.yard.schema import slabs
from grainlog.yard.settings import Settings
from grainlog.yard.tag_numbers import Reserved, has_slab, last_number, reserve, reserved
from grainlog.yard.tags import number_of, root_of, tag_of

#: Setting under which a yard keeps its identity.
IDENTITY = "tag_identity"
CODE_UNREAD = Note(
    "tag-code-unread",
    "The QR code on the tag is too small in this photo to be read, so the slab is known by the tag's marker alone.",
)
OVERRULE = "or add --overrule-tag to go by what you say"


@dataclass(frozen=True)
class TagMeaning:
    """What one tag means here.

    number : the slab's, or the one that waits for its slab; None where `question` says why that is not known.
    known : whether the slab is in the yard. waits : what was printed for a slab that is not.
    could_be : the numbers that the marker stands for here. notes : what should be known of the reading.
    """

    number: int | None
    known: bool = False
    waits: Reserved | None = None
    question: str = ""
    could_be: tuple[int, ...] = ()
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True)
class TagChoice:
    """Where a photo is to be filed by its tags.

    number : the slab's; None where no tag says. known : whether the slab is in the yard, or is started by this photo.
    log, order : what was printed on the tag of a slab that is not in the yard.
    """

    number: int | None = None
    known: bool = False
    log: str | None = None
    order: int | None = None
    notes: tuple[Note, ...] = ()


class Tags:
    """The tags of one yard."""

    def __init__(self, database: Database, settings: Settings):
        self._database = database
        self._settings = settings

    @property
    def identity(self) -> str:
        """What tells this yard's tags from those of others; made when it is first asked for. Raises YardError."""
        if self._settings.get(IDENTITY) is None:
            # Drawn at random: two yards share one with a chance of one in a thousand million.
            drawn = "".join(
                secrets.choice(IDENTITY_LETTERS) for _ in range(IDENTITY_LENGTH)
            )
            self._settings.set_once(IDENTITY, drawn)
        return self._settings.get(IDENTITY)

    def text(self, number: int) -> TagText:
        """What the QR code on the tag of a slab or piece says."""
        return TagText(self.identity, tag_of(number))

    def reserve(
        self, count: int, log: str | None = None, first_order: int | None = None
    ) -> tuple[Reserved, ...]:
        """Give away the next numbers for tags that are printed before their slabs are there.

        log, first_order : what the tags say of them, the order counting up. Raises FilingRefused.
        """
        with self._database.writing() as connection:
            return reserve(connection, count, log, first_order)

    def reserved(self) -> tuple[Reserved, ...]:
        """The numbers that wait for their slabs."""
        with self._database.reading() as connection:
            return reserved(connection)

    def meaning(self, tag: SeenTag) -> TagMeaning:
        """What a tag means here."""
        identity = self.identity
        with self._database.reading() as connection:
            if tag.text is None:
                return _by_marker(connection, identity, tag)
            if tag.text.yard != identity:
                return TagMeaning(None, question=_of_another_yard(tag.text))
            return _by_number(connection, number_of(tag.text.tag))

    def expected(self, tags: Sequence[SeenTag]) -> int | None:
        """The one slab of this yard that has a tag among these; None where none or several have."""
        known = {meaning.number for meaning in map(self.meaning, tags) if meaning.known}
        return known.pop() if len(known) == 1 else None

    def choose(
        self,
        placed: Sequence[PlacedTag],
        slab: int | None = None,
        overrule: bool = False,
    ) -> TagChoice:
        """Which slab a measured face is, by the tags in its photo.

        slab : what the person says. overrule : the person's word counts, whatever the tag says.

        Raises FilingRefused, with the question to answer, where the tags leave it open or contradict the person.
        """
        mine = [tag for tag in placed if tag.belongs]
        # A neighbour's tag may lie near enough to touch; one on the wood is this slab's.
        mine = [tag for tag in mine if tag.place == ON] or mine
        meanings = [self.meaning(tag.seen) for tag in mine]
        if slab is not None:
            if not overrule:
                _require_agreement(meanings, slab)
            return TagChoice(slab, True)
        if overrule or not placed:
            return TagChoice()
        if not mine:
            raise FilingRefused(
                _lies_apart(placed, [self.meaning(tag.seen) for tag in placed])
            )
        told = {(meaning.number, meaning.question): meaning for meaning in meanings}
        if len(told) > 1:
            raise FilingRefused(
                f"Two tags lie on this slab ({_named(meanings)}): which one is it? Say so (--slab NUMBER), or take the wrong tag off."
            )
        (meaning,) = told.values()
        if meaning.number is None:
            raise FilingRefused(meaning.question)
        waits = meaning.waits
        return TagChoice(
            meaning.number,
            meaning.known,
            waits and waits.log,
            waits and waits.order,
            meaning.notes,
        )


def _by_number(connection: Connection, number: int) -> TagMeaning:
    """A tag of this yard whose QR code was read."""
    if has_slab(connection, number):
        if read_life(connection, number).status == "cut up":
            pieces = [
                tag_of(one)
                for one in _numbers_of(connection, marker_of(root_of(number)))
                if one < 0 and root_of(one) == number
            ]
            which = f" into {' and '.join(sorted(pieces))}" if pieces else ""
            return TagMeaning(
                None,
                question=f"Slab {tag_of(number)} was cut up{which}, and this tag is still the old one: say which piece it is "
                "(--slab with its letter), and print its own tag.",
                could_be=tuple(map(number_of, pieces)),
            )
        return TagMeaning(number, True, could_be=(number,))
    if waits := reserved(connection, number):
        return TagMeaning(number, waits=waits[0], could_be=(number,))
    if number > last_number(connection):
        return TagMeaning(number, could_be=(number,))
    return TagMeaning(
        None,
        question=f"The tag says {tag_of(number)}, which is no longer in this yard and not given again: print a new tag, {OVERRULE}.",
    )


def _by_marker(connection: Connection, identity: str, tag: SeenTag) -> TagMeaning:
    """A tag whose QR code is too small to be read: compared with all that it might say here."""
    numbers = [
        one
        for one in _numbers_of(connection, tag.marker)
        if read_life(connection, one).status != "cut up"
    ]
    alike = {
        number: code_likeness(tag.code, TagText(identity, tag_of(number)))
        for number in numbers
    }
    same = [number for number, likeness in alike.items() if likeness.same]
    if same:
        return _by_number(connection, max(same, key=lambda number: alike[number].text))
    if any(likeness.another for likeness in alike.values()):
        return TagMeaning(
            None,
            question=f"The tag with marker {tag.marker} is not one of this yard's, or was printed for another number: put this "
            f"yard's tag on, {OVERRULE}.",
        )
    if len(numbers) == 1:
        meaning = _by_number(connection, numbers[0])
        return TagMeaning(
            meaning.number,
            meaning.known,
            meaning.waits,
            meaning.question,
            meaning.could_be,
            (CODE_UNREAD,),
        )
    ending = (
        f"a number that ends in {tag.marker:03d}"
        if last_number(connection) >= MARKERS
        else f"number {tag.marker or MARKERS}"
    )
    which = (
        f" ({', '.join(map(tag_of, numbers[:6]))}{' ...' if len(numbers) > 6 else ''})"
        if numbers
        else ", which this yard has not given"
    )
    return TagMeaning(
        None,
        question=f"The tag's marker stands for {ending}{which}, and its QR code is too small in this photo to be read: say which slab "
        f"it is (--slab NUMBER), take the photo from nearer, {OVERRULE}.",
        could_be=tuple(numbers),
    )


def _numbers_of(connection: Connection, marker: int) -> list[int]:
    """The slabs, pieces and waiting numbers that a marker stands for."""
    known = connection.execute(select(slabs.c.number)).scalars()
    waiting = (one.number for one in reserved(connection))
    return sorted(
        {one for one in (*known, *waiting) if marker_of(root_of(one)) == marker},
        key=lambda one: (root_of(one), -one),
    )


def _of_another_yard(text: TagText) -> str:
    return f"The tag says {text.tag} of another yard ({text.yard}): put this yard's tag on the slab, {OVERRULE}."


def _named(meanings: Sequence[TagMeaning]) -> str:
    return " and ".join(
        dict.fromkeys(
            "not known here" if one.number is None else tag_of(one.number)
            for one in meanings
        )
    )


def _require_agreement(meanings: Sequence[TagMeaning], slab: int) -> None:
    """The person's word against the tags on the slab. Raises FilingRefused."""
    if not meanings or any(
        one.number == slab or slab in one.could_be for one in meanings
    ):
        return
    told = meanings[0]
    if told.number is None:
        raise FilingRefused(told.question)
    raise FilingRefused(
        f"You say slab {tag_of(slab)}, and the tag on it says {tag_of(told.number)}: leave --slab out if the tag is right, {OVERRULE}."
    )


def _lies_apart(placed: Sequence[PlacedTag], meanings: Sequence[TagMeaning]) -> str:
    nearest = min(tag.apart_mm for tag in placed)
    one = "The tag" if len(placed) == 1 else "The nearest tag"
    return (
        f"{one} in this photo ({_named(meanings)}) lies {nearest:.0f} mm from the slab that was measured: does it belong to it? Lay it "
        f"on the slab, say which slab it is (--slab NUMBER), {OVERRULE}."
    )
