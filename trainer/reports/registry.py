"""The reports there are. To add one, write a function from a view to a document in a module of
its own and add a line to REPORTS: the command with its help, `--json`, the reader screen, the list
of all that can be done and print take it from here.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    from trainer.document.model import Document
    from trainer.reports.view import View

Audience = Literal["all", "teacher"]  # a teacher's reports are offered once there are two students
Group = Literal["Practise", "Prepare", "Look", "Teach"]  # of the help of all commands


class Report(NamedTuple):
    """A report: its name as it is typed, one line of help, and its function as "module.function" in
    this room. It is loaded when it is called. One that is of `one_piece` needs a PIECE where there
    are several; one that is `of_all` takes none."""

    name: str
    help: str
    place: str
    group: Group = "Look"
    audience: Audience = "all"
    one_piece: bool = False
    of_all: bool = False

    def __call__(self, view: View, deck: str | None = None) -> Document:
        module, _, function = self.place.partition(".")
        made: Document = getattr(import_module(f"trainer.reports.{module}"), function)(view, deck)
        return made

    @property
    def title(self) -> str:
        """ "Last-days"."""
        return self.name.capitalize()


REPORTS: dict[str, Report] = {
    report.name: report
    for report in (
        Report("today", "What to drill today, and why.", "today.report", "Practise"),
        Report("starts", "List the starts of a piece, and why each is there.", "starts.report",
               "Prepare", one_piece=True),
        Report("pieces", "List the pieces.", "pieces.report", "Prepare", of_all=True),
        Report("look-alikes", "Which starts are easily confused, and how.", "lookalikes.report",
               "Prepare", one_piece=True),
        Report("own", "One student's own fingering, words, tempo and starts.", "own.report",
               "Prepare"),
        Report("readiness", "How ready the pieces are for the next recital.", "readiness.report"),
        Report("recovery", "If memory fails: where to go on.", "readiness.recovery_report"),
        Report("retention", "What holds, phrase by phrase.", "retention.report"),
        Report("stages", "The stages on the way to the recital.", "countdown.stages", of_all=True),
        Report("last-days", "The last two weeks before the recital.", "countdown.last_days",
               of_all=True),
        Report("forecasts", "How accurate the forecasts have been.", "forecasts.report"),
        Report("attempts", "The log of all attempts.", "attempts.report"),
        Report("slips", "The slips of run-throughs and rehearsals.", "slips.report"),
        Report("heard", "What the instrument heard beside what you marked.", "heard.report"),
        Report("homework", "What the teacher asks for until the next lesson.",
               "homework.report", "Teach"),
        Report("family", "A page for the family that goes with what is handed out.",
               "family.report", "Teach", "teacher"),
        Report("lesson", "Before a lesson: what is weak, and one thing to try.",
               "lesson_page.report", "Teach", "teacher"),
        Report("term", "For the family: what was practised, and what holds.", "term.report",
               "Teach", "teacher"),
    )
}  # fmt: skip
