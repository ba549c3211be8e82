"""A report to listen to: a sentence a row, bars and days in full, no rules."""

import re
from pathlib import Path

import pytest

from tests.ui.stage import small_desk
from trainer.document.lines import as_speech
from trainer.document.words import in_full
from trainer.reports.registry import REPORTS


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Start 7, b. 41.", ["Start 7, bar 41."]),
        ("It returns in bb. 9-16. Begin!", ["It returns in bars 9 to 16.", "Begin!"]),
        ("m. 3, beat 2", ["measure 3, beat 2"]),
        ("M. K. played on 1 Dec. Well.", ["M. K. played on 1 December.", "Well."]),
        ("─────  ── ────", []),
        ("", []),
    ],
)
def test_bars_and_days_are_said_in_full(text: str, said: list[str]) -> None:
    assert in_full(text) == said


def test_no_report_has_a_short_form_or_a_rule(tmp_path: Path) -> None:
    desk = small_desk(tmp_path)
    view = desk.views.of(desk.students.find())
    deck = next(iter(view.decks))
    for name, report in REPORTS.items():
        for row in as_speech(report(view, deck)):
            assert not re.search(r"\bbb?\. \d|─|\d (Jan|Feb|Mar|Dec)\b", row), name
            assert not re.search(r"[a-z]\. [A-Z]", row), name
