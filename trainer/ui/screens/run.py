"""Run-through: the whole piece from memory; one key at a slip, its place then or afterwards.

With an instrument that hears it, the slips and the end log themselves; the letters work as ever.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from textual.app import ComposeResult

from trainer.draw.words import counted, joined
from trainer.practice.exercise import Act
from trainer.practice.run import Run, is_told
from trainer.record.attempt import Attempt
from trainer.score.cite import place
from trainer.score.find import find
from trainer.ui.hearing import RunByEar
from trainer.ui.keys import bindings
from trainer.ui.room import Room
from trainer.ui.widgets.rows import ListRow, Rows
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said, wrapped

if TYPE_CHECKING:
    from trainer.deck.model import Piece
    from trainer.desk.following import Follows
    from trainer.listen.follow import Slip

UNKNOWN = "unknown"
TOLD = (
    "After a slip press s and go on from the next start, never back to the top. Press Enter when "
    "you reach the end."
)
PERHAPS = "Perhaps means that the instrument is not sure: press y if the marked one was a slip."
HEARD = (
    "After a slip go on from the next start, never back to the top. The instrument hears slips and "
    "the end; s and Enter mark them too."
)


class RunScreen(Room):
    ROOM = "run"
    BINDINGS = bindings("run")
    DEFAULT_CSS = """
    RunScreen > #about { height: auto; padding: 1 2 0 2; }
    RunScreen > #slips { padding: 0 2; }
    """

    def __init__(self, run: Run) -> None:
        super().__init__()
        self.run_through = run
        self._at = -1  # the slip that is marked, from 0
        self._by_ear: RunByEar | None = None

    def on_mount(self) -> None:
        if self.run_through.judge == "self":
            self._by_ear = RunByEar(self, self._piece, self._went)
            self._by_ear.open()
        self.say_of_clock()

    def on_unmount(self) -> None:
        if self._by_ear:
            self._by_ear.close()

    def body(self) -> ComposeResult:
        yield Sheet("about")
        yield Rows("slips")

    @property
    def _piece(self) -> Piece:
        return self.trainer.view.pieces[self.run_through.deck.id]

    def draw(self) -> None:
        run = self.run_through
        self.show_title("Run-through", run.deck.title)
        self.show_strip()
        self.sheet("about").show(self._head(run))
        told = [*map(self._told, run.slips), *map(self._told, self._perhaps)]
        lines = [ListRow(at, [self._line_of(text, at)]) for at, text in enumerate(told)]
        self.query_one(Rows).show(lines, self._at)

    def _head(self, run: Run) -> Iterator[Line]:
        width = self.room[0]
        if not run.over:
            yield from wrapped("Play it all from memory.", width, "bold")
            yield from wrapped(HEARD if self._line else TOLD, width)
            if self._by_ear and self._by_ear.sign:
                yield from wrapped(
                    f"{self._by_ear.sign.capitalize()}, three times, ends it.", width
                )
            yield ""
            if self._line:
                yield row(ink(self._line, "$accent"))
            yield ink(f"{counted(len(run.slips), 'slip')} so far." if run.slips else "No slip yet.")
        else:
            told = counted(len(run.slips), "slip") if run.slips else "Through, without a slip"
            yield ink(f"{told}." if run.end else f"Not to the end. {told}.", "bold")
            if self._waited:
                yield from wrapped(self._waited, width)
            if self._perhaps:
                yield from wrapped(PERHAPS, width)
            if any(not is_told(slip) for slip in run.slips):
                yield from wrapped("Press w to say where the marked slip was, if you know.", width)
            sign = self._by_ear.sign if self._by_ear else ""
            told = f", or {sign}," if sign else ""
            yield row(ink("Enter", "bold $accent"), ink(f"{told} goes back to Today."))
        yield ""

    def _line_of(self, text: str, at: int) -> Line:
        here = at == self._at
        head = ink(f"{'>' if here else ' '} {at + 1:>2}  ", "bold $accent" if here else "")
        return row(head, said(text, "bold $accent" if here else ""))

    def _told(self, slip: Attempt | Slip) -> str:
        """A slip in words: "b. 41, beat 2; went on at start 7"; "perhaps, at b. 40"."""
        if not isinstance(slip, Attempt):
            return f"perhaps, at {self._place(slip.broke_at)}"
        numbers = {start.id: start.number for start in self._piece.deck.starts}
        parts = []
        if slip.broke_at is not None:
            parts.append(self._place(slip.broke_at))
        if slip.elsewhere in numbers:
            parts.append(f"went on at start {numbers[slip.elsewhere]}")
        return "; ".join(parts) or "place not given"

    def _place(self, at: Fraction) -> str:
        return place(self._piece.score, at, words=self.trainer.view.words)

    @property
    def _waited(self) -> str:
        """The hesitations in a sentence; "" where there was none."""
        places = [self._place(one.broke_at or Fraction(0)) for one in self.run_through.hesitations]
        return f"Hesitated at {joined(places)}." if places else ""

    @property
    def _perhaps(self) -> tuple[Slip, ...]:
        """What may have been slips."""
        ear = self._by_ear.ear if self._by_ear else None
        return ear.perhaps if ear else ()

    # What is heard

    @property
    def _line(self) -> str:
        """How the instrument hears it, "" where none does."""
        return self._by_ear.line if self._by_ear else ""

    def _went(self, seen: Follows) -> None:
        """The playing has gone on: what is certain is logged."""
        ear = self._by_ear.ear if self._by_ear else None
        if self.run_through.over:
            if seen.sign in ("next", "stop"):
                self.dismiss(None)
        elif ear is not None:
            self._change(lambda run: ear.log(self.trainer.desk.exercises, run, seen))

    def _finish(self, act: Act) -> None:
        """The end, told by a key."""
        ear = self._by_ear.ear if self._by_ear else None
        if ear is None:
            self._do(act)
        else:
            self._change(lambda run: ear.finish(self.trainer.desk.exercises, run, act))

    # What is done

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        run = self.run_through
        does = {
            "slip": run.allows(Act.SLIP),
            "tell": run.allows(Act.TELL) and self._at < len(run.slips),
            "agree": run.allows(Act.SLIP) and self._marked is not None,
            "heard": run.over and self._by_ear is not None and self._by_ear.followed,
            "undo": run.allows(Act.UNDO),
            "move": len(run.slips) + len(self._perhaps) > 1,
        }.get(action, True)
        return does and super().check_action(action, parameters)

    def action_slip(self) -> None:
        self._do(Act.SLIP)

    def action_undo(self) -> None:
        self._do(Act.UNDO)

    def action_done(self) -> None:
        """The end was reached; afterwards, back to the day."""
        if self.run_through.over:
            self.dismiss(None)
        else:
            self._finish(Act.END)

    def action_stop(self) -> None:
        if self.run_through.over:
            self.dismiss(None)
        else:
            self._finish(Act.STOP)

    @property
    def _marked(self) -> Slip | None:
        """The marked line, if it is one that is not sure."""
        perhaps, at = self._perhaps, self._at - len(self.run_through.slips)
        return perhaps[at] if 0 <= at < len(perhaps) else None

    def action_agree(self) -> None:
        """What was not sure was a slip."""
        ear, slip = self._by_ear.ear if self._by_ear else None, self._marked
        if ear is not None and slip is not None:
            self._change(lambda run: ear.agree(self.trainer.desk.exercises, run, slip))

    def action_heard(self) -> None:
        """What was heard, on the written music."""
        from trainer.ui.screens.heard import HeardRunScreen

        ear = self._by_ear.ear if self._by_ear else None
        phrases = ear.phrases() if ear else ()
        if phrases:
            self.app.push_screen(HeardRunScreen(self._piece, phrases))

    def action_move(self, by: int) -> None:
        count = len(self.run_through.slips) + len(self._perhaps)
        self._at = min(max(0, self._at + by), count - 1)
        self.draw()

    def on_rows_picked(self, message: Rows.Picked) -> None:
        if message.at == self._at and self.run_through.allows(Act.TELL):
            self.action_tell()
        else:
            self.action_move(message.at - self._at)

    def action_tell(self) -> None:
        """Where was the marked slip, and where did it go on?"""
        from trainer.ui.screens.ask import AskScreen

        score = self._piece.score

        def answered(text: str | None) -> None:
            if text is not None:
                self._ask_where_on(find(score, text) if text else None)

        question = "At which bar? Such as 12, or 12:3 for its beat 3. Enter alone: not known."
        title = f"Slip {self._at + 1}"
        asked = AskScreen(title, question, lambda text: find(score, text), optional=True)
        self.app.push_screen(asked, answered)

    def _ask_where_on(self, broke_at: Fraction | None) -> None:
        from trainer.reports.view import where
        from trainer.ui.screens.choose import Choice, ChooseScreen

        piece, words = self._piece, self.trainer.view.words
        choices = [Choice(UNKNOWN, None, "not known")]
        choices += [
            Choice(start.id, start.number, where(piece, start, words))
            for start in piece.deck.starts
        ]
        ahead = (s.id for s in piece.deck.starts if broke_at is not None and s.onset > broke_at)

        def chosen(start: str | None) -> None:
            if start is not None:
                resumed = "" if start == UNKNOWN else start
                self._do(Act.TELL, broke_at=broke_at, start=resumed, which=self._at)

        question = f"Slip {self._at + 1}: where did you go on?"
        self.app.push_screen(ChooseScreen(question, choices, next(ahead, "")), chosen)

    def _do(self, act: Act, **more: Any) -> None:
        """Do an act through the desk."""
        self._change(lambda run: self.trainer.desk.exercises.act(run, act, **more))

    def _change(self, change: Callable[[Run], Run]) -> None:
        """Go on with the run; where something cannot be kept, all stays as it was."""
        before = self.run_through
        with self.minding():
            self.run_through = change(before)
        slips = len(self.run_through.slips)
        count = slips + len(self._perhaps)
        self._at = slips - 1 if slips > len(before.slips) else min(self._at, count - 1)
        if self._at < 0 < count:
            self._at = 0
        if before is not self.run_through and (self.run_through.over or before.over):
            self.trainer.reload()
        self.draw()
