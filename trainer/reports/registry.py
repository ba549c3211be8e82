"""The reports there are. To add one, write a function from a view to a document in a module of
its own and add a line to REPORTS: the command line and the screens take it from here."""

from __future__ import annotations

from collections.abc import Callable

from trainer.document.model import Document
from trainer.reports import (
    attempts,
    countdown,
    forecasts,
    heard,
    lesson_page,
    lookalikes,
    own,
    pieces,
    readiness,
    retention,
    slips,
    starts,
    today,
)
from trainer.reports.view import View

Report = Callable[[View, str | None], Document]  # the deck's id, or None for all pieces

REPORTS: dict[str, Report] = {
    "today": today.report,
    "retention": retention.report,
    "starts": starts.report,
    "own": own.report,
    "pieces": pieces.report,
    "attempts": attempts.report,
    "look-alikes": lookalikes.report,
    "readiness": readiness.report,
    "recovery": readiness.recovery_report,
    "stages": countdown.stages,
    "last days": countdown.last_days,
    "slips": slips.report,
    "forecasts": forecasts.report,
    "heard": heard.report,
    "lesson": lesson_page.report,
}
