"""The command line: reads what was asked, calls the rooms, writes the answer. No arithmetic of its own."""

import os
import re
import sys
from collections.abc import Sequence
from importlib import import_module

import click

from grainlog import __version__
from grainlog.errors import GrainlogError

_WHOLE = re.compile(r"\d+")
_FRACTION = re.compile(r"\d+/\d+\s*(in|inch|inches|\"|″)", re.IGNORECASE)


#: Commands in the order in which a person needs them: module and name there, loaded when one is asked for.
COMMANDS = {
    "cards": ("cards_command", "cards_command"),
    "start": ("yard_commands", "start"),
    "bars": ("yard_commands", "bars"),
    "camera": ("camera_command", "camera_command"),
    "tags": ("tag_commands", "tags"),
    "measure": ("survey_commands", "measure"),
    "add": ("survey_commands", "add"),
    "list": ("yard_commands", "list_slabs"),
    "show": ("yard_commands", "show"),
    "find": ("find_commands", "find"),
    "pair": ("find_commands", "pair"),
    "mark": ("fit_marks_command", "mark"),
    "checks": ("check_commands", "checks"),
    "running": ("check_commands", "running"),
    "look": ("check_commands", "look"),
    "reading": ("drying_readings", "reading"),
    "drying": ("drying_commands", "drying"),
    "ready": ("drying_commands", "ready"),
    "sawn": ("drying_commands", "sawn"),
    "shed": ("drying_wood_commands", "shed"),
    "species": ("drying_wood_commands", "species"),
    "allowances": ("drying_wood_commands", "allowances"),
    "insects": ("drying_commands", "insects"),
    "plan": ("plan_commands", "plan"),
    "haul": ("haul_commands", "haul"),
    "share": ("haul_share_command", "share"),
    "log": ("haul_commands", "log_command"),
    "piece": ("haul_commands", "piece"),
    "status": ("life_commands", "status"),
    "place": ("life_commands", "place"),
    "restack": ("life_commands", "restack"),
    "work": ("life_commands", "work"),
    "note": ("life_commands", "note"),
    "cut": ("life_cut_commands", "cut"),
    "flatten": ("life_cut_commands", "flatten"),
    "history": ("life_commands", "history"),
    "serve": ("serve_command", "serve"),
    "misfiled": ("tag_commands", "misfiled"),
    "remove": ("yard_commands", "remove"),
    "stocktake": ("yard_commands", "stocktake"),
}


class InOrder(click.Group):
    """A group that keeps the order of `COMMANDS` and loads only the command that is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in order."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        """The command of that name, so that looking up a slab does not wait for the image libraries."""
        if name not in COMMANDS:
            return None
        module, attribute = COMMANDS[name]
        return getattr(import_module(f"grainlog.cli.{module}"), attribute)


@click.group(cls=InOrder, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="grainlog")
def grainlog() -> None:
    """Photos of live-edge slabs beside printed scale cards become measured, dated entries.

    Print the cards, start a yard, lay two to four cards flat beside or on the slab, take the photo, add it.
    """


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and leave with its exit code: 0 done, 1 the work failed, 2 wrong use, 130 interrupted."""
    try:
        words = _joined(sys.argv[1:] if arguments is None else arguments)
        # Outside standalone mode click hands an exit code back instead of leaving with it.
        code = grainlog.main(args=words, prog_name="grainlog", standalone_mode=False)
        sys.exit(code if isinstance(code, int) else 0)
    except click.Abort:
        click.echo("Stopped.", err=True)
        sys.exit(130)
    except click.ClickException as wrong:
        wrong.show()
        sys.exit(wrong.exit_code)
    except GrainlogError as failed:
        click.echo(str(failed), err=True)
        sys.exit(failed.exit_code)
    except KeyboardInterrupt:
        click.echo("Stopped.", err=True)
        sys.exit(130)
    except BrokenPipeError:
        # The reader (a pager, head) has seen enough; nothing more may be written at shutdown either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)


def _joined(arguments: Sequence[str]) -> list[str]:
    """Let `--thickness 2 1/2in` stand as people write it: a whole number and a fraction after an option are one value."""
    out: list[str] = []
    for word in arguments:
        after_option = len(out) > 1 and out[-2].startswith("--") and _WHOLE.fullmatch(out[-1])
        if after_option and _FRACTION.fullmatch(word):
            out[-1] = f"{out[-1]} {word}"
        else:
            out.append(word)
    return out
