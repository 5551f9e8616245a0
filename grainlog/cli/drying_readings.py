"""`grainlog reading`: entering moisture, weight and warp of slabs, one at a time, in a walk along the stack, or by CSV."""

import json
import sys
from datetime import date
from pathlib import Path
from typing import Any

import click

from grainlog.cli.drying_options import (
    MASS,
    MOISTURE,
    SPOT,
    TEMPERATURE,
    plain,
    show_problems,
)
from grainlog.cli.options import DAY, json_option, units_option, yard_option
from grainlog.cli.tables import TAG
from grainlog.drying import format_moisture, parse_moisture
from grainlog.drying.finish import Warp
from grainlog.drying.reading import Reading
from grainlog.drying.weighing import Weighing
from grainlog.errors import WrongUse
from grainlog.units.mass import parse_mass
from grainlog.yard import SlabQuery, Yard
from grainlog.yard.drying_readings_file import read_readings
from grainlog.yard.readings import Entry, MoistureEntry, WarpEntry, WeighingEntry
from grainlog.yard.tags import tag_of

_METER = ("depth", "pinless", "core", "corrected", "temperature", "place")


@click.command()
@click.argument("slab", type=TAG, required=False)
@click.argument("moisture", type=MOISTURE, required=False, metavar="[PERCENT]")
@click.option("--on", "day", type=DAY, metavar="DAY", help="Day of the reading; today if left out.")
@click.option("--depth", type=SPOT, metavar="LENGTH", help="How deep the pins were, or the pinless field reaches.")
@click.option("--pinless", is_flag=True, help="The meter has no pins.")
@click.option("--core/--shell", default=None, help="Whether it is the core's; judged from the depth if left out.")
@click.option("--corrected/--uncorrected", default=None, help="Whether the meter was set to the species.")
@click.option("--temperature", type=TEMPERATURE, metavar="TEMPERATURE", help="Of the wood or the shed, as in 12C or 54F.")
@click.option("--place", default="", help="Where on the slab, in your own words.")
@click.option("--weight", type=MASS, metavar="WEIGHT", help="The whole slab on a scale, as in 82lb or 37kg.")
@click.option("--sample", type=(MASS, MASS), metavar="WET DRY", help="A cut section: weight when cut, and oven-dry.")
@click.option("--cup", type=SPOT, metavar="LENGTH", help="Hollow across the slab under a straight edge.")
@click.option("--bow", type=SPOT, metavar="LENGTH", help="Hollow along the slab under a string.")
@click.option("--twist", type=SPOT, metavar="LENGTH", help="How far one corner stands off a flat floor.")
@click.option("--note", default="", help="Anything to remember.")
@click.option("--file", "file", type=click.Path(path_type=Path, exists=True, dir_okay=False), help="A CSV of readings.")
@click.option("--keep-good", is_flag=True, help="Keep the good rows of a file even where others are not understood.")
@click.option("--log", help="Walk along the slabs of this log only.")
@click.option("--take-back", metavar="NAME", help="Take a reading back, by its name in the slab's drying (as m12).")
@yard_option
@units_option
@json_option
def reading(yard: Path, units: str, as_json: bool, **given: Any) -> None:
    """Enter how dry slabs are: grainlog reading SLAB PERCENT.

    Moisture is percent of the dry weight, as meters show it. Without a slab, on a terminal, it walks along the slabs and
    asks for each. A file needs columns "slab" and "day" and any of: moisture, depth, method, core, corrected, temperature,
    place, weight, wet, dry, cup, bow, twist, note; units in the cells or in the heading, as in "depth (mm)".
    """
    with Yard.open(yard) as opened:
        if given["take_back"]:
            entry = opened.drying.readings.take_back(given["take_back"])
            _answer(as_json, {"taken_back": given["take_back"], "slab": tag_of(entry.slab)}, f"Took back {given['take_back']}.")
        elif given["file"]:
            _from_file(opened, given["file"], given["keep_good"], as_json)
        elif given["slab"] is not None:
            entries = _entries(given)
            kept = opened.drying.readings.add(entries, date.today())
            said = f"Kept {', '.join(kept.names)} for slab {tag_of(given['slab'])}." if kept.new else "The yard has that already."
            _answer(as_json, plain(kept), said)
        elif _on_a_terminal():
            _walk(opened, given)
        else:
            raise WrongUse("Say which slab and what was read: grainlog reading 12 14%; or name a CSV with --file.")


def _entries(given: dict[str, Any]) -> list[Entry]:
    slab, day = given["slab"], given["day"] or date.today()
    found: list[Entry] = []
    if given["moisture"] is not None:
        method = "pinless" if given["pinless"] else "pin"
        found.append(MoistureEntry(slab, _reading(given, day, given["moisture"], method), note=given["note"]))
    elif any(given[name] for name in _METER):
        raise WrongUse("Depth, place and the like belong to a moisture; give it after the slab, as in 12 14%.")
    if given["sample"]:
        found.append(MoistureEntry.oven_dried(slab, day, *given["sample"], given["note"]))
    if given["weight"]:
        found.append(WeighingEntry(slab, Weighing(day, given["weight"]), given["note"]))
    warp = Warp(given["cup"], given["bow"], given["twist"])
    if warp.read:
        found.append(WarpEntry(slab, day, warp, given["note"]))
    if not found:
        raise WrongUse(f"Nothing was read of slab {tag_of(slab)}; give a moisture, --weight, --sample, --cup, --bow or --twist.")
    return found


def _reading(given: dict[str, Any], day: date, moisture: float, method: str) -> Reading:
    return Reading(
        day, moisture, method, given["depth"], given["core"], given["corrected"], given["temperature"], given["place"]
    )


def _from_file(opened: Yard, file: Path, keep_good: bool, as_json: bool) -> None:
    found = read_readings(file.read_bytes(), file.name, date.today())
    show_problems(found.problems, file.name, keep_good)
    kept = opened.drying.readings.add(found.entries, date.today())
    again = f"; {kept.already} were there already" if kept.already else ""
    said = f"Kept {kept.new} readings from {file.name}{again}."
    _answer(as_json, plain(kept) | {"problems": list(found.problems)}, said)


def _walk(opened: Yard, given: dict[str, Any]) -> None:
    """Ask for each slab in turn; each answer is kept at once, so that nothing is lost when the battery goes."""
    rows = opened.slabs(SlabQuery(log=given["log"]))
    if not rows:
        raise WrongUse("There is no such slab in the yard yet.")
    click.echo("Moisture in percent, or a weight as in 82lb, or both; Enter skips a slab, q ends.", err=True)
    entries = opened.drying.readings.of_all()
    count = 0
    for row in rows:
        last = [entry for entry in entries.get(row.number, []) if isinstance(entry, MoistureEntry)]
        before = f", last {format_moisture(last[-1].reading.moisture)} on {last[-1].reading.day}" if last else ""
        while True:
            question = f"slab {row.tag} ({row.species or 'species not said'}, {row.log} {row.order}{before})"
            answer = click.prompt(question, default="", show_default=False, err=True).strip()
            if answer.casefold() in ("", "q"):
                break
            try:
                kept = opened.drying.readings.add(_walked(given, row.number, answer), date.today())
            except WrongUse as wrong:
                click.echo(str(wrong), err=True)
                continue
            count += kept.new
            break
        if answer.casefold() == "q":
            break
    click.echo(f"Kept {count} readings.")


def _walked(given: dict[str, Any], slab: int, answer: str) -> list[Entry]:
    """What was typed for one slab: "14", "14 82lb", "82 lb"."""
    day = given["day"] or date.today()
    found: list[Entry] = []
    words = answer.replace(" lb", "lb").replace(" kg", "kg").replace(" %", "%").split()
    for word in words:
        if word[-1:].isalpha():
            found.append(WeighingEntry(slab, Weighing(day, parse_mass(word)), given["note"]))
        else:
            method = "pinless" if given["pinless"] else "pin"
            found.append(MoistureEntry(slab, _reading(given, day, parse_moisture(word), method), note=given["note"]))
    return found


def _answer(as_json: bool, data: dict[str, Any], sentence: str) -> None:
    click.echo(json.dumps(data) if as_json else sentence)


def _on_a_terminal() -> bool:
    return sys.stdin.isatty()
