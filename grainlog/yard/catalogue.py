"""The yard itself: one folder, opened by name, that keeps slabs and their surveys."""

import os
from contextlib import suppress
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from grainlog.yard.database import Database
from grainlog.yard.entry import SlabEntry, read_entry
from grainlog.yard.errors import NotAYard, YardError, YardInTheWay
from grainlog.yard.filing import Filed, Filing, checked
from grainlog.yard.folder_lock import handling_files
from grainlog.yard.hauls import Hauls
from grainlog.yard.keeping import (
    DATABASE,
    FILE_MANAGER_LITTER,
    Parcel,
    in_a_sentence,
    is_registered,
    put_in_place,
    staged,
)
from grainlog.yard.life import Lives
from grainlog.yard.log_facts import Logs
from grainlog.yard.mending import mend, whole_files
from grainlog.yard.migrations import bring_up_to_date, is_yard, make_tables
from grainlog.yard.moving import Moved, move_survey
from grainlog.yard.page_visitors import Visitors
from grainlog.yard.pieces import OtherPieces
from grainlog.yard.places import Places
from grainlog.yard.query import SlabQuery, SlabRow, find_slabs
from grainlog.yard.registering import find_photo, next_order, register
from grainlog.yard.removal import Removed, remove_slab
from grainlog.yard.settings import Settings
from grainlog.yard.stocktaking import Finding, take_stock, tidy
from grainlog.yard.tag_numbers import has_slab

if TYPE_CHECKING:
    from grainlog.yard.check_histories import Checks
    from grainlog.yard.drying import Drying
    from grainlog.yard.fits import Fits
    from grainlog.yard.life_cuts import Cuts
    from grainlog.yard.life_lifting import Lifting
    from grainlog.yard.outlines import Outlines
    from grainlog.yard.tag_reading import TagChoice, Tags
    from grainlog.yard.versions import Versions


class Yard:
    """A catalogue of slabs in a folder; several processes may have the same one open and all may add.

    Made by `Yard.start` or `Yard.open`; closes itself as a context manager. Every method raises YardError, in a
    sentence, when the disk or the database fails; what was acknowledged before is then still there.
    """

    def __init__(self, folder: Path):
        self.folder = folder
        self._database = Database(folder / DATABASE)
        self.settings = Settings(self._database)
        self.lives = Lives(self._database)
        self.places = Places(self._database)
        self.hauls = Hauls(self._database)
        self.logs = Logs(self._database)
        self.pieces = OtherPieces(self._database)
        self.visitors = Visitors(self._database)

    @cached_property
    def cuts(self) -> "Cuts":
        """Trimming, ripping, cutting into pieces, flattening."""
        # Loads numpy, which a search of the yard does without.
        from grainlog.yard.life_cuts import Cuts

        return Cuts(self._database, self.folder)

    def lifting(self, number: int) -> "Lifting":
        """What has to be lifted off to reach a slab, with its weight. Raises NoSuchSlab."""
        from grainlog.yard.life_lifting import what_to_lift

        return what_to_lift(self.places, self.drying, number)

    @cached_property
    def drying(self) -> "Drying":
        """Readings, the shed's air, what is known of the wood, and what follows for drying."""
        # Loads numpy, which a search of the yard does without.
        from grainlog.yard.drying import Drying

        return Drying(self._database, self.folder, self.settings)

    @cached_property
    def checks(self) -> "Checks":
        """The checks of each slab, followed from photo to photo, looks by hand, and which of them run."""
        # Loads OpenCV, which a search of the yard does without.
        from grainlog.yard.check_histories import Checks

        return Checks(self._database, self.folder)

    @cached_property
    def fits(self) -> "Fits":
        """What fits on which slab, and the defects drawn on them."""
        from grainlog.yard.fits import Fits

        return Fits(self._database, lambda: self.drying)

    @cached_property
    def tags(self) -> "Tags":
        """What the tags in photos mean, and numbers for tags that are printed ahead."""
        # Loads cv2, which a search of the yard does without.
        from grainlog.yard.tag_reading import Tags

        return Tags(self._database, self.settings)

    @cached_property
    def outlines(self) -> "Outlines":
        """The outline that stands for each slab, for many slabs at once."""
        # Loads numpy, which a search of the yard does without.
        from grainlog.yard.outlines import Outlines

        return Outlines(self._database)

    @cached_property
    def versions(self) -> "Versions":
        """Mending a survey by hand: its new version, and those before it."""
        # Loads OpenCV, which a search of the yard does without.
        from grainlog.yard.versions import Versions

        return Versions(self._database, self.folder)

    @classmethod
    def start(cls, folder: str | os.PathLike) -> Self:
        """Make a yard in an empty or new folder and open it. Raises YardInTheWay, YardError."""
        path = Path(folder).absolute()
        if path.exists() and not path.is_dir():
            raise YardInTheWay(f"{path} is a file; name a folder for the yard.")
        with in_a_sentence("no yard was started"):
            path.mkdir(parents=True, exist_ok=True)
            # An empty yard.db is what a start that was cut short leaves behind.
            others = {item.name for item in path.iterdir()} - {DATABASE, f"{DATABASE}-journal"} - FILE_MANAGER_LITTER
            if others and not ((path / DATABASE).exists() and is_yard(path / DATABASE)):
                raise YardInTheWay(f"{path} already holds {min(others)}; start the yard in an empty or new folder.")
            (path / DATABASE).touch()
        make_tables(path / DATABASE)
        return cls(path)

    @classmethod
    def open(cls, folder: str | os.PathLike) -> Self:
        """Open a yard, bringing an older one up to date. Raises NotAYard, YardTooNew, YardError."""
        path = Path(folder).absolute()
        if not (path / DATABASE).is_file():
            raise NotAYard(f"There is no yard in {path}; start one there, or name the folder where one was started.")
        bring_up_to_date(path / DATABASE)
        return cls(path)

    def close(self) -> None:
        """Let go of the database."""
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def add(self, filing: Filing) -> Filed:
        """File one surveyed photo; once this returns, it survives the process and the power.

        A photo the yard already has is recognised by its hash and stays as it was filed; files of it that were lost
        or damaged since are put back. Raises FilingRefused, NoSuchSlab, YardError; nothing is stored then.
        """
        sound = checked(filing)
        if (filed := self.find_photo(filing.photo_sha256)) is not None:
            return filed
        with in_a_sentence(), handling_files(self.folder), staged(self.folder, sound) as parcels:
            try:
                with self._database.writing() as connection:
                    filed = find_photo(connection, filing.photo_sha256)
                    if filed is None:
                        filed = register(connection, sound, parcels)
                        put_in_place(self.folder, parcels)
                    else:
                        mend(connection, self.folder, filed, parcels)
            except BaseException:
                self._take_back(parcels)
                raise
        return filed

    def file_by_tag(self, filing: Filing, choice: "TagChoice") -> Filed:
        """File one surveyed photo where the tag on its slab says (`tag_filing.survey_by_tag`, `Tags.choose`); raises as `add`."""
        from grainlog.yard.tag_filing import by_tag

        return self.add(by_tag(self, filing, choice))

    def move_survey(self, survey: int, to: int, note: str = "", take_out: bool = False) -> Moved:
        """File a survey that stands under the wrong slab under another one; `take_out`: a slab left without any goes.

        Raises FilingRefused, RemovalRefused, NoSuchSlab.
        """
        with in_a_sentence("the survey is still where it was"):
            return move_survey(self._database, self.folder, survey, to, note, take_out)

    def _take_back(self, parcels: list[Parcel]) -> None:
        """Delete files of a filing that failed after they were put in place, unless a survey points at them."""
        placed = [parcel for parcel in parcels if not parcel.waiting.exists()]
        if not placed:
            return
        # Where even this fails, the files are strays that stock-taking finds; the first error is the one to tell.
        with suppress(YardError, OSError), self._database.writing() as connection:
            for parcel in placed:
                if not is_registered(connection, parcel.place):
                    (self.folder / parcel.place).unlink(missing_ok=True)

    def find_photo(self, photo_sha256: str) -> Filed | None:
        """Where a photo with this hash already is, with all its files whole, or None; spares measuring it again.

        A photo whose files were lost or damaged is not found, so that adding it once more puts them back.
        """
        with self._database.reading() as connection:
            filed = find_photo(connection, photo_sha256)
            if filed is None or not all(whole_files(connection, self.folder, filed).values()):
                return None
        return filed

    def next_order(self, log: str) -> int:
        """The next free place within a log; 1 for a log the yard does not know yet."""
        with self._database.reading() as connection:
            return next_order(connection, log)

    def slabs(self, query: SlabQuery = SlabQuery()) -> list[SlabRow]:
        """The slabs that meet a query. Raises QueryRefused."""
        with self._database.reading() as connection:
            return find_slabs(connection, query)

    def holds(self, number: int) -> bool:
        """Whether there is a slab or piece of this number."""
        with self._database.reading() as connection:
            return has_slab(connection, number)

    def slab(self, number: int) -> SlabEntry:
        """One slab with all its surveys. Raises NoSuchSlab."""
        with self._database.reading() as connection:
            return read_entry(connection, self.folder, number)

    def remove(self, number: int) -> Removed:
        """Take a slab out of the yard; its entry and files are kept in `removed/slab-N/`. Raises NoSuchSlab."""
        with in_a_sentence("the slab is still there"):
            return remove_slab(self._database, self.folder, number)

    def stocktake(self) -> list[Finding]:
        """Read everything again and say what is wrong or lies about; changes nothing. An empty list is good news."""
        with in_a_sentence("stock could not be taken"):
            return take_stock(self._database, self.folder)

    def tidy(self) -> list[str]:
        """Clear away leftovers of work that was cut short; returns what was done, a sentence each.

        Only unfinished temporary files are deleted; a file that no slab points at moves to `removed/strays/`.
        """
        with in_a_sentence("not everything was tidied"):
            return tidy(self._database, self.folder)
