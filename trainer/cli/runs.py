"""Commands that play on: the run-through, going on after a slip, and the list of both."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from contextlib import closing, nullcontext
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trainer import terminal
from trainer.cli.common import (
    desk_options,
    open_desk,
    plain_ascii,
    say,
    say_of_clock,
    width,
)
from trainer.cli.lines import LOOK, Lines
from trainer.deck.edit import numbered
from trainer.errors import TrainerError
from trainer.practice.exercise import Act
from trainer.practice.run import Run
from trainer.practice.slip import Rehearsal, SlipCall, SlipState
from trainer.record.attempt import Judge
from trainer.reports.view import where
from trainer.score.cite import counted, place
from trainer.score.find import find

if TYPE_CHECKING:
    from trainer.deck.model import Piece
    from trainer.desk import Desk
    from trainer.desk.following import Following, Follows
    from trainer.listen.follow import Slip
    from trainer.reports.view import View

RUN_HELP = (
    "Play it all from memory. After a slip go on from the next start, never back to the top.",
    "Type a line for each slip, at once or at the end: s, or its bar and the start where you went "
    "on, such as 41:2 7, with a ? for what you do not know; w 41:2 7 says where the last slip "
    "was. An empty line means that you reached the end, q that you did not; u takes the last line "
    "back.",
)
RUN_HEARD = "The instrument hears the slips and the end; you can type them too."
RUN_SIGN = "On the instrument {}, three times, ends it."
LISTENS = "The instrument is connected and listening."
AWAY = "The instrument is not connected: type lines until it is back."
FAILED = "The playing cannot be followed any more: type lines."
SLIP_HELP = (
    "Begin at the start that is called. At Stop, go on from the next start at once.",
    "Then type Enter if you reached it, the number of the start that you reached instead, or - "
    "for none. u takes the last one back, q ends.",
)
teacher_option = click.option("--teacher", is_flag=True, help="The teacher marks each attempt.")


@click.command()
@click.argument("piece", default="")
@teacher_option
@click.option("--instrument", default="", help="What listens this time; see `instruments`.")
@click.option("--from", "recording", type=click.Path(path_type=Path),
              help="A recorded MIDI file of the performance; it counts as played now.")  # fmt: skip
@desk_options
def run(
    piece: str,
    teacher: bool,
    instrument: str,
    recording: Path | None,
    db: Path | None,
    student: str,
) -> None:
    """A run-through of a PIECE: play it all, and tell the slips, line by line. With an instrument
    set, or named here, the slips and the end are heard."""
    if recording and (teacher or instrument):
        raise click.UsageError("--from hears the file: leave out --teacher and --instrument.")
    with open_desk(db) as desk:
        view = desk.views.of(desk.students.find(student))
        found = view.pieces[desk.pieces.find(piece).id]
        say_of_clock(desk, view)
        if recording:
            _recorded(desk, view, found, recording)
            return
        made = desk.exercises.run(view, found.deck.id, judge=_judge(teacher))
        ear = None if teacher else _following(desk, view, found, instrument)
        with closing(ear) if ear else nullcontext():
            say([f"Run-through: {found.deck.title}.", *RUN_HELP, *_by_ear(ear)])
            told = _Told(ear)
            while not made.over:
                try:
                    made = told.next(desk, found, made)
                except TrainerError as error:
                    say(str(error))
            _sum_up(made)
            if ear:
                told.afterwards(desk, made, partial(_music, ear, found, view))


def _following(desk: Desk, view: View, piece: Piece, instrument: str) -> Following | None:
    """What hears the run-through; a piece without notes is told line by line."""
    try:
        return desk.instruments.following(view, piece, instrument)
    except TrainerError as error:
        if piece.score.notes:
            raise
        say(str(error))
        return None


def _recorded(desk: Desk, view: View, piece: Piece, file: Path) -> None:
    """A run-through from a recorded file."""
    before = desk.exercises.run(view, piece.deck.id)
    recording = desk.instruments.recording(view, piece, file)
    made, ear = recording.hear(desk.exercises, before), recording.ear
    say([f"Run-through: {piece.deck.title}, from {file.name}.", *_heard(piece, before, made)])
    say_doubts(piece, ear.perhaps)
    _sum_up(made)
    if terminal.is_typed():
        _Told(ear).afterwards(desk, made, partial(_music, ear, piece, view))


def _by_ear(ear: Following | None) -> list[str]:
    """What an instrument does in a run-through, in words."""
    if ear is None:
        return []
    return [RUN_HEARD, *([RUN_SIGN.format(ear.sign)] if ear.sign else [])]


class _Told:
    """What comes of a run-through line by line, and from an instrument in between."""

    def __init__(self, ear: Following | None) -> None:
        self._ear = ear
        self._lines = Lines() if ear else None
        self._said = ""  # how the instrument stands, as it was said last
        self._perhaps = 0  # how many doubtful slips were told

    def next(self, desk: Desk, piece: Piece, made: Run) -> Run:
        """The run after the next line, or after the next thing that was heard."""
        ear, lines = self._ear, self._lines
        if ear is None or lines is None:
            return _run_on(desk, piece, made, _line(end="q"), ear)
        while (typed := lines.typed(LOOK)) is None:
            seen = ear.look()
            self._stands(seen)
            after = ear.log(desk.exercises, made, seen)
            self._doubts(piece, ear)
            if after is not made:
                say(_heard(piece, made, after))
                return after
        after = _run_on(desk, piece, made, typed.strip().lower() if typed else "q", ear)
        if after.over:
            say(_heard(piece, made, after))
            self._doubts(piece, ear)
        return after

    def afterwards(self, desk: Desk, made: Run, show: Callable[[], None]) -> Run:
        """What was heard may be looked at, and what was not sure may be said to be a slip."""
        ear, lines = self._ear, self._lines
        if ear is None or lines is None or not ear.heard:
            return made
        while True:
            sure = " y: the last doubtful one was a slip." if ear.perhaps else ""
            sign = f", or {ear.sign}," if ear.sign else ""
            say(f"v shows what was heard, on the music.{sure} Enter{sign} ends.")
            while (typed := lines.typed(LOOK)) is None:
                if ear.look().sign in ("next", "stop"):
                    return made
            line = typed.strip().lower()
            if line == "v":
                show()
            elif line == "y" and ear.perhaps:
                made = ear.agree(desk.exercises, made, ear.perhaps[-1])
                say("Logged.")
            else:
                return made

    def _stands(self, seen: Follows) -> None:
        """Say when the instrument comes, goes, or cannot be followed any more."""
        now = FAILED if seen.failed else LISTENS if seen.connected else AWAY
        if now != self._said:
            self._said = now
            say(now)

    def _doubts(self, piece: Piece, ear: Following) -> None:
        """What may have been a slip, once each."""
        say_doubts(piece, ear.perhaps[self._perhaps :], " Type y if it was one.")
        self._perhaps = len(ear.perhaps)


def say_doubts(piece: Piece, slips: Sequence[Slip], what_to_do: str = "") -> None:
    """What may have been a slip, and what a line says of it."""
    for slip in slips:
        at = place(piece.score, slip.broke_at)
        say(f"Perhaps a slip, at {at}; it is not logged.{what_to_do}")


def _heard(piece: Piece, before: Run, made: Run) -> list[str]:
    """What was heard between two moments of a run, in words."""
    told = []
    for number, slip in enumerate(made.slips[len(before.slips) :], len(before.slips) + 1):
        at = "" if slip.broke_at is None else f" at {place(piece.score, slip.broke_at)}"
        start = piece.deck.start(slip.elsewhere).number if slip.elsewhere else None
        on = f", went on at start {start}" if start else ""
        told.append(f"Heard: slip {number}{at}{on}.")
    for one in made.hesitations[len(before.hesitations) :]:
        at = "" if one.broke_at is None else f" at {place(piece.score, one.broke_at)}"
        told.append(f"Heard: hesitated{at}.")
    return told


def _music(ear: Following, piece: Piece, view: View) -> None:
    """What was heard of a run-through, on the written music, phrase by phrase."""
    from trainer.draw.heard import heard_page
    from trainer.draw.layout import Style

    look = Style(width(), view.names, plain_ascii())
    for phrase in ear.phrases():
        start = piece.deck.start(phrase.asked)
        say(["", f"Start {start.number}, {where(piece, start, view.words)}:"])
        say(list(heard_page(phrase, piece, look).lines))


def _run_on(desk: Desk, piece: Piece, made: Run, line: str, ear: Following | None) -> Run:
    """What one line does."""
    plain = {"": Act.END, "q": Act.STOP, "u": Act.UNDO, "s": Act.SLIP}
    if line in ("", "q") and ear:
        return ear.finish(desk.exercises, made, plain[line])
    if line == "y" and ear and ear.perhaps:
        return ear.agree(desk.exercises, made, ear.perhaps[-1])
    if line in plain:
        return desk.exercises.act(made, plain[line])
    act, words = Act.SLIP, line.split()
    if words[0] == "w":
        act, words = Act.TELL, words[1:]
        if not made.allows(act):
            raise TrainerError("There is no slip yet; type s to log one.")
    if len(words) != 2:
        raise TrainerError(
            "Write a bar and a start, such as 41:2 7, with ? for what you do not know."
        )
    broke_at = None if words[0] == "?" else find(piece.score, words[0])
    resumed = "" if words[1] == "?" else numbered(piece.deck, _number(words[1])).id
    return desk.exercises.act(made, act, broke_at=broke_at, start=resumed)


def _sum_up(made: Run) -> None:
    count = len(made.slips)
    slips = "No slip." if not count else f"{count} slips." if count > 1 else "One slip."
    say(slips if made.end else f"The end was not reached. {slips}")


def _number(text: str) -> int:
    if not text.isdecimal() or len(text) > 5:
        raise TrainerError(f"{text!r} is not a start; give its number, or a ? if you do not know.")
    return int(text)


@click.command()
@click.argument("piece", default="")
@click.option("--times", type=click.IntRange(1, 50), default=5, show_default=True)
@teacher_option
@desk_options
def rehearse(piece: str, times: int, teacher: bool, db: Path | None, student: str) -> None:
    """Practise recovery in a PIECE: begin at the start that is called; when you are interrupted, go
    on from the next start, and say which one you reached."""
    with open_desk(db) as desk:
        view = desk.views.of(desk.students.find(student))
        found = view.pieces[desk.pieces.find(piece).id]
        say_of_clock(desk, view)
        made = desk.exercises.rehearsal(view, found.deck.id, times=times, judge=_judge(teacher))
        say(SLIP_HELP)
        while not made.over:
            made = _called(desk, found, made)
        reached = sum(one.outcome.value == "through" for one in made.tries)
        say(f"The next start was reached {reached} of {counted(len(made.tries), 'time')}.")


def _called(desk: Desk, piece: Piece, made: Rehearsal) -> Rehearsal:
    """One call, up to its record."""
    call = made.call
    assert call is not None
    say(["", f"Start {call.number}, {call.place}. Enter, and play."])
    line = _line(end="q")
    if line in ("q", "u"):
        return desk.exercises.act(made, Act.STOP if line == "q" else Act.UNDO)
    made = desk.exercises.act(made, Act.BEGIN)
    if terminal.is_typed():
        time.sleep(call.wait)
    made = desk.exercises.act(made, Act.INTERRUPT)
    terminal.bell()
    say("Stop. Go on from the next start. Which one did you reach?")
    while made.state is SlipState.INTERRUPTED:
        try:
            made = _reached(desk, piece, made, call, _line(end="q"))
        except TrainerError as error:
            say(str(error))
    return made


def _reached(desk: Desk, piece: Piece, made: Rehearsal, call: SlipCall, line: str) -> Rehearsal:
    plain = {"": Act.NEXT, "-": Act.NONE, "q": Act.STOP}
    if line in plain:
        return desk.exercises.act(made, plain[line])
    start = numbered(piece.deck, _number(line)).id
    if start in call.following[:1]:
        return desk.exercises.act(made, Act.NEXT)
    chosen = desk.exercises.act(made, Act.OTHER)
    return desk.exercises.act(chosen, Act.CHOOSE, start=start)


def _judge(teacher: bool) -> Judge:
    return "teacher" if teacher else "self"


def _line(end: str) -> str:
    """One line that was typed; `end` where the input has ended."""
    typed = terminal.line()
    return end if typed is None else typed.strip().lower()
