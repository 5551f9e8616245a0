"""Many photos into the yard: measured on all cores, filed one by one."""

import os
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path

from grainlog.cli.asking import Lay
from grainlog.cli.drawn_options import Drawn, drawn_request
from grainlog.cli.progress import counting
from grainlog.errors import GrainlogError
from grainlog.photo import read_photo
from grainlog.picture.figures import REMINDERS
from grainlog.units import Quantity, format_quantity
from grainlog.yard import SlabFacts, Yard
from grainlog.yard.adding import Known, Measured, measured, measuring_process
from grainlog.yard.disk import sha256_of
from grainlog.yard.tag_filing import survey_by_tag
from grainlog.yard.tags import tag_of


@dataclass(frozen=True)
class Job:
    """What is the same for every photo of a batch."""

    yard: Path
    lay: Lay
    known: Known
    log: str | None
    species: str | None
    order: int | None
    slab: int | None
    drawn: Drawn
    note: str
    units: str
    others: tuple[Path, ...] = ()
    overrule_tag: bool = False


@dataclass(frozen=True)
class Outcome:
    """What became of one photo: where it is filed, or what the problem was."""

    photo: Path
    slab: int | None = None
    survey: int | None = None
    log: str | None = None
    order: int | None = None
    already: bool = False
    board_feet: Quantity | None = None
    warnings: tuple[dict, ...] = ()
    problem: str | None = None
    exit_code: int = 0
    by_tag: bool = False

    def as_dict(self) -> dict:
        """Plain data for JSON."""
        return {
            "photo": str(self.photo),
            "slab": self.slab,
            "survey": self.survey,
            "log": self.log,
            "order": self.order,
            "already": self.already,
            "by_tag": self.by_tag,
            "board_feet": self.board_feet.as_dict() if self.board_feet else None,
            "warnings": list(self.warnings),
            "problem": self.problem,
        }

    def sentence(self, units: str) -> str:
        """One line for a person."""
        if self.problem:
            return f"{self.photo.name}: {self.problem}"
        where = f"slab {tag_of(self.slab)}, number {self.order} of {self.log}" + (", by its tag" if self.by_tag else "")
        if self.already:
            return f"{self.photo.name}: already in the yard as {where}."
        amount = f", {format_quantity(self.board_feet, units, 'board_feet')}" if self.board_feet else ""
        told = "".join(
            f"\n    ! {warning['message']}" for warning in self.warnings if warning["code"] not in REMINDERS
        )
        return f"{self.photo.name}: {where}{amount}.{told}"


def reminders_of(outcomes: Sequence[Outcome]) -> list[str]:
    """What a batch should be reminded of, each sentence once: it casts no doubt on any one photo."""
    told = [warning for outcome in outcomes for warning in outcome.warnings if warning["code"] in REMINDERS]
    return list(dict.fromkeys(warning["message"] for warning in told))


@dataclass(frozen=True)
class Refused:
    """Why a photo was not entered, and the exit code that goes with it."""

    message: str
    exit_code: int = 1


def file_all(job: Job, photos: Sequence[Path], workers: int | None) -> list[Outcome]:
    """Measure and file photos; the outcomes are in the order of the photos, which numbers the slabs within the log.

    A failure in one never stops the rest. Interrupted, what was filed stays filed and nothing is half filed.
    """
    with Yard.open(job.yard) as yard:
        first = job.order or (yard.next_order(job.log) if job.log else None)
        outcomes: list[Outcome | None] = [None] * len(photos)
        with counting("Measuring", len(photos)) as advance:
            for index, photo in enumerate(photos):
                if (known := _known(yard, photo)) is not None:
                    outcomes[index] = known
                    advance()
            new = [index for index, outcome in enumerate(outcomes) if outcome is None]
            for position, result in _measured(job, yard, [photos[index] for index in new], workers):
                index = new[position]
                order = None if first is None else first + index
                outcomes[index] = _filed(job, yard, photos[index], order, result)
                advance()
    return [outcome for outcome in outcomes if outcome is not None]


def _known(yard: Yard, photo: Path) -> Outcome | None:
    """Where a photo is that the yard already holds; looked up before it is measured again."""
    try:
        filed = yard.find_photo(sha256_of(photo))
    except OSError:
        return None  # reading it as a photo says what is wrong
    return filed and Outcome(photo, filed.slab, filed.survey, filed.log, filed.order, already=True)


def _measured(job: Job, yard: Yard, photos: Sequence[Path], workers: int | None) -> Iterator[tuple[int, object]]:
    """(index, measured photo or what went wrong), as they come."""
    if not photos:
        return
    count = min(workers or os.cpu_count() or 1, len(photos))
    if count == 1:
        for index, photo in enumerate(photos):
            yield index, _attempt(job, photo)
        return
    pool = ProcessPoolExecutor(count, get_context("spawn"), initializer=measuring_process)
    try:
        waiting: dict[Future, int] = {
            pool.submit(_attempt, job, photo): index for index, photo in enumerate(photos)
        }
        while waiting:
            done, _ = wait(waiting, return_when=FIRST_COMPLETED)
            for future in done:
                index = waiting.pop(future)
                try:
                    yield index, future.result()
                except BrokenProcessPool:
                    yield index, Refused("Its measuring process ended unexpectedly (out of memory?); add it again with --workers 1.")
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _attempt(job: Job, photo: Path) -> Measured | Refused:
    """Measure one photo; what is wrong with it comes back as its sentence."""
    try:
        pixels, *others = (read_photo(path) for path in (photo, *job.others))
        request = job.lay.request(job.known)
        request = replace(request, **drawn_request(job.drawn, [pixels, *others], request))
        with Yard.open(job.yard) as yard:
            survey, choice = survey_by_tag(yard, [pixels, *others], request, job.slab, job.overrule_tag, job.log)
        further = tuple((path, other.sha256) for path, other in zip(job.others, others))
        return measured(survey, pixels.sha256, job.units, choice, further)
    except GrainlogError as error:
        return Refused(str(error), error.exit_code)


def _filed(job: Job, yard: Yard, photo: Path, order: int | None, result: Measured | Refused) -> Outcome:
    if isinstance(result, Refused):
        return Outcome(photo, problem=result.message, exit_code=result.exit_code)
    facts = SlabFacts(job.slab, job.log, None if job.slab else order, job.species, job.lay.thickness, job.note)
    try:
        filed = yard.file_by_tag(result.filing(photo, facts), result.choice)
    except GrainlogError as error:
        return Outcome(photo, problem=str(error), exit_code=error.exit_code)
    amount = result.record["face"]["board_feet"]
    return Outcome(
        photo,
        filed.slab,
        filed.survey,
        filed.log,
        filed.order,
        filed.already,
        Quantity(amount["value"], amount["u"]) if amount else None,
        (*result.record["warnings"], *(vars(note) for note in result.choice.notes)),
        by_tag=job.slab is None and result.choice.number is not None,
    )
