"""`grainlog cards`: write the scale cards to print, and their pictures for programs."""

import json
from pathlib import Path

import click

from grainlog.sheets.cards import ALL_CARDS, read_card_numbers, write_cards
from grainlog.sheets.paper import PAPERS


@click.command("cards")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--paper", type=click.Choice([*PAPERS, "both"]), default="both", show_default=True, help="Paper in your printer."
)
@click.option("--cards", "numbers", metavar="NUMBERS", help="Which cards, as in 0-3 or 0,4; all ten if left out.")
@click.option(
    "--png/--no-png", default=True, show_default=True, help="Also pictures, card-K.png, and their geometry, cards.json."
)
@click.option("--json", "as_json", is_flag=True, help="Print what was written as JSON.")
def cards_command(folder: Path, paper: str, numbers: str | None, png: bool, as_json: bool) -> None:
    """Write the scale cards into FOLDER as true-size PDF, one card a page."""
    cards = ALL_CARDS if numbers is None else read_card_numbers(numbers)
    papers = tuple(PAPERS) if paper == "both" else (paper,)
    written = write_cards(folder, cards, papers, png)
    if as_json:
        click.echo(json.dumps({"folder": str(folder), "cards": list(cards), "files": [file.name for file in written]}))
        return
    for file in written:
        click.echo(str(file))
    click.echo("Print at 100 %, never 'fit to page'; then hold a ruler to the two 100 mm bars and tell grainlog.")
