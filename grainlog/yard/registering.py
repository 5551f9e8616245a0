"""Writing one filing into the tables, inside the caller's transaction."""

import json
from typing import Any

from sqlalchemy import Connection, Row, func, insert, select, update

from grainlog.yard.errors import FilingRefused, NoSuchSlab
from grainlog.yard.filing import CheckedFiling, Filed, folded, now_text, storable
from grainlog.yard.joined import enter_further_photos, survey_of_further
from grainlog.yard.keeping import Parcel
from grainlog.yard.schema import FIGURES, logs, outlines, slabs, surveys
from grainlog.yard.seal import set_seal
from grainlog.yard.standing import Surveyed, standing
from grainlog.yard.tag_numbers import take_number
from grainlog.yard.tags import tag_of
from grainlog.yard.words import refresh_words, refresh_words_of_log


def find_photo(connection: Connection, photo_sha256: str) -> Filed | None:
    """Where a photo already is, if it is."""
    query = (
        select(slabs.c.number, surveys.c.id, logs.c.name, slabs.c.order_in_log)
        .join(surveys, surveys.c.slab_number == slabs.c.number)
        .join(logs, slabs.c.log_id == logs.c.id)
        .where(surveys.c.photo_sha256 == photo_sha256, surveys.c.cut_from.is_(None))
    )
    found = connection.execute(query).first()
    if found is None and (survey := survey_of_further(connection, photo_sha256)) is not None:
        sha256 = connection.execute(select(surveys.c.photo_sha256).where(surveys.c.id == survey)).scalar_one()
        return find_photo(connection, sha256)
    return None if found is None else Filed(found.number, found.id, found.name, found.order_in_log, already=True)


def next_order(connection: Connection, log: str) -> int:
    """The next free place in a log; 1 for a log the yard does not know."""
    query = (
        select(func.max(slabs.c.order_in_log))
        .join(logs, slabs.c.log_id == logs.c.id)
        .where(logs.c.name_folded == folded(log))
    )
    return (connection.execute(query).scalar() or 0) + 1


def register(connection: Connection, sound: CheckedFiling, parcels: list[Parcel]) -> Filed:
    """Enter log, slab, survey and outlines. Raises FilingRefused, NoSuchSlab."""
    for photo, sha256 in sound.filing.further:
        if (known := find_photo(connection, sha256)) is not None:
            raise FilingRefused(
                f"The photo {photo.name} is in the yard already, with slab {tag_of(known.slab)}; leave it out, or remove that "
                "slab first."
            )
    if sound.filing.facts.number is None:
        number, log, order = _new_slab(connection, sound)
    else:
        number, log, order = _known_slab(connection, sound)
    survey = _enter_survey(connection, sound, parcels, number)
    refresh_standing(connection, number)
    refresh_words(connection, [number])
    return Filed(number, survey, log, order)


def surveyed(row: Any) -> Surveyed:
    """A row of `surveys` as far as the slab's figures go."""
    face = json.loads(row.record)["face"]
    return Surveyed(row.surveyed_at, row.filed_at, row.id, row.side, face, bool(row.before_cut))


def standing_columns(rows: list[Any]) -> dict[str, Any]:
    """The columns of `slabs` that follow from the rows of its surveys."""
    stands = standing(surveyed(row) for row in rows)
    columns: dict[str, Any] = {
        "surveyed_at": stands.surveyed_at,
        "faces": " ".join(stands.faces),
        "one_face_only": int(stands.one_face_only),
    }
    for name in FIGURES:
        figure = stands.figures[name]
        columns[name], columns[f"{name}_u"] = (figure.value, figure.u) if figure is not None else (None, None)
    return columns


def refresh_standing(connection: Connection, number: int) -> None:
    """Write anew what the slab's surveys say about it."""
    rows = list(connection.execute(select(surveys).where(surveys.c.slab_number == number)))
    connection.execute(update(slabs).where(slabs.c.number == number).values(standing_columns(rows)))
    set_seal(connection, slabs, slabs.c.number == number)


def _new_slab(connection: Connection, sound: CheckedFiling) -> tuple[int, str, int]:
    assert sound.log is not None
    log = _log(connection, sound.log, sound.species)
    order = sound.filing.facts.order or next_order(connection, log.name)
    taken = connection.execute(
        select(slabs.c.number).where(
            slabs.c.log_id == log.id, slabs.c.order_in_log == order, slabs.c.piece_of.is_(None)
        )
    ).scalar()
    if taken is not None:
        raise FilingRefused(
            f"Place {order} in log {log.name} is slab {taken}; give another place, "
            f"or say that the photo shows slab {taken}."
        )
    given = {}
    if (tagged := sound.filing.facts.new_number) is not None:
        take_number(connection, tagged)
        given = {"number": tagged}
    number = connection.execute(
        insert(slabs).values(
            **given, log_id=log.id, order_in_log=order, surveyed_at=sound.surveyed_at, faces="", one_face_only=1
        )
    ).inserted_primary_key[0]
    return number, log.name, order


def _known_slab(connection: Connection, sound: CheckedFiling) -> tuple[int, str, int]:
    facts = sound.filing.facts
    query = select(slabs.c.number, slabs.c.order_in_log, logs.c.name).join(logs, slabs.c.log_id == logs.c.id)
    slab = connection.execute(query.where(slabs.c.number == facts.number)).first()
    if slab is None:
        raise NoSuchSlab(f"There is no slab {tag_of(facts.number)} in this yard; leave the number out to file a new slab.")
    if sound.log is not None and folded(sound.log) != folded(slab.name):
        raise FilingRefused(f"Slab {tag_of(slab.number)} is from log {slab.name}, not {sound.log}; correct one of the two.")
    if facts.order not in (None, slab.order_in_log):
        raise FilingRefused(
            f"Slab {tag_of(slab.number)} is place {slab.order_in_log} in log {slab.name}, not {facts.order}; "
            "correct one of the two."
        )
    _log(connection, slab.name, sound.species)
    return slab.number, slab.name, slab.order_in_log


def _log(connection: Connection, name: str, species: str | None) -> Row:
    log = connection.execute(select(logs).where(logs.c.name_folded == folded(name))).first()
    if log is None:
        key = connection.execute(
            insert(logs).values(
                name=name,
                name_folded=folded(name),
                species=species,
                species_folded=folded(species or ""),
                started_at=now_text(),
            )
        ).inserted_primary_key[0]
    elif species is None or folded(species) == log.species_folded:
        return log
    elif log.species is not None:
        raise FilingRefused(f"Log {log.name} is {log.species}, not {species}; correct one of the two.")
    else:
        key = log.id
        named = {"species": species, "species_folded": folded(species)}
        connection.execute(update(logs).where(logs.c.id == key).values(named))
        refresh_words_of_log(connection, key)
    set_seal(connection, logs, logs.c.id == key)
    return connection.execute(select(logs).where(logs.c.id == key)).one()


def _enter_survey(connection: Connection, sound: CheckedFiling, parcels: list[Parcel], number: int) -> int:
    note = storable(sound.filing.facts.note)
    by_kind = {parcel.kind: parcel for parcel in parcels}
    survey = connection.execute(
        insert(surveys).values(
            slab_number=number,
            side=sound.side,
            surveyed_at=sound.surveyed_at,
            filed_at=now_text(),
            photo_name=sound.photo_name,
            photo_sha256=sound.filing.photo_sha256,
            original_path=by_kind["original"].place,
            **picture_columns(by_kind),
            thickness_readings_mm=json.dumps(sound.thickness_readings_mm),
            note=note,
            words_folded=folded(f"{note} {sound.photo_name}"),
            record=sound.record_text,
        )
    ).inserted_primary_key[0]
    enter_further_photos(connection, survey, sound, by_kind)
    for (kind, part), points in sound.outlines.items():
        connection.execute(
            insert(outlines).values(survey_id=survey, kind=kind, part=part, points_mm=json.dumps(points))
        )
    set_seal(connection, surveys, surveys.c.id == survey)
    if wood := sound.outlines.get(("wood", 0)):
        # Loads shapely and scipy, which opening a yard does without.
        from grainlog.yard.fit_curves import enter_curve

        enter_curve(connection, survey, number, wood)
    return survey


def picture_columns(by_kind: dict[str, Parcel]) -> dict[str, str]:
    """The columns of `surveys` that say where its pictures lie."""
    columns = {}
    for kind in ("flat", "overlay"):
        if parcel := by_kind.get(kind):
            columns |= {f"{kind}_path": parcel.place, f"{kind}_sha256": parcel.sha256}
    return columns
