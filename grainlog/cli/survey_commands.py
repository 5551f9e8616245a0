"""`grainlog measure` and `grainlog add`: from photos to numbers, and into the yard."""

import json
from dataclasses import replace
from pathlib import Path

import click

from grainlog.cli.asking import Lay, ask_bars, known_at, slab_options
from grainlog.cli.batch import Job, file_all, reminders_of
from grainlog.cli.drawn_options import Drawn, drawn_options, drawn_request
from grainlog.cli.figures import print_survey
from grainlog.cli.options import json_option, units_option, yard_option
from grainlog.cli.progress import watching
from grainlog.cli.tables import TAG
from grainlog.errors import WrongUse
from grainlog.photo import read_photo
from grainlog.picture import draw_overlay
from grainlog.survey import measure_photo, record_of
from grainlog.survey.picture import write_picture
from grainlog.survey.several import measure_tied, tie_photos
from grainlog.yard import Yard
from grainlog.yard.adding import Known
from grainlog.yard.tag_filing import NO_TAG
from grainlog.yard.tags import tag_of

PHOTO = click.Path(path_type=Path)

more_photos = click.option(
    "--and", "others", type=PHOTO, multiple=True, metavar="PHOTO",
    help="A further photo of the same slab, too long for one; they overlap, and show at least one card in common.",
)  # fmt: skip


@click.command()
@click.argument("photo", type=PHOTO)
@more_photos
@slab_options
@drawn_options
@click.option("--picture", type=PHOTO, metavar="FILE", help="Write the photo with what was measured drawn on it.")
@click.option("--flat", type=PHOTO, metavar="FILE", help="Write the face seen square-on.")
@units_option
@json_option
@yard_option
def measure(photo, others, outline, as_drawn, dabs, at, drawn_on, picture, flat, units, as_json, yard, **lay) -> None:
    """Measure the slab in PHOTO; nothing is stored."""
    with watching(f"Measuring {photo.name}") as progress:
        drawn = Drawn(outline, as_drawn, dabs, at, drawn_on)
        photos = [read_photo(path) for path in (photo, *others)]
        request = Lay(**lay).complete().request(known_at(yard))
        if others:
            tied = tie_photos(photos, request, progress)
            request = replace(request, **drawn.read(photos, lambda: tied.viewer.plane.sheet.size_px))
            survey = measure_tied(tied, request, progress)
        else:
            request = replace(request, **drawn_request(drawn, photos, request))
            survey = measure_photo(photos[0], request, progress)
        record = record_of(survey)
        if picture:
            write_picture(picture, draw_overlay(survey.photo.pixels, record, units))
        if flat:
            write_picture(flat, survey.flat_view().rgb)
    if as_json:
        click.echo(json.dumps(record))
    else:
        print_survey(record, units)


@click.command()
@click.argument("photos", type=PHOTO, nargs=-1, required=True)
@more_photos
@slab_options
@drawn_options
@click.option("--log", help="The log that these slabs were sawn from.")
@click.option("--species", help="Species of the log.")
@click.option("--first", "order", type=click.IntRange(1), help="Order in the log of the first photo's slab; next free if left out.")
@click.option("--slab", type=TAG, help="Another survey of this slab in the yard (one photo).")
@click.option("--overrule-tag", is_flag=True, help="Go by --slab or --log, whatever the tag on the slab says.")
@click.option("--note", default="", help="A note kept with each survey.")
@click.option("--workers", type=click.IntRange(1), help="Photos measured at the same time; as many as cores if left out.")
@units_option
@json_option
@yard_option
def add(photos, others, log, species, order, slab, overrule_tag, outline, as_drawn, dabs, at, drawn_on, note, workers, units, as_json, yard, **lay) -> None:
    """Measure PHOTOS and enter them in the yard: one slab each, in sawing order.

    A slab with this yard's tag on it (grainlog tags) is known by it: its photo becomes its next survey, or starts it under the
    number on the tag. Thickness, lift, log and species are said once for the batch. A photo that fails never stops the others; the yard
    knows a photo that it already holds.
    """
    drawn = Drawn(outline, as_drawn, dabs, at, drawn_on)
    if (slab or others or drawn or lay["corners"] or lay["between"]) and len(photos) > 1:
        raise WrongUse(
            "--slab, --and, --outline, --dabs, --at, --corners and --between belong to one photo: add the others on their own."
        )
    with Yard.open(yard) as opened:
        ask_bars(opened)
        known = Known.of(opened)
        earlier = opened.slab(slab) if slab else None
    readings = earlier.surveys[0].thickness_readings_mm if earlier else ()
    # Without a log every slab is known by its tag, most of them with their thickness.
    by_tag = slab is None and not log
    asked = Lay(**lay).complete(thickness_known=bool(readings) or by_tag)
    if not asked.thickness and readings:
        asked = replace(asked, thickness=readings)
    if not by_tag:
        asked.request(known).setup()
    job = Job(yard, asked, known, log, species, order, slab, drawn, note, units, others, overrule_tag)
    outcomes = file_all(job, photos, workers)
    if {outcome.problem for outcome in outcomes} == {NO_TAG}:
        raise WrongUse(NO_TAG)
    if as_json:
        click.echo(json.dumps([outcome.as_dict() for outcome in outcomes]))
    else:
        for outcome in outcomes:
            click.echo(outcome.sentence(units))
        for message in (*reminders_of(outcomes), *_news_of_checks(yard, outcomes, units)):
            click.echo(message)
        failed = sum(outcome.problem is not None for outcome in outcomes)
        click.echo(f"{len(outcomes) - failed} of {len(outcomes)} photos entered." + (f" {failed} failed." if failed else ""))
    if any(outcome.problem is not None for outcome in outcomes):
        raise click.exceptions.Exit(1)


def _news_of_checks(yard: Path, outcomes, units: str) -> list[str]:
    """What the new photos of slabs that were photographed before say of their checks."""
    told = []
    with Yard.open(yard) as opened:
        for number in dict.fromkeys(outcome.slab for outcome in outcomes if outcome.slab is not None and not outcome.already):
            if len(opened.slab(number).surveys) > 1:
                told += [f"Slab {tag_of(number)}: {notice.message}" for notice in opened.checks.slab(number, units).notices]
    return told
