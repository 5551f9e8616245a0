"""What tags mean in a yard: known, waiting, of another yard, too coarse to be read, contradicting the person."""

import numpy as np
import pytest

from grainlog.scale.tag import TagText, marker_of, number_behind, qr_cells
from grainlog.scale.tag_code import AROUND_MODULES, MODULE_PX, SIDE_PX
from grainlog.scale.tag_find import SeenTag
from grainlog.survey.tags import PlacedTag
from grainlog.yard import FilingRefused, NoSuchSlab, SlabFacts, Yard
from grainlog.yard.tag_reading import CODE_UNREAD, TagChoice
from grainlog.yard.tags import piece_number
from tests.yard.filings import filing

FOREIGN = TagText("ZZZZZ0", "2")


def fill(yard, photos):
    for seed in range(3):
        yard.add(filing(photos, seed, side="bark"))
    yard.tags.reserve(2, "corner maple", 1)
    yard.tags.reserve(1)


@pytest.fixture
def elms(filled_yard) -> Yard:
    """Slabs 1 to 3; numbers 4 and 5 wait for slabs of another log, 6 is on a blank tag."""
    return filled_yard


def seen(text: TagText, read: bool = True, clear: bool = True) -> SeenTag:
    """A tag as a photo shows it: its code read, only clear enough to be compared, or neither."""
    code = np.pad(
        np.where(qr_cells(text), 20, 210), AROUND_MODULES, constant_values=210
    )
    code = code.astype(np.uint8).repeat(MODULE_PX, 0).repeat(MODULE_PX, 1)
    if not clear:
        code = np.random.default_rng(1).integers(0, 255, (SIDE_PX, SIDE_PX), np.uint8)
    return SeenTag(
        marker_of(number_behind(text.tag)),
        np.zeros((4, 2)),
        text if read else None,
        code,
    )


def placed(tag: SeenTag, place: str = "on", apart_mm: float = 0.0) -> PlacedTag:
    return PlacedTag(tag, np.zeros((4, 2)), place, apart_mm)


def test_a_yard_has_one_identity_for_ever(elms):
    first = elms.tags.identity
    with Yard.open(elms.folder) as again:
        assert again.tags.identity == first and len(first) == 6


@pytest.mark.parametrize("read", [True, False])
def test_a_known_tag_is_its_slab_whether_read_or_compared(elms, read):
    choice = elms.tags.choose([placed(seen(elms.tags.text(2), read))])
    assert choice == TagChoice(2, True)


def test_a_code_too_coarse_leaves_the_marker_and_says_so(elms):
    choice = elms.tags.choose(
        [placed(seen(elms.tags.text(2), read=False, clear=False))]
    )
    assert choice == TagChoice(2, True, notes=(CODE_UNREAD,))
    with pytest.raises(FilingRefused, match="which this yard has not given"):
        elms.tags.choose([placed(seen(elms.tags.text(77), read=False, clear=False))])


def test_beyond_a_thousand_the_code_decides_and_else_the_person(elms):
    elms.tags.reserve(996)  # 7 to 1002
    assert elms.tags.choose([placed(seen(elms.tags.text(1002)))]) == TagChoice(
        1002, False
    )
    assert elms.tags.choose(
        [placed(seen(elms.tags.text(1002), read=False))]
    ) == TagChoice(1002, False)
    with pytest.raises(FilingRefused, match=r"ends in 002 \(2, 1002\)"):
        elms.tags.choose([placed(seen(elms.tags.text(1002), read=False, clear=False))])
    assert elms.tags.choose(
        [placed(seen(elms.tags.text(1002), read=False, clear=False))], slab=2
    ) == TagChoice(2, True)


@pytest.mark.parametrize("read", [True, False])
def test_a_tag_of_another_yard_is_refused_unless_overruled(elms, read):
    with pytest.raises(FilingRefused, match="yard"):
        elms.tags.choose([placed(seen(FOREIGN, read))])
    with pytest.raises(FilingRefused, match="yard"):
        elms.tags.choose([placed(seen(FOREIGN, read))], slab=1)
    assert elms.tags.choose([placed(seen(FOREIGN, read))], overrule=True) == TagChoice()


def test_the_person_and_the_tag_must_agree(elms):
    with pytest.raises(FilingRefused, match="You say slab 1, and the tag on it says 2"):
        elms.tags.choose([placed(seen(elms.tags.text(2)))], slab=1)
    assert elms.tags.choose(
        [placed(seen(elms.tags.text(2)))], slab=1, overrule=True
    ) == TagChoice(1, True)
    assert elms.tags.choose(
        [placed(seen(elms.tags.text(2)), "apart", 300.0)], slab=1
    ) == TagChoice(1, True)


def test_of_two_tags_the_one_on_the_face_wins_and_else_it_is_asked(elms):
    two, three = (seen(elms.tags.text(number)) for number in (2, 3))
    assert elms.tags.choose([placed(two), placed(three, "apart", 400.0)]).number == 2
    assert elms.tags.choose([placed(two, "touching", 10.0), placed(three)]).number == 3
    assert elms.tags.choose([placed(two), placed(two)]).number == 2
    for pair in (
        [placed(two), placed(three)],
        [placed(two, "apart", 90.0), placed(three, "apart", 400.0)],
    ):
        with pytest.raises(FilingRefused, match="2 and 3"):
            elms.tags.choose(pair)
    with pytest.raises(FilingRefused, match="lies 90 mm from the slab"):
        elms.tags.choose([placed(two, "apart", 90.0)])
    assert elms.tags.expected([two, seen(elms.tags.text(4))]) == 2
    assert elms.tags.expected([two, three]) is None


def test_a_tag_starts_its_slab_under_its_number(elms, scratch):
    choice = elms.tags.choose([placed(seen(elms.tags.text(5)))])
    assert choice == TagChoice(5, False, "corner maple", 2)
    started = elms.file_by_tag(filing(scratch, 11, SlabFacts()), choice)
    assert (started.slab, started.log, started.order) == (5, "corner maple", 2)
    assert [one.number for one in elms.tags.reserved()] == [4, 6]
    # The second photo of the same batch was measured before the first was filed.
    assert elms.file_by_tag(filing(scratch, 12, SlabFacts()), choice).slab == 5
    assert len(elms.slab(5).surveys) == 2
    # A slab without a tag never takes a number that waits.
    assert elms.add(filing(scratch, 13)).slab == 7
    assert elms.stocktake() == []


def test_a_blank_tag_needs_the_log_and_a_printed_one_agrees_with_it(elms, scratch):
    blank = elms.tags.choose([placed(seen(elms.tags.text(6)))])
    with pytest.raises(FilingRefused, match="which log"):
        elms.file_by_tag(filing(scratch, 11, SlabFacts()), blank)
    assert (
        elms.file_by_tag(filing(scratch, 11, SlabFacts(log="storm oak")), blank).slab
        == 6
    )
    printed = elms.tags.choose([placed(seen(elms.tags.text(4)))])
    with pytest.raises(FilingRefused, match="printed for log corner maple"):
        elms.file_by_tag(filing(scratch, 12, SlabFacts(log="storm oak")), printed)


def test_a_number_that_was_removed_is_not_given_again(elms, scratch):
    text = elms.tags.text(3)
    elms.remove(3)
    with pytest.raises(FilingRefused, match="not given again"):
        elms.tags.choose([placed(seen(text))])
    with pytest.raises(FilingRefused, match="not given again"):
        elms.add(filing(scratch, 11, SlabFacts(log="storm oak", new_number=3)))


def test_numbers_are_reserved_within_reason(elms):
    with pytest.raises(FilingRefused, match="at a time"):
        elms.tags.reserve(0)
    with pytest.raises(FilingRefused, match="at a time"):
        elms.tags.reserve(100_000)
    assert [one.number for one in elms.tags.reserve(2)] == [7, 8]


def test_the_old_tag_of_a_slab_that_was_cut_up_asks_for_the_piece(elms):
    from grainlog.yard.life_cut_shape import Cut

    elms.cuts.cut(2, Cut("across", 1000.0, 4.0))
    with pytest.raises(FilingRefused, match="2A and 2B"):
        elms.tags.choose([placed(seen(elms.tags.text(2)))])
    piece = piece_number(2, "A")
    assert elms.tags.choose([placed(seen(elms.tags.text(piece)))]) == TagChoice(
        piece, True
    )
    assert elms.tags.choose(
        [placed(seen(elms.tags.text(piece), read=False))]
    ) == TagChoice(piece, True)
    assert elms.tags.choose([placed(seen(elms.tags.text(2)))], slab=piece) == TagChoice(
        piece, True
    )


def test_what_is_not_in_the_yard_gets_no_tag(elms):
    from grainlog.sheets.tags import log_numbers, slab_labels

    assert [
        label.text.tag for label in slab_labels(elms, log_numbers(elms, "Storm OAK"))
    ] == ["1", "2", "3"]
    (waiting,) = slab_labels(elms, [5])
    assert (waiting.log, waiting.order) == ("corner maple", 2)
    with pytest.raises(NoSuchSlab):
        slab_labels(elms, [99])
