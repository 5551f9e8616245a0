"""Checks of one yard's slabs: their histories, which of them run, and the pictures of both."""

from collections.abc import Callable
from pathlib import Path

from sqlalchemy import func, select

from grainlog.checks.history import CheckHistory, Running, running_of
from grainlog.checks.telling import ADVICE, notices_of
from grainlog.yard.check_following import face_looks, named
from grainlog.yard.check_hand import HandLooks
from grainlog.yard.check_pairs import Pairs
from grainlog.yard.check_view import view_of
from grainlog.yard.database import Database
from grainlog.yard.entry import read_entry
from grainlog.yard.life_tables import slab_life
from grainlog.yard.schema import surveys


class Checks:
    """Everything about checks in one yard; `hand` are the looks without a photo."""

    def __init__(self, database: Database, folder: Path):
        self._database = database
        self._folder = folder
        self.hand = HandLooks(database)

    def slab(self, number: int, units: str = "in") -> CheckHistory:
        """All looks at the checks of a slab, followed; notices with lengths in "in" or "mm".

        The first time that a photo is followed takes about a second; what came of it is kept. Raises NoSuchSlab, YardError.
        """
        with self._database.reading() as connection:
            entry = read_entry(connection, self._folder, number)
        hand = self.hand.of(number)
        looks = named(entry, face_looks(entry, hand, Pairs(self._database)), self._database)
        running: list[Running] = []
        for face in dict.fromkeys(look.face for look in looks if look.counts):
            running += running_of([look for look in looks if look.face == face and look.counts])
        running.sort(key=lambda one: -(one.change.per_week_mm or 0.0))
        notices = notices_of(looks, hand, running, units)
        return CheckHistory(number, entry.tag, tuple(looks), hand, notices, ADVICE if running else (), tuple(running))

    def followed(self) -> list[int]:
        """Numbers of the slabs still here that have more than one photo."""
        with self._database.reading() as connection:
            away = set(connection.execute(select(slab_life.c.slab_number).where(slab_life.c.present == 0)).scalars())
            query = select(surveys.c.slab_number).where(surveys.c.cut_from.is_(None)).group_by(surveys.c.slab_number)
            numbers = connection.execute(query.having(func.count() > 1).order_by(surveys.c.slab_number)).scalars()
            return [number for number in numbers if number not in away]

    def running(self, progress: Callable[[int, int], None] | None = None, units: str = "in") -> list[CheckHistory]:
        """Slabs still here whose checks grow by their newest photos, the fastest check first."""
        found, numbers = [], self.followed()
        for position, number in enumerate(numbers):
            history = self.slab(number, units)
            if history.running:
                found.append(history)
            if progress is not None:
                progress(position + 1, len(numbers))
        return sorted(found, key=lambda one: -(one.running[0].change.per_week_mm or 0.0))

    def growth_plot(self, number: int, units: str = "in", kind: str = "png") -> bytes:
        """Length of each check over time, PNG or SVG. Raises WrongUse where there is nothing to draw, or for another kind."""
        from grainlog.picture.check_plot import draw_growth

        return draw_growth(self.slab(number, units), units, kind)

    def side_by_side(self, number: int, face: str | None = None, units: str = "in", most: int = 6) -> bytes:
        """A PNG of the photos of one face, square-on at one scale, each check in its own colour and name.

        face : which, where both were followed; else the one that was. most : photos shown; the first and the newest always.
        Raises WrongUse where there is nothing to draw, NoView or PhotoError where a photo is gone.
        """
        from grainlog.picture.check_sheet import chosen, draw_side_by_side

        with self._database.reading() as connection:
            entry = read_entry(connection, self._folder, number)
        history = self.slab(number, units)
        looks = chosen(history, face, most)
        photos = {survey.id: survey for survey in entry.surveys}
        return draw_side_by_side(history, looks, [view_of(photos[look.survey]) for look in looks], units)
