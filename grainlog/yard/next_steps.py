"""What to do next with a slab, in plain words: rules from what is known of it and what is missing."""

from collections.abc import Sequence
from datetime import date

from grainlog.drying.progress import progress
from grainlog.notes import Note
from grainlog.yard.drying import SlabDrying
from grainlog.yard.entry import SlabEntry
from grainlog.yard.life_state import Life

#: A slab that is drying wants a reading about once a month (common practice, no source).
READING_DAYS = 30
#: Below these the outline wants a look, and the numbers are not to be gone by: see the survey's confidence.
LOOK_BELOW, NOT_BELOW = 0.9, 0.5


def next_steps(
    entry: SlabEntry, life: Life, told: SlabDrying, advice: Sequence[str] = (), today: date | None = None
) -> tuple[Note, ...]:
    """What to do next, the weightiest first; nothing for a slab that is gone.

    told : its drying. advice : what is commonly done about its checks, where they run (`CheckHistory.advice`).
    """
    today = today or date.today()
    if life.status == "cut up":
        return (Note("cut-up", "It was cut up; what is to be done is said of its pieces."),)
    if not life.present:
        return ()
    steps = [*_of_promise(life, today), *_of_survey(entry)]
    steps += [Note("checks", one) for one in advice]
    where = progress(told.assessed)
    if where.ready:
        steps.append(
            Note("ready", f"It is ready: {where.why[0]}. Read the core again on the day it is used, and let it lie some weeks where "
                 "it will be used (common practice, no source).")
        )  # fmt: skip
    elif where.behind:
        steps.append(Note("behind", f"It dries too slowly: {next(one for one in where.why if 'reading' not in one)}"))
    steps += _of_reading(told, where.ready, today)
    return (*steps, *_of_what_nobody_said(entry, life, told))


def _of_promise(life: Life, today: date) -> list[Note]:
    if life.status == "promised" and life.until is not None and life.until < today:
        who = life.for_whom or "somebody"
        return [Note("promise-over", f"It was promised to {who} until {life.until}, which is over; ask, and say how it stands.")]
    return []


def _of_survey(entry: SlabEntry) -> list[Note]:
    newest = entry.surveys[0]
    confidence = (newest.record.get("face") or {}).get("confidence")
    steps = []
    if confidence is not None and confidence < NOT_BELOW:
        steps.append(Note("outline", "Do not go by its numbers: the outline is probably not the wood edge. Mend it, or photograph it again."))
    elif confidence is not None and confidence < LOOK_BELOW:
        steps.append(Note("outline", "Look at the marked photo: does the line run along the wood edge everywhere? If not, mend it."))
    if entry.figures.get("thickness_mm") is None:
        steps.append(
            Note("thickness", "Measure its thickness at three or four places around the edge and say it here: without it there are "
                 "no board feet and no weight.")
        )  # fmt: skip
    if newest.cut_from is not None:
        steps.append(Note("photograph", "Its outline was worked out, not measured; photograph it when it next lies free."))
    elif entry.one_face_only:
        other = {"bark": "heart side", "heart": "bark side"}.get(newest.side or "", "other face")
        steps.append(
            Note("other-face", f"Photograph the {other} when the slab is next turned: the live edges slope, so board feet from one "
                 "face are only near.")
        )  # fmt: skip
    return steps


def _of_reading(told: SlabDrying, ready: bool, today: date) -> list[Note]:
    seen = told.assessed
    days = [one.day for one in (*seen.slab.readings, *seen.slab.weighings)]
    if ready:
        return []
    if not days:
        return [Note("reading", "Take a first moisture reading, or weigh it: a forecast needs readings on three days.")]
    away = (today - max(days)).days
    if away >= READING_DAYS:
        return [Note("reading", f"Take a reading: the last one was {away} days ago.")]
    return []


def _of_what_nobody_said(entry: SlabEntry, life: Life, told: SlabDrying) -> list[Note]:
    steps = []
    if entry.species is None:
        steps.append(Note("species", "Say what wood it is with the next photo of its log: shrinkage, weight and forecast hang on it."))
    if told.assessed.slab.sawn_on is None:
        steps.append(Note("sawn", f"Say when log {entry.log} was sawn, so that drying can be reckoned from green."))
    if life.shed is None and life.stack is None:
        steps.append(Note("place", "Say where it lies, so that it can be found and what lies above it be told."))
    return steps
