"""Writing cards: whole files, nobody else's overwritten, card numbers read as people write them."""

import errno
import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grainlog.errors import WrongUse
from grainlog.sheets.cards import read_card_numbers, write_cards
from grainlog.sheets.errors import SheetError


def test_everything_by_default(tmp_path):
    written = write_cards(tmp_path / "new" / "folder")
    names = {path.name for path in written}
    assert names == {"cards-a4.pdf", "cards-letter.pdf", "cards.json"} | {f"card-{card}.png" for card in range(10)}
    assert names == set(os.listdir(tmp_path / "new" / "folder"))
    assert all(path.stat().st_size > 1000 for path in written)


def test_only_what_is_asked(tmp_path):
    written = write_cards(tmp_path, [3], ["a4"], pictures=False)
    assert [path.name for path in written] == ["cards-a4.pdf"] == os.listdir(tmp_path)


def test_older_cards_of_ours_are_replaced(tmp_path):
    write_cards(tmp_path, [3], ["a4"])
    before = (tmp_path / "cards-a4.pdf").read_bytes()
    write_cards(tmp_path, [3, 4], ["a4"])
    assert (tmp_path / "cards-a4.pdf").read_bytes() != before


def test_a_file_that_is_not_ours_stays_and_nothing_else_is_written(tmp_path):
    (tmp_path / "cards.json").write_text('{"hearts": 13}')
    with pytest.raises(SheetError, match="was not written by grainlog; move it"):
        write_cards(tmp_path, [0], ["a4"])
    assert os.listdir(tmp_path) == ["cards.json"]
    assert (tmp_path / "cards.json").read_text() == '{"hearts": 13}'


def test_a_file_in_place_of_the_folder(tmp_path):
    (tmp_path / "taken").write_text("x")
    with pytest.raises(SheetError, match="a file is in its place"):
        write_cards(tmp_path / "taken", [0])
    with pytest.raises(SheetError, match="a file is in its place; choose another"):
        write_cards(tmp_path / "taken" / "inside", [0])


@pytest.mark.parametrize("step", ["replace", "fsync"])
def test_a_full_disc_leaves_the_old_file_and_no_litter(tmp_path, monkeypatch, step):
    write_cards(tmp_path, [0], ["a4"], pictures=False)
    before = (tmp_path / "cards-a4.pdf").read_bytes()

    def full(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, step, full)
    with pytest.raises(SheetError, match="no space left"):
        write_cards(tmp_path, [1], ["a4"], pictures=False)
    assert os.listdir(tmp_path) == ["cards-a4.pdf"]
    assert (tmp_path / "cards-a4.pdf").read_bytes() == before


def test_a_folder_that_may_not_be_written(tmp_path, monkeypatch):
    def forbidden(*_, **__):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr("tempfile.NamedTemporaryFile", forbidden)
    with pytest.raises(SheetError, match="permission denied.*choose another folder"):
        write_cards(tmp_path, [1], ["a4"])


@pytest.mark.parametrize(
    ("text", "numbers"),
    [("0-3", (0, 1, 2, 3)), ("7", (7,)), ("0,4", (0, 4)), (" 4 , 1 - 2 ", (1, 2, 4)), ("2-2", (2,)), ("1,1", (1,))],
)
def test_card_numbers_as_people_write_them(text, numbers):
    assert read_card_numbers(text) == numbers


@pytest.mark.parametrize("text", ["", "x", "1-", "-1", "3-1", "10", "0-10", "1,,2", "1.5", "٣", "999999999999"])
def test_numbers_that_mean_nothing_are_wrong_use(text):
    with pytest.raises(WrongUse, match="from 0 to 9|a range such as"):
        read_card_numbers(text)


@given(st.sets(st.integers(0, 9), min_size=1))
def test_any_set_of_cards_can_be_written_down(cards):
    assert read_card_numbers(",".join(map(str, cards))) == tuple(sorted(cards))


@given(st.text(max_size=12))
def test_any_text_gives_cards_or_a_sentence(text):
    try:
        cards = read_card_numbers(text)
    except WrongUse as refusal:
        assert str(refusal).endswith(".")
    else:
        assert cards and set(cards) <= set(range(10))
