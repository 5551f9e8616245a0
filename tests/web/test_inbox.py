"""The inbox on the disk: photos in parts, whole at any moment, nothing lost and nothing twice."""

import shutil

import pytest

from grainlog.web import inbox as inbox_module
from grainlog.web import inbox_parts
from grainlog.web.errors import PageRefused
from grainlog.web.inbox import MOST_TRIES, Inbox
from grainlog.web.inbox_parts import OutOfStep, Parts
from grainlog.web.inbox_words import plain, read_form, typed
from grainlog.yard import Yard
from grainlog.yard.disk import sha256_of
from tests.web.photos import small_photo


@pytest.fixture
def yard(tmp_path):
    with Yard.start(tmp_path / "yard") as started:
        yield started


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    return small_photo("walnut-shed-floor", tmp_path_factory.mktemp("photos"), 900)


def send(parts: Parts, photo, key: str = "k", part: int = 50_000, start: int = 0):
    data, arrived = photo.read_bytes(), None
    for at in range(start, len(data), part):
        arrived = parts.take(key, len(data), at, data[at : at + part], photo.name, "in", None)
    return arrived


def test_a_photo_in_parts_arrives_whole(yard, photo):
    arrived = send(Parts(Inbox(yard)), photo)
    assert arrived.done and not arrived.twice
    assert arrived.waiting.photo.read_bytes() == photo.read_bytes() and arrived.waiting.photo.name == "photo.jpg"
    assert yard.stocktake() == []


def test_after_a_restart_a_photo_goes_on_where_it_was(yard, photo):
    data = photo.read_bytes()
    Parts(Inbox(yard)).take("k", len(data), 0, data[:60_000], photo.name, "in", None)
    parts = Parts(Inbox(yard))
    assert parts.arrived("k") == 60_000
    with pytest.raises(OutOfStep) as step:
        parts.take("k", len(data), 70_000, data[70_000:80_000], photo.name, "in", None)
    assert step.value.at == 60_000
    assert send(parts, photo, start=60_000).waiting.sha256 == sha256_of(photo)


def test_the_same_photo_twice_is_one(yard, photo):
    parts = Parts(Inbox(yard))
    first, second = send(parts, photo, "one"), send(parts, photo, "another")
    assert second.twice and second.waiting.number == first.waiting.number
    assert len(Inbox(yard).all()) == 1 and not list((yard.folder / "inbox").glob("*.part"))


def test_what_is_no_photo_is_refused_whatever_it_is_called(yard, tmp_path):
    notes = tmp_path / "photo.jpg"
    notes.write_bytes(b"<svg xmlns='http://www.w3.org/2000/svg'/>" * 50)
    with pytest.raises(PageRefused, match="not a photo"):
        send(Parts(Inbox(yard)), notes)
    assert list((yard.folder / "inbox").iterdir()) == []


@pytest.mark.parametrize("key", ["../../yard.db", "/etc/passwd", "a\0b", "x" * 5000, "\ud800", ""])
def test_no_name_from_a_phone_reaches_the_disk(yard, photo, key):
    before = {path.name for path in yard.folder.rglob("*")}
    data = photo.read_bytes()
    Parts(Inbox(yard)).take(key, len(data), 0, data[:1000], "../" + photo.name, "in", None)
    new = {path.name for path in yard.folder.rglob("*")} - before
    assert len(new) == 2 and "inbox" in new and (new - {"inbox"}).pop().endswith(".part")


def test_too_large_and_too_many_are_refused(yard, photo, monkeypatch):
    parts = Parts(Inbox(yard))
    with pytest.raises(PageRefused, match="60 MB"):
        parts.take("k", 60_000_001, 0, b"x", "a.jpg", "in", None)
    with pytest.raises(PageRefused, match="longer than was said"):
        parts.take("k", 10, 0, b"x" * 11, "a.jpg", "in", None)
    for module in (inbox_module, inbox_parts):
        monkeypatch.setattr(module, "MOST_WAITING", 1)
    send(parts, photo)
    with pytest.raises(PageRefused, match="wait already"):
        parts.take("other", 10, 0, b"x", "a.jpg", "in", None)


@pytest.mark.parametrize("cut", ["before the photo was moved", "before it had its name"])
def test_an_arrival_cut_short_is_taken_up_again(yard, photo, tmp_path, cut):
    waiting = send(Parts(Inbox(yard)), photo).waiting
    making = waiting.folder.with_name(f"{waiting.number}.making")
    waiting.folder.rename(making)
    if cut == "before the photo was moved":
        (making / waiting.photo.name).unlink()
        assert Inbox(yard).all() == [] and not making.exists()
    else:
        assert Inbox(yard).all() == [waiting]


def test_a_photo_filed_but_not_cleared_away_is_cleared_at_the_next_start(yard, photo, tmp_path):
    from tests.yard.filings import record

    waiting = send(Parts(Inbox(yard)), photo).waiting
    kept = shutil.copytree(waiting.folder, tmp_path / "kept")
    from grainlog.yard import Filing, SlabFacts

    yard.add(Filing(waiting.photo, waiting.sha256, record(waiting.sha256), SlabFacts(log="storm oak")))
    assert kept.is_dir() and Inbox(yard).all() == [] and not waiting.folder.exists()
    assert yard.stocktake() == []


def test_thrown_away_is_kept_in_the_yard(yard, photo):
    inbox = Inbox(yard)
    waiting = send(Parts(inbox), photo).waiting
    kept = inbox.throw_away(waiting.number)
    assert kept.read_bytes() == photo.read_bytes() and inbox.all() == [] and not waiting.folder.exists()
    assert yard.stocktake() == []
    # Its number is not given again, and it may come in again.
    assert send(Parts(inbox), photo).waiting.number == waiting.number + 1


def test_an_answer_to_an_earlier_question_does_not_count(yard, photo):
    inbox = Inbox(yard)
    send(Parts(inbox), photo)
    claimed = inbox.claim()
    assert inbox.claim() is None
    inbox.ask(claimed.number, {"cards_on": "slab"}, {"log": "elm"})
    assert inbox.measured(claimed, {"record": {}}, b"flat", b"overlay") is None
    inbox.let_go(claimed.number)
    again = inbox.claim()
    assert again.said == {"cards_on": "slab"} and again.urgent
    assert inbox.measured(again, {"record": {}}, b"flat", b"overlay").state == "measured"
    assert Inbox(yard).get(again.number).result() == {"record": {}}


def test_who_is_waited_for_comes_first(yard, photo, tmp_path):
    inbox = Inbox(yard)
    numbers = [
        send(Parts(inbox), small_photo("walnut-shed-floor", tmp_path, 700, turn), str(turn)).waiting.number
        for turn in (1, 2, 3)
    ]
    inbox.ask(numbers[2], {}, {})
    assert [inbox.claim().number for _ in numbers] == [numbers[2], numbers[0], numbers[1]]


def test_a_photo_that_kills_its_process_is_given_up_and_said(yard, photo):
    inbox = Inbox(yard)
    number = send(Parts(inbox), photo).waiting.number
    for _ in range(MOST_TRIES):
        # As after a restart each time: nobody let go of it.
        inbox = Inbox(yard)
        assert inbox.claim().number == number
    inbox = Inbox(yard)
    assert inbox.claim() is None
    assert inbox.get(number).state == "failed" and "several times" in inbox.get(number).problem


@pytest.mark.parametrize(
    ("said", "plainly"),
    [
        ("give it, as in --thickness 63.5mm, or lay the cards on the slab and say --cards-on slab.",
         "give it, or lay the cards on the slab and say that the cards lie on the slab."),
        ("Card 3 covers it: say --slab-card 3, or --cards-on slab when all of them do.",
         "Card 3 covers it: say that card 3 lies on the slab, or that the cards lie on the slab when all of them do."),
        ("name what is at hand (--sheet, --between).", "name what is at hand."),
        ("in --lift 19mm for stickers", "in the lift 19mm for stickers"),
    ],
)  # fmt: skip
def test_sentences_come_without_the_command_line(said, plainly):
    assert plain(said) == plainly and "--" not in plain(said)


def test_what_was_typed_is_read_and_written_again():
    form = {
        "thickness": "2 1/2; 2 5/8in",
        "lift": "0",
        "cards_on": "floor",
        "side": "",
        "which": "new",
        "log": " driveway  elm ",
        "species": "elm",
    }
    said, facts = read_form(form, {"slab_cards": ["3", "x", "1"]}, "in")
    assert (
        said["thickness_mm"] == [63.5, pytest.approx(66.675)] and said["lift_mm"] == 0 and said["slab_cards"] == [1, 3]
    )
    assert facts["log"] == "driveway elm" and facts["slab"] is None and not facts["overrule"]
    again = typed(said, facts, "in")
    assert again["thickness"] == "2 1/2 in; 2 5/8 in" and again["lift"] == "0" and again["log"] == "driveway elm"
    assert read_form({**form, **again}, {}, "in")[0]["thickness_mm"] == said["thickness_mm"]


def test_a_choice_that_is_none_is_refused():
    with pytest.raises(PageRefused):
        read_form({"cards_on": "ceiling"}, {}, "in")
