"""From photos to an entry by the slab's tag: the tag says which slab, so which outline it is turned like and how thick it is."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from grainlog.face.measures import Thickness
from grainlog.photo import Photo
from grainlog.scale.tag import marker_of
from grainlog.scale.tag_find import find_tags
from grainlog.survey import Request, Survey, measure_photo, measure_photos
from grainlog.survey.request import FirstFace
from grainlog.yard.errors import FilingRefused
from grainlog.yard.filing import Filing, folded
from grainlog.yard.query import SlabQuery
from grainlog.yard.tag_reading import TagChoice
from grainlog.yard.tags import root_of, tag_of

if TYPE_CHECKING:
    from grainlog.yard.catalogue import Yard

NO_TAG = "Say which log these slabs were sawn from, as in --log 'driveway elm', or which slab it is (--slab 12): no tag in the photo says it."


def first_face(yard: "Yard", number: int | None) -> FirstFace | None:
    """What the first survey of a slab fixed; None for a slab that is not there yet. Raises NoSuchSlab."""
    if number is None:
        return None
    first = yard.slab(number).surveys[-1]
    return FirstFace(np.array(first.record["outline"]["wood_mm"]), first.side)


def survey_by_tag(
    yard: "Yard",
    photos: Sequence[Photo],
    request: Request,
    slab: int | None = None,
    overrule: bool = False,
    log: str | None = None,
    progress: Callable[[str], None] = lambda step: None,
) -> tuple[Survey, TagChoice]:
    """Measure a slab in one photo, or in several that overlap, and say which slab of the yard it is.

    request : as the person has it; what a slab that was surveyed before brings along (its first outline, its thickness) is
        filled in where the person did not say.
    slab, log : what the person says it is. overrule : whatever the tag says.

    Raises what `measure_photo` and `Tags.choose` raise, and FilingRefused where neither person nor tag say which slab or log it is.
    """
    tags = [tag for photo in photos for tag in find_tags(photo.pixels)]
    if slab is None and log is None and (overrule or not tags):
        raise FilingRefused(NO_TAG)
    number = slab
    if slab is None and not overrule:
        number = yard.tags.expected(tags)
    survey = _measured(yard, photos, request, number, tags, progress)
    choice = yard.tags.choose(survey.tags, slab, overrule)
    is_known = choice.number if choice.known else None
    if is_known != number:
        survey = _measured(yard, photos, request, is_known, tags, progress)
    return survey, choice


def _measured(
    yard: "Yard", photos, request: Request, number: int | None, tags, progress
) -> Survey:
    marker = None if number is None else marker_of(root_of(number))
    if any(tag.marker == marker for tag in tags):
        request = replace(request, marker=marker)
    if number is not None:
        readings = yard.slab(number).surveys[0].thickness_readings_mm
        thickness = (
            Thickness.from_readings(readings)
            if readings and request.thickness is None
            else request.thickness
        )
        request = replace(
            request,
            thickness=thickness,
            first=request.first or first_face(yard, number),
            cup_mm=yard.drying.readings.last_cup(number) if request.cup_mm is None else request.cup_mm,
        )
    if len(photos) > 1:
        return measure_photos(photos, request, progress)
    return measure_photo(photos[0], request, progress, tags)


def by_tag(yard: "Yard", filing: Filing, choice: TagChoice) -> Filing:
    """A filing with what its slab's tag says: another survey of that slab, or the slab that the tag starts.

    Raises FilingRefused where log and tag contradict each other, or a new slab's log is not known.
    """
    if choice.number is None:
        return filing
    facts = filing.facts
    if choice.notes:
        warnings = [
            {"code": note.code, "message": note.message} for note in choice.notes
        ]
        filing = replace(
            filing,
            record={
                **filing.record,
                "warnings": [*filing.record.get("warnings", ()), *warnings],
            },
        )
    # Another photo of the same batch may have started the slab meanwhile.
    if choice.known or yard.holds(choice.number):
        return replace(filing, facts=replace(facts, number=choice.number, order=None))
    log, order = facts.log or choice.log, facts.order
    if log is None:
        raise FilingRefused(
            f"Tag {tag_of(choice.number)} starts a new slab: say which log it was sawn from (--log)."
        )
    if choice.log is not None:
        if folded(log) != folded(choice.log):
            raise FilingRefused(
                f"Tag {tag_of(choice.number)} was printed for log {choice.log}, not {log}: correct one of the two, or use a blank tag."
            )
        taken = {row.order for row in yard.slabs(SlabQuery(log=log, gone_too=True)) if folded(row.log) == folded(log)}
        # A slab without a tag may have been entered at its place meanwhile.
        order = None if choice.order in taken else choice.order or order
    return replace(
        filing,
        facts=replace(
            facts, number=None, new_number=choice.number, log=log, order=order
        ),
    )
