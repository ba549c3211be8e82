"""How accurate the forecasts have been: made before each attempt, then compared with it."""

from __future__ import annotations

from trainer.document.model import Cell, Document, Table, columns, listed
from trainer.draw.words import counted, percent
from trainer.memory.calibration import Score as Rightness
from trainer.memory.calibration import forecasts, score
from trainer.record.people import Level
from trainer.reports.view import View

COLUMNS = ("foretold", "tries", "mean_forecast", "held")
HEADS = {"foretold": "forecast", "tries": "attempts", "mean_forecast": "average"}


def report(view: View, deck: str | None = None) -> Document:
    """The forecasts of one student in tenths, each beside the share that held."""
    tries = [one for one in view.tries if deck in (None, one.attempt.deck)]
    made = forecasts(tries)
    found = score(made)
    rows: list[tuple[Cell, ...]] = []
    for tenth, one in enumerate(found.bins if found else ()):
        if one.count:
            held = percent(one.share) if one.count >= 3 else f"{round(one.share * one.count)}"
            rows.append((f"{10 * tenth}-{10 * tenth + 10}%", one.count, percent(one.mean), held))
    return listed(
        "forecasts",
        f"How accurate the forecasts for {view.student.name} have been",
        Table(columns(*COLUMNS, figures=COLUMNS[1:], heads=HEADS), tuple(rows)),
        _notes(found, view.student.level),
    )


def _notes(found: Rightness | None, level: Level) -> tuple[str, ...]:
    """How right they were, in words; for the advanced with the measures of forecasting."""
    if found is None:
        return ("No forecast to compare yet: that takes a second cold attempt at a start.",)
    measures = f"Brier {found.brier:.3f}, log loss {found.loss:.3f}"
    measures += f", skill {found.skill:.2f}" if found.skill is not None else ""
    told = f" ({measures})" if level == "advanced" else ""
    notes = [
        f"{counted(found.count, 'forecast')}: off by {100 * found.error:.1f} percentage points "
        f"on average{told}."
    ]
    if not found.telling:
        notes.append("That is too few to draw conclusions from.")
    return tuple(notes)
