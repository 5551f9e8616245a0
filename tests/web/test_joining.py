"""Photos that wait and show one slab: joined, measured as one, taken apart; nothing lost wherever it is cut short."""

import json

import pytest

from grainlog.web import inbox_joining
from grainlog.web.errors import PageRefused
from grainlog.web.inbox import Inbox, Waiting
from grainlog.web.inbox_joining import as_they_came, join, photos_of, take_apart
from grainlog.yard import Yard
from grainlog.yard.disk import sha256_of
from grainlog.yard.errors import YardError
from tests.web.forms import send, token_in
from tests.web.photos import shrunk, small_photo
from tests.web.senders import send as send_photo
from tests.web.senders import settle
from tests.web.yards import SAMPLES

PAIR = [SAMPLES / "several" / f"long-walnut-{side}.jpg" for side in ("left", "right")]


@pytest.fixture
def yard(tmp_path):
    with Yard.start(tmp_path / "yard") as started:
        yield started


def taken_in(inbox: Inbox, folder, count: int = 3) -> list[Waiting]:
    """Some photos in an inbox, each with a day of its own."""
    made = []
    for number in range(count):
        photo = small_photo("walnut-shed-floor", folder, 200, turn=number)
        made.append(inbox.take_in(photo, sha256_of(photo), ".jpg", f"IMG_{number}.jpg", "in", 1.7e9 + 86400 * number))
    return made


def everything(inbox: Inbox) -> dict[str, float]:
    """The SHA-256 of every photo that waits, as its file is, and the file's date."""
    found = {}
    for waiting in inbox.all():
        for path, _, sha256 in photos_of(waiting):
            assert sha256_of(path) == sha256 and sha256 not in found, "whole, and once"
            found[sha256] = path.stat().st_mtime
    return found


def test_joined_and_taken_apart_they_are_what_they_were(yard, tmp_path):
    inbox = Inbox(yard)
    first, second, third = taken_in(inbox, tmp_path)
    before = everything(inbox)
    joined = join(inbox, [second.number, first.number, third.number])
    assert joined.number == second.number and joined.title == "IMG_1.jpg, IMG_0.jpg, IMG_2.jpg"
    assert inbox.all() == [joined] and everything(inbox) == before and yard.stocktake() == []
    assert inbox.find(first.sha256) == joined, "the same photo sent once more is known"
    assert Inbox(yard).all() == [joined]
    assert as_they_came(f"{joined.others[1].name} is dark", joined) == "IMG_2.jpg is dark"
    take_apart(inbox, joined.number)
    assert [one.title for one in inbox.all()] == ["IMG_1.jpg", "IMG_0.jpg", "IMG_2.jpg"] and everything(inbox) == before
    assert sorted(path.name for path in inbox.get(joined.number).folder.iterdir()) == ["about.json", "photo.jpg"]


def test_what_cannot_be_joined_is_refused(yard, tmp_path):
    inbox = Inbox(yard)
    numbers = [one.number for one in taken_in(inbox, tmp_path, 5)]
    for chosen in ([], numbers[:1], numbers[:1] * 2, numbers, [numbers[0], 99]):
        with pytest.raises(PageRefused):
            join(inbox, chosen)
    with pytest.raises(PageRefused):
        take_apart(inbox, numbers[0])
    assert len(everything(inbox)) == 5


@pytest.mark.parametrize("cut", ["copy_hashed", "sync_folder", "rename"])
@pytest.mark.parametrize("act", ["join", "apart", "away"])
def test_cut_short_anywhere_no_photo_is_lost(yard, tmp_path, monkeypatch, cut, act):
    """The disk fails at each of its operations in turn; after a start every photo is there, whole and once."""
    inbox = Inbox(yard)
    numbers = [one.number for one in taken_in(inbox, tmp_path)]
    before = everything(inbox)
    if act != "join":
        join(inbox, numbers)
    real, failed = getattr(inbox_joining.disk, cut), 0
    for fails_at in range(12):
        calls = 0

        def once(*given, fails_at=fails_at):
            nonlocal calls
            calls += 1
            if calls > fails_at:
                raise OSError(5, "Input/output error")
            return real(*given)

        monkeypatch.setattr(inbox_joining.disk, cut, once)
        try:
            if act == "join" and len(inbox.all()) > 1:
                join(inbox, [one.number for one in inbox.all()])
            elif act == "apart" and any(one.further for one in inbox.all()):
                take_apart(inbox, next(one.number for one in inbox.all() if one.further))
            elif act == "away" and inbox.get(numbers[0]):
                inbox.throw_away(numbers[0])
        except YardError:
            failed += 1
        monkeypatch.setattr(inbox_joining.disk, cut, real)
        inbox = Inbox(yard)
        away = {path.stem for path in (yard.folder / "removed").rglob("*.jpg")}
        assert set(everything(inbox)) | away == set(before)
        assert act == "away" or everything(inbox) == before
    assert failed or (act, cut) == ("away", "copy_hashed")


def test_two_photos_of_a_long_slab_become_one_slab(client, app, tmp_path):
    yard = app.extensions["yard"]
    given = json.loads(PAIR[0].with_suffix(".json").read_text())["given"]
    said = {"thickness": f"{given['thickness_mm']}mm", "lift": f"{given['lift_mm']}mm", "log": "long walnut"}
    send(client, "/new/said", "/new", **said)
    app.extensions["measuring"].inbox.claim = lambda: None  # until they are joined
    for path in PAIR:
        photo = shrunk(path, tmp_path)
        assert send_photo(client, photo, key=path.stem, name=f"{path.stem}.jpg").json["done"]
    page = client.get("/new")
    assert "A slab too long for one photo" in page.text
    inbox = app.extensions["inbox"]
    del inbox.claim
    form = {"photo": [str(one.number) for one in inbox.all()], "form_token": token_in(page)}
    answer = client.post("/new/join", data=form)
    assert answer.status_code == 303
    told = settle(lambda: client.get("/new/state").json)
    ((number, (state, _, problem)),) = told.items()
    assert (state, problem) == ("measured", None)
    look = client.get(answer.location).text
    assert "take the 2 photos apart" in look and "long-walnut-left.jpg, long-walnut-right.jpg" in look
    assert client.get(f"/mend/photo/{number}").status_code == 200 and client.get(f"/mend/photo/{number}/above.jpg").status_code == 200
    before = len(yard.slabs())
    filed = send(client, f"/new/{number}", f"/new/{number}", which="new", cards_on=given["cards_on"], do="file", **said)
    assert filed.status_code == 303, filed.text
    settle(lambda: client.get("/new/state").json)
    assert inbox.all() == [] and len(yard.slabs()) == before + 1
    (survey,) = yard.slab(max(row.number for row in yard.slabs())).surveys
    assert len(survey.further) == 1 and yard.stocktake() == []
    assert [one["name"] for one in survey.record["photos"]["joined"]] == ["long-walnut-left.jpg", "long-walnut-right.jpg"]
    assert survey.photo_name == "long-walnut-left.jpg, long-walnut-right.jpg"
