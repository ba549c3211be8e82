"""A printed piece without a file, told in a few answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, NamedTuple

from trainer.score.on_paper import bars_of, on_paper, places
from trainer.ui.room import Room
from trainer.ui.screens.ask import AskScreen

if TYPE_CHECKING:
    from trainer.score.model import Score


class Question(NamedTuple):
    """`name` is the answer's, `text` stands there to begin with; an `optional` one may be empty."""

    name: str
    asks: str
    text: str = ""
    optional: bool = False


QUESTIONS = (
    Question("title", "What is the piece called?"),
    Question("bars", "How many bars has it? Do not count an upbeat before bar 1, nor repeats."),
    Question("meter", "Which metre? Such as 3/4 or 6/8.", "4/4"),
    Question(
        "pickup",
        "How much comes before bar 1, in parts of the metre: crotchets in 3/4, quavers in 6/8?"
        " Leave it empty if nothing does.",
        optional=True,
    ),
    Question(
        "starts",
        "Where do the phrases begin? Bars with commas between, such as 1,9,17,25:3; 25:3 is bar"
        " 25, beat 3.",
        "1",
    ),
    Question(
        "route",
        "In which order are the bars played? Such as 1-16 1-15 17-64. Leave it empty if straight"
        " through.",
        optional=True,
    ),
)


def _score(answers: Mapping[str, str]) -> Score:
    """The piece by what was answered so far. Raises TrainerError."""
    told = {name: answers[name] for name in ("pickup", "route") if name in answers}
    bars = bars_of(answers.get("bars", "1"))
    return on_paper(answers["title"], bars, answers.get("meter", "4/4"), **told)


def ask_on_paper(room: Room, then: Callable[[str], None]) -> None:
    """Ask for a printed piece, keep it, and go on with its deck's id. Esc goes back by one
    question, with its answer still there."""
    given: dict[str, str] = {}

    def ask(at: int) -> None:
        question = QUESTIONS[at]
        before = {one.name: given[one.name] for one in QUESTIONS[:at]}

        def check(text: str) -> None:
            score = _score({**before, question.name: text})
            if question.name == "starts":
                places(score, text)

        def answered(text: str | None) -> None:
            if text is None:
                if at:
                    ask(at - 1)
                return
            given[question.name] = text
            if at + 1 < len(QUESTIONS):
                ask(at + 1)
                return
            with room.minding():
                score = _score(given)
                piece = room.trainer.desk.pieces.add_on_paper(score, places(score, given["starts"]))
                then(piece.deck.id)

        title = f"A piece on paper ({at + 1} of {len(QUESTIONS)})"
        text = given.get(question.name, question.text)
        asks = f"{question.asks} Esc goes back by one question." if at else question.asks
        screen = AskScreen(title, asks, check, text=text, optional=question.optional)
        room.app.push_screen(screen, answered)

    ask(0)
