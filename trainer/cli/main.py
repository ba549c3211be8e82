"""The entry point: finds the command, loads its module, and turns errors into one sentence."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import click

from trainer import terminal
from trainer.cli import fault
from trainer.draw.text import wrapped
from trainer.errors import TrainerError
from trainer.reports.registry import REPORTS

# command: (module, its attribute, one line of help). A module is loaded when it is called. A
# REPORT is made from the registry of reports; one that is not named here stands at the end of its
# group.
REPORT = ("report", "", "")
# Under each heading the first commands are explained on the first page of help.
GROUPS: dict[str, dict[str, tuple[str, str, str]]] = {
    "Practise": {
        "demo": ("demo", "demo", "Try everything on invented data."),
        "today": ("days", "today", REPORTS["today"].help),
        "drill": ("drill", "drill", "Drill today's starts."),
        "app": ("app", "app", "Open the screens (also: no command at all)."),
        "run": ("runs", "run", "Play a whole piece; log the slips and where you went on."),
        "rehearse": (
            "runs",
            "rehearse",
            "Practise recovery: be interrupted, and go on from the next start.",
        ),
        "record": ("days", "record", "Record one attempt, for instance at a lesson."),
        "take-back": ("days", "take_back", "Take back a recorded attempt."),
        "instruments": ("hear", "instruments", "List the instruments that can hear a drill."),
        "hear": ("hear", "hear", "Hear a recorded attempt, and say what was played and why."),
        "play": ("play", "play", "Hear the opening of a start, or write it to a WAV file."),
        "settings": ("settings", "settings", "Minutes, days off, names of notes, words, colours."),
        "keys": ("keys", "keys", "The keys of all screens on one page."),
    },
    "Prepare": {
        "add": ("pieces", "add", "Read a score and propose where its phrases begin."),
        "starts": REPORT,
        "open": ("starts", "open_", "Open starts whose phrase has been learned."),
        "phrases": ("pieces", "phrases", "Show the proposed starts of a score; saves nothing."),
        "pieces": REPORT,
        "piece": ("pieces", "piece", "Rename a piece, move it in the list, remove it."),
        "prepare": ("starts", "prepare", "Correct the starts of a piece on its screen."),
        "start": ("starts", "start", "Show a start; add, move, remove, merge, split starts ..."),
        "look-alikes": REPORT,
        "close": ("starts", "close", "Close starts, so that they are not called."),
        "own": ("own", "own", REPORTS["own"].help),
        "mark": ("mark", "mark", "Put the start numbers into a copy of the score."),
        "page": ("pieces", "page", "Show the written music of a start."),
        "blocks": ("pieces", "blocks", "Show a phrase as blocked chords, hand by hand."),
        "picture": ("picture", "picture", "Engrave the bars of a start, into a file or here."),
        "recital": ("people", "recital", "List and set recitals."),
        "calendar": ("paper", "calendar_", "The way to the recital as a calendar file."),
    },
    "Look": {
        "map": ("pieces", "map_", "Show a piece and what holds in it."),
        "readiness": REPORT,
        "recovery": REPORT,
        "retention": ("days", "retention", REPORTS["retention"].help),
        "stages": REPORT,
        "last-days": REPORT,
        "forecasts": REPORT,
        "attempts": ("days", "attempts", REPORTS["attempts"].help),
        "slips": REPORT,
        "heard": REPORT,
    },
    "Teach": {
        "studio": ("lesson", "studio", "All students, by what each needs."),
        "lesson": ("lesson", "lesson", REPORTS["lesson"].help),
        "deck": ("decks", "deck", "Write a deck to a file, or import one."),
        "hand-out": ("decks", "hand_out", "Write all that a student needs into a folder."),
        "student": ("people", "student", "List, add and choose students."),
        "homework": ("lesson", "homework", REPORTS["homework"].help),
        "note": ("lesson", "note", "Write a note on a lesson, or list the notes."),
        "records": ("records", "records", "Carry students' records between computers."),
        "print": ("paper", "print_", "Make pages to print: sheet, recital, term, lesson."),
    },
    "Keep": {
        "backup": ("care", "backup", "Back up the database, and restore it."),
        "check": ("care", "check", "Check whether anything is wrong with the database."),
        "erase": ("care", "erase", "Erase a student for good."),
    },
}
for _report in REPORTS.values():
    if GROUPS[_report.group].setdefault(_report.name, REPORT) is REPORT:
        GROUPS[_report.group][_report.name] = ("report", "", _report.help)
EXPLAINED = 3  # commands under a heading, at the most
HELP_LINES = 24
HELP_WIDTH = 79
ABOUT = (
    "Begin a memorised piece anywhere: drills of its starting points, from memory.\n"
    "`trainer` alone opens the screens. `trainer COMMAND --help` explains a command."
)
COMMANDS = {name: entry for group in GROUPS.values() for name, entry in group.items()}


class Lazy(click.Group):
    """A group whose commands are imported only when they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in COMMANDS:
            return None
        module, attribute, _ = COMMANDS[cmd_name]
        loaded = import_module(f"trainer.cli.{module}")
        command = getattr(loaded, attribute) if attribute else loaded.command(cmd_name)
        assert isinstance(command, click.Command)
        return command

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """One screen: what the program is, then the commands by who needs them, the first of each
        group explained, the others named."""
        head = [*ABOUT.splitlines(), f"Usage: {ctx.command_path} [COMMAND] [--help | --version]"]
        pages = ([*head, *_listed(explained)] for explained in range(EXPLAINED, -1, -1))
        page = next(page for page in pages if len(page) <= HELP_LINES)
        formatter.write("\n".join(page) + "\n")


def _listed(explained: int) -> Iterator[str]:
    """The commands under their headings, so many of each explained."""
    margin = max(map(len, GROUPS)) + 2
    first = {title: list(group)[:explained] for title, group in GROUPS.items()}
    name_width = max((len(name) for names in first.values() for name in names), default=0)
    for title, group in GROUPS.items():
        told = [f"{name:{name_width}}  {group[name][2]}" for name in first[title]]
        if others := list(group)[explained:]:
            also = "also " if told else ""
            told += wrapped(f"{also}{', '.join(others)}", HELP_WIDTH - margin)
        yield from (f"{'' if at else title:{margin}}{line}" for at, line in enumerate(told))


@click.group(cls=Lazy, invoke_without_command=True, context_settings={"max_content_width": 88})
@click.version_option(package_name="begin-anywhere", message="%(version)s")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Begin a memorised piece anywhere: random-order drills of its starting points, and what
    is likely to hold at the recital.

    Without a command it opens the screens; `trainer demo` shows it on invented data. Every
    command has --help, and --json where it lists something.
    """
    if ctx.invoked_subcommand is None:
        from trainer.cli.app import app

        ctx.invoke(app)


def main() -> None:
    """Run the command line; a TrainerError becomes one sentence and exit code 1, a wrong word
    or option one sentence and exit code 2, a fault of the program one sentence and 70."""
    terminal.begin()
    for name in ("SIGTERM", "SIGHUP"):
        if number := getattr(signal, name, None):
            signal.signal(number, _told_to_end)
    with fault.told():
        _run()


def _run() -> None:
    try:
        cli.main(prog_name="trainer", standalone_mode=False)
        terminal.flush()  # what cannot be printed is found out here, not at the very end
    except TrainerError as error:
        _fail(str(error), 1)
    except click.exceptions.NoArgsIsHelpError as error:
        for line in error.format_message().splitlines():
            terminal.tell(line)
        sys.exit(error.exit_code)
    except click.ClickException as error:
        _fail(_usage(error), error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        _fail("Stopped; all that was recorded is kept.", 130)
    except BrokenPipeError:
        terminal.close_errors()
        sys.exit(141)
    except OSError as error:
        at = "read or written" if error.filename is not None else "printed"
        name = Path(str(error.filename)).name if error.filename is not None else "The answer"
        if error.filename is None:  # what waits is let go, or it would be tried once more
            terminal.let_go()
        _fail(f"{name} could not be {at}: {error.strerror}. All that was recorded is kept.", 1)
    except Exception as error:
        fault.keep(error)
        _fail(fault.sentence(error), fault.CODE)


def _told_to_end(number: int, _frame: object) -> None:
    """What is open is closed on the way out."""
    sys.exit(128 + number)


def _usage(error: click.ClickException) -> str:
    """What is wrong with the words that were typed, and where help is."""
    told = error.format_message().strip()
    told = told if told.endswith((".", "?", ")")) else f"{told}."
    context = error.ctx if isinstance(error, click.UsageError) else None
    return f"{told} Try `{context.command_path} --help`." if context else told


def _fail(sentence: str, code: int) -> None:
    terminal.tell(f"trainer: {sentence}")
    sys.exit(code)
