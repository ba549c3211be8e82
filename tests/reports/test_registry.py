"""The registry of reports: what stands in it is reached from everywhere, without another line."""

from __future__ import annotations

from pathlib import Path

import click
import pytest

from tests.pieces import named
from tests.ui.stage import opened, play
from tests.ui.test_sizes import two_students
from trainer.cli import report as commands
from trainer.cli.main import COMMANDS, Lazy, cli
from trainer.cli.paper import print_
from trainer.document.data import as_data
from trainer.document.model import checked
from trainer.paper.written import written
from trainer.reports.registry import REPORTS
from trainer.ui.screens.map import MapScreen
from trainer.ui.screens.more import found
from trainer.ui.screens.table import ReportReader


@pytest.mark.parametrize("name", list(REPORTS))
def test_each_has_a_command_with_help_and_json_and_can_be_printed(name: str) -> None:
    assert isinstance(cli, Lazy)
    command = cli.get_command(click.Context(cli), name)
    assert command is not None
    assert command.help
    assert "--json" in {option for param in command.params for option in param.opts}
    assert COMMANDS[name][2]
    (choice,) = [p for p in print_.commands["report"].params if p.name == "name"]
    assert isinstance(choice.type, click.Choice)
    assert name in choice.type.choices


@pytest.mark.parametrize("name", [r.name for r in REPORTS.values() if r.audience == "all"])
def test_each_is_found_by_typing(name: str) -> None:
    assert f"today.report {name}" in {key.id for key in found(name, lambda _: True)}


def test_a_teachers_report_waits_for_the_second_student() -> None:
    known = {key.id for key in found("lesson", lambda key: key.id != "today.lesson")}
    assert "today.report lesson" not in known


def test_each_can_be_read_on_the_one_screen_as_data_and_on_paper(tmp_path: Path) -> None:
    """With one student and several, and the words that stand on the screen are the report's."""

    async def scene() -> None:
        async with opened(two_students(tmp_path)) as stage:
            view = stage.app.view
            for name, report in REPORTS.items():
                deck = next(iter(view.decks))
                made = checked(report(view, deck))
                assert as_data(made)["report"] == made.name
                assert made.title.split(";")[0] in written(made).replace("&#x27;", "'")
                stage.app.push_screen(ReportReader(name, deck))
                await stage.settle()
                assert made.title.split()[0] in stage.text
                await stage.press("escape")

    play(scene)


def test_the_rows_are_a_list_and_enter_opens_the_marked_one(tmp_path: Path) -> None:
    """A start is shown on its map; a click marks a row, a second one opens it."""

    async def scene() -> None:
        async with opened(two_students(tmp_path)) as stage:
            rows = [row["id"] for row in named(REPORTS["today"](stage.app.view))]
            assert len(rows) > 2
            stage.app.push_screen(ReportReader("today"))
            await stage.settle()
            await stage.press("down", "down", "up", "enter")
            assert isinstance(stage.app.screen, MapScreen)
            assert stage.app.screen.start.id == rows[1]
            await stage.press("escape")
            assert stage.room == "ReportReader"

    play(scene)


def test_a_report_that_is_added_is_a_command_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    new = REPORTS["pieces"]._replace(name="new", help="Something new.", of_all=False)
    monkeypatch.setitem(REPORTS, "new", new)
    made = commands.command("new")
    assert made.help == "Something new; for one PIECE or for all."
    assert next(param.name for param in made.params) == "piece"
