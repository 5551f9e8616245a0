"""Who may use the yard's page: devices that were paired, and links that show the yard read-only.

Each holds a token of 256 random bits; only its hash stays here.
"""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

from sqlalchemy import insert, select, update

from grainlog.yard.database import Database
from grainlog.yard.errors import SettingRefused
from grainlog.yard.filing import now_text, tidy_text
from grainlog.yard.page_tables import page_devices, page_links

# `seen_at` is for a person who asks which phone that was; an hour is near enough, and spares a write per page.
_SEEN_EVERY = timedelta(hours=1)
LONGEST_LINK_DAYS = 366


def new_token() -> str:
    """A fresh secret of 256 bits, safe in an address."""
    return secrets.token_urlsafe(32)


def hashed(token: str) -> str:
    """What is kept of a token; with 256 random bits a plain SHA-256 gives nothing away."""
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


@dataclass(frozen=True)
class Visitor:
    """Somebody at the page.

    kind : "here" (this machine), "device" (paired) or "guest" (a link: reads, without prices, places or owners).
    key : the device's or the link's number; None for this machine.
    """

    kind: str
    key: int | None = None

    @property
    def may_write(self) -> bool:
        """Whether this one may change the yard."""
        return self.kind != "guest"


@dataclass(frozen=True)
class Known:
    """A device or a link as listed: its name or note, since when, last seen or until when, and whether it is revoked."""

    key: int
    name: str
    since: datetime
    until: datetime
    revoked: bool


class Visitors:
    """The devices and links of one yard."""

    def __init__(self, database: Database):
        self._database = database

    def pair(self, name: str) -> str:
        """Remember a new device; returns its token, which is shown to nobody again. Raises YardError."""
        token, now = new_token(), now_text()
        row = {"name": (tidy_text(name) or "a device")[:60], "token_sha256": hashed(token), "paired_at": now, "seen_at": now}
        with self._database.writing() as connection:
            connection.execute(insert(page_devices).values(**row))
        return token

    def device(self, token: str) -> Visitor | None:
        """The device with this token, unless it was revoked."""
        table = page_devices
        with self._database.reading() as connection:
            row = connection.execute(select(table).where(table.c.token_sha256 == hashed(token))).first()
        if row is None or row.revoked_at is not None:
            return None
        if datetime.now(timezone.utc) - datetime.fromisoformat(row.seen_at) > _SEEN_EVERY:
            with self._database.writing() as connection:
                connection.execute(update(table).where(table.c.id == row.id).values(seen_at=now_text()))
        return Visitor("device", row.id)

    def make_link(self, note: str, days: int) -> str:
        """A link that shows the yard read-only for so many days; returns its token. Raises SettingRefused, YardError."""
        if not 1 <= days <= LONGEST_LINK_DAYS:
            raise SettingRefused(f"A link lasts from 1 to {LONGEST_LINK_DAYS} days, not {days}; give a number between.")
        token = new_token()
        until = (datetime.now(timezone.utc) + timedelta(days=days)).isoformat(timespec="seconds")
        row = {"note": (tidy_text(note) or "no note")[:120], "token_sha256": hashed(token), "made_at": now_text(), "until": until}
        with self._database.writing() as connection:
            connection.execute(insert(page_links).values(**row))
        return token

    def guest(self, token: str) -> Visitor | None:
        """The visitor of a link, unless it ran out or was revoked."""
        table = page_links
        with self._database.reading() as connection:
            row = connection.execute(select(table).where(table.c.token_sha256 == hashed(token))).first()
        if row is None or row.revoked_at is not None or row.until <= now_text():
            return None
        return Visitor("guest", row.id)

    def devices(self) -> list[Known]:
        """Every device ever paired, newest first."""
        return self._listed(page_devices, "name", "paired_at", "seen_at")

    def links(self) -> list[Known]:
        """Every link ever made, newest first."""
        return self._listed(page_links, "note", "made_at", "until")

    def revoke_device(self, key: int) -> None:
        """Shut a device out, now. Raises SettingRefused, YardError."""
        self._revoke(page_devices, key, "device")

    def revoke_link(self, key: int) -> None:
        """Make a link void, now. Raises SettingRefused, YardError."""
        self._revoke(page_links, key, "link")

    def _listed(self, table, name: str, since: str, until: str) -> list[Known]:
        with self._database.reading() as connection:
            rows = connection.execute(select(table).order_by(table.c.id.desc())).mappings().all()
        return [
            Known(row["id"], row[name], datetime.fromisoformat(row[since]), datetime.fromisoformat(row[until]),
                  row["revoked_at"] is not None)
            for row in rows
        ]  # fmt: skip

    def _revoke(self, table, key: int, what: str) -> None:
        with self._database.writing() as connection:
            done = connection.execute(
                update(table).where(table.c.id == key, table.c.revoked_at.is_(None)).values(revoked_at=now_text())
            )
        if done.rowcount != 1:
            raise SettingRefused(f"There is no {what} {key} that could still be revoked; look at the list again.")
