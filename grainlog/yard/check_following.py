"""A slab's photos in order of days, each laid on the first of its face, and its checks followed through them."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from sqlalchemy import Connection, delete, insert, select

from grainlog.checks.change import moved
from grainlog.checks.follow import IDENTITY, CheckLook, follow
from grainlog.checks.history import FaceLook, HandLook, bark_of, bark_said, waxed_on
from grainlog.checks.names import kept_names, renamed
from grainlog.checks.record import checks_of_record
from grainlog.notes import Note
from grainlog.units import Quantity
from grainlog.yard.check_pairs import Laid, Pairs, Refused
from grainlog.yard.check_tables import check_names, check_sightings
from grainlog.yard.check_view import NoView, mapped
from grainlog.yard.database import Database
from grainlog.yard.entry import SlabEntry, SurveyEntry
from grainlog.yard.filing import now_text
from grainlog.yard.seal import set_seal
from grainlog.yard.standing import quantity

#: Where the first photo of a face does not match, so many of the later ones that do are tried, the newest first.
MOST_TRIED = 2
#: Nothing is seen under a card nor in its rim, mm.
CARD_RIM_MM = 6.0
#: A check whose two tips lie this near those that were named is the same one of the same photo, px.
SAME_PX = 25.0


@dataclass
class _Face:
    """The photos of one face that lie on each other, the oldest first."""

    side: str | None
    members: list[tuple[SurveyEntry, Laid]] = field(default_factory=list)


def face_looks(entry: SlabEntry, hand: tuple[HandLook, ...], pairs: Pairs) -> list[FaceLook]:
    """All photos of a slab, the oldest first, each laid on the first of its face or refused; checks not named yet."""
    faces: list[_Face] = []
    looks = []
    photos = [survey for survey in reversed(entry.surveys) if survey.cut_from is None]
    for position, survey in enumerate(photos):
        looks.append(_look(survey, faces, pairs, hand, _out_of_order(survey, photos[position + 1 :])))
    # A face that was not said at first may be known by now.
    sides = {survey.id: face.side for face in faces for survey, _ in face.members}
    return [replace(look, face=sides.get(look.survey, look.face)) for look in looks]


def _look(
    survey: SurveyEntry, faces: list[_Face], pairs: Pairs, hand: tuple[HandLook, ...], notes: tuple[Note, ...]
) -> FaceLook:
    outline = survey.record.get("outline") or {}
    wood, bark = (np.array(outline.get(name) or [], float).reshape(-1, 2) for name in ("wood_mm", "bark_mm"))
    day = survey.surveyed_at.date()
    sums = survey.record.get("check_summary")
    told = FaceLook(
        survey.id, day, survey.side, "not looked for", notes=notes, least_mm=sums and sums["smallest_claimed_mm"],
        length=quantity(survey.record["face"], "length_mm"), bark=(bark_of(wood, bark) if len(wood) and len(bark) else {}) | bark_said(hand, day),
    )  # fmt: skip
    if sums is None:
        return replace(told, code="not-looked-for", why="Nobody looked for checks in it; add the photo again to have it done.")
    face, laid = _placed(survey, faces, pairs)
    if isinstance(laid, Refused):
        return replace(told, standing="refused", code=laid.code, why=laid.why)
    first = face.members[0][0]
    if first is not survey:
        face.members.append((survey, laid))
    cut = bool(laid.notes) or first.before_cut and not survey.before_cut
    lies = shapely.Polygon(moved(wood, laid.matrix)).buffer(0)
    look = CheckLook(
        survey.surveyed_at.timestamp() / 86400, checks_of_record(survey.record["checks"]), laid.matrix,
        _shown(survey, lies, laid.matrix), lies if cut else None, waxed_on(hand, day), sums["smallest_claimed_mm"],
    )  # fmt: skip
    if first is survey:
        return replace(told, standing="first", look=look)
    return replace(
        told, standing="laid", look=look, notes=(*notes, *laid.notes), residual_mm=laid.residual_mm,
        shrinkage=Quantity(1 - 1 / laid.across, laid.across_u / laid.across**2),
    )  # fmt: skip


def _placed(survey: SurveyEntry, faces: list[_Face], pairs: Pairs) -> tuple[_Face | None, Laid | Refused]:
    """The face that a photo shows and how it lies on the first photo of it; a face that none showed before is begun."""
    itself = Laid(IDENTITY, 1.0, 0.0, 0.0)
    mine = [face for face in faces if survey.side is None or face.side == survey.side]
    if not mine:
        mine = [face for face in faces if face.side is None]
    refused: Refused | None = None
    for face in mine:
        laid = _laid(survey, face, pairs)
        if isinstance(laid, Laid):
            face.side = face.side or survey.side
            return face, laid
        refused = refused or laid
    known = survey.side is not None and all(face.side != survey.side for face in faces)
    if refused is None or known and refused.code != "no-view":
        faces.append(_Face(survey.side, [(survey, itself)]))
        return faces[-1], itself
    for face in faces:
        if face not in mine and isinstance(_laid(survey, face, pairs), Laid):
            return None, Refused(
                "turned-over",
                f"The figure of the face is that of the {face.side} side, though the photo was filed as {survey.side} side: "
                "say which face is up.",
            )
    return None, refused


def _laid(survey: SurveyEntry, face: _Face, pairs: Pairs) -> Laid | Refused:
    """A photo on the first one of a face: directly, else by way of a later one that lies on it."""
    first = pairs.lay(face.members[0][0], survey)
    if isinstance(first, Laid):
        return first
    for other, on_first in reversed(face.members[1:][-MOST_TRIED:]):
        laid = pairs.lay(other, survey)
        if isinstance(laid, Laid):
            return laid.onto(on_first)
    return first


def _out_of_order(survey: SurveyEntry, later: Sequence[SurveyEntry]) -> tuple[Note, ...]:
    before = [other for other in later if other.filed_at < survey.filed_at]
    if not before:
        return ()
    return (
        Note("photo-order", f"It was filed after that of {before[0].surveyed_at.date()} but taken before it, so it stands in its "
             "place by the day and what came later was followed again."),
    )  # fmt: skip


def _shown(survey: SurveyEntry, wood: shapely.Geometry, matrix: np.ndarray) -> shapely.Geometry | None:
    """Where a photo shows wood, first frame; None where no card hides any."""
    cards = survey.record["scale"].get("cards_px") or {}
    try:
        way = mapped(survey.record)
    except NoView:
        return None
    hidden = [
        shapely.Polygon(moved(way.to_mm(np.array(px, float)), matrix)).buffer(CARD_RIM_MM) for px in cards.values() if len(px) > 2
    ]
    hidden = [card for card in hidden if card.intersects(wood)]
    return wood.difference(shapely.union_all(hidden)) if hidden else None


def named(entry: SlabEntry, looks: list[FaceLook], database: Database) -> list[FaceLook]:
    """The same looks with every check followed and called by its name for life; names are kept."""
    with database.reading() as connection:
        given, ever = _names(connection, entry)
    before, told, now = set(ever), {look.survey: look for look in looks}, {}
    for face in dict.fromkeys(look.face for look in looks if look.counts):
        members = [look for look in looks if look.face == face and look.counts]
        history = follow([look.look for look in members])
        places = [{id(check): (look.survey, place) for place, check in enumerate(look.look.checks)} for look in members]
        names = kept_names(history, places, given, ever)
        ever |= set(names.values())
        for look, sightings, where in zip(members, history, places):
            called = renamed(sightings, names)
            told[look.survey] = replace(look, sightings=called)
            now |= {where[id(one.check)]: one.name for one in called if one.check is not None}
    if now != given or ever != before:
        with database.writing() as connection:
            _keep(connection, entry, now, ever - before)
    return [told[look.survey] for look in looks]


def _names(connection: Connection, entry: SlabEntry) -> tuple[dict[tuple[int, int], str], set[str]]:
    """What sightings of this slab are called, and every name that was ever given on it."""
    mine = check_sightings.c.survey_id.in_([survey.id for survey in entry.surveys])
    rows = connection.execute(select(check_sightings).where(mine, check_sightings.c.slab_number == entry.number))
    records = {survey.id: survey.record for survey in entry.surveys}
    given = {}
    for row in rows:
        place = _place_now(row, records[row.survey_id].get("checks") or ())
        if place is not None:
            given[row.survey_id, place] = row.name
    ever = connection.execute(select(check_names.c.name).where(check_names.c.slab_number == entry.number)).scalars()
    return given, set(ever)


def _keep(connection: Connection, entry: SlabEntry, now: dict[tuple[int, int], str], new: set[str]) -> None:
    connection.execute(delete(check_sightings).where(check_sightings.c.survey_id.in_([survey.id for survey in entry.surveys])))
    records = {survey.id: survey.record for survey in entry.surveys}
    for (survey, place), name in now.items():
        path = records[survey]["checks"][place]["path_px"]
        row = {"survey_id": survey, "place": place, "slab_number": entry.number, "name": name, "tips_px": json.dumps([path[0], path[-1]])}
        connection.execute(insert(check_sightings).values(row))
        set_seal(connection, check_sightings, (check_sightings.c.survey_id == survey) & (check_sightings.c.place == place))
    known = set(connection.execute(select(check_names.c.name).where(check_names.c.slab_number == entry.number)).scalars())
    for name in sorted(new - known):
        row = {"slab_number": entry.number, "name": name, "given_at": now_text()}
        key = connection.execute(insert(check_names).values(row)).inserted_primary_key[0]
        set_seal(connection, check_names, check_names.c.id == key)


def _place_now(row, checks: Sequence[Mapping]) -> int | None:
    """Where a check that was named stands in its survey's list now, by its tips in the photo; None where it is there no more."""
    tips = np.array(json.loads(row.tips_px))
    away = [np.abs(np.array([check["path_px"][0], check["path_px"][-1]]) - tips).max() for check in checks]
    if row.place < len(away) and away[row.place] < SAME_PX:
        return row.place
    nearest = int(np.argmin(away)) if away else 0
    return nearest if away and away[nearest] < SAME_PX else None
