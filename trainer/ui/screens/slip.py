"""Going on after a slip: the player is stopped somewhere, and goes on from the next start."""

from __future__ import annotations

from collections.abc import Iterator

from textual.app import ComposeResult
from textual.timer import Timer

from trainer.practice.exercise import Act
from trainer.practice.slip import Rehearsal, SlipCall, SlipState
from trainer.record.attempt import Outcome
from trainer.score.cite import counted
from trainer.ui.keys import bindings
from trainer.ui.room import Room
from trainer.ui.widgets.digits import small
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said, wrapped

REACHED = {
    Outcome.THROUGH: "went on from the next start",
    Outcome.STOPPED: "went on from another start",
    Outcome.BROKE_OFF: "did not go on",
}
SAYS = (
    "Begin at the start that is called, from memory, and play on. You will be stopped somewhere; "
    "then go on from the next start at once."
)


class SlipScreen(Room):
    """Nothing tells the time: the interruption comes when it comes, with the terminal's bell."""

    ROOM = "slip"
    BINDINGS = bindings("slip")
    DEFAULT_CSS = """
    SlipScreen > #words { height: 1fr; padding: 1 2 0 2; }
    SlipScreen > #call { height: 4; padding: 0 4; }
    SlipScreen.-over > #call { display: none; }
    """

    def __init__(self, rehearsal: Rehearsal) -> None:
        super().__init__()
        self.rehearsal = rehearsal
        self.timer: Timer | None = None

    def on_mount(self) -> None:
        self.say_of_clock()

    def body(self) -> ComposeResult:
        yield Sheet("words", fixed=True)
        yield Sheet("call", fixed=True, under=True)

    def draw(self) -> None:
        now = self.rehearsal
        self.set_class(now.over, "-over")
        count = f"{min(now.position + 1, len(now.calls))} of {len(now.calls)}"
        self.show_title("Recovery", "over" if now.over else count)
        self.show_strip()
        self.sheet("words").show(list(self._ended(now) if now.over else self._words(now)))
        if now.call:
            self.sheet("call").show(self._call(now, now.call))

    def _words(self, now: Rehearsal) -> Iterator[Line]:
        width = self.room[0]
        match now.state:
            case SlipState.CALLING:
                if now.tries:
                    yield ink(f"Last: {REACHED[now.tries[-1].outcome]}.", "$faint")
                    yield ""
                yield from wrapped(SAYS, width)
            case SlipState.PLAYING:
                yield ink("Play.", "bold")
            case _:
                yield ink("STOP.", "bold $accent")
                yield ""
                yield from wrapped("Go on from the next start.", width, "bold")
                yield ""
                yield from wrapped("Did you reach it? Press t, e or n.", width)

    def _call(self, now: Rehearsal, call: SlipCall) -> list[Line]:
        ascii = self.trainer.ascii
        figure = [str(call.number)] if ascii else small(call.number)
        beside: list[Line] = [said(call.place, "bold")]
        if now.state is SlipState.CALLING:
            beside.append(ink("Press Enter and begin here.", "$faint"))
        texts = [*beside, *[""] * len(figure)]
        return [
            row(ink(line, "$accent"), "     ", text)
            for line, text in zip(figure, texts, strict=False)
        ]

    def _ended(self, now: Rehearsal) -> Iterator[Line]:
        reached = sum(one.outcome is Outcome.THROUGH for one in now.tries)
        if not now.tries:
            yield ink("Nothing was tried.", "bold")
        else:
            told = f"The next start was reached {reached} of {counted(len(now.tries), 'time')}."
            yield from wrapped(told, self.room[0], "bold")
            yield ""
        for one, call in zip(now.tries, now.calls, strict=False):
            yield row(f"Start {call.number:>2}  ", said(f"{REACHED[one.outcome]}"))
        yield ""
        yield row(ink("Enter", "bold $accent"), ink(" goes back to Today."))

    # What is done

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        now = self.rehearsal
        does = {
            "on": now.over or now.allows(Act.BEGIN),
            "undo": now.allows(Act.UNDO),
        }.get(action, True)
        if action == "act":
            does = now.allows(Act(str(parameters[0])))
        return does and super().check_action(action, parameters)

    def action_on(self) -> None:
        """Begin, and be stopped after a while; at the end, back to the day."""
        if self.rehearsal.over:
            self.dismiss(None)
            return
        self._do(Act.BEGIN)
        call = self.rehearsal.call
        if self.rehearsal.state is SlipState.PLAYING and call:
            self.timer = self.set_timer(call.wait, self.interrupt)

    def interrupt(self) -> None:
        """Stop the player now."""
        if self.rehearsal.allows(Act.INTERRUPT):
            self.app.bell()
            self._do(Act.INTERRUPT)

    def action_act(self, name: str) -> None:
        self._do(Act(name))
        if self.rehearsal.state is SlipState.CHOOSING:
            self._ask_which()

    def action_undo(self) -> None:
        self._do(Act.UNDO)

    def action_stop(self) -> None:
        if self.rehearsal.over:
            self.dismiss(None)
        else:
            self._do(Act.STOP)

    def _ask_which(self) -> None:
        """Another start: which one?"""
        from trainer.reports.view import where
        from trainer.ui.screens.choose import Choice, ChooseScreen

        call, view = self.rehearsal.call, self.trainer.view
        piece = view.pieces[self.rehearsal.deck]
        choices = [
            Choice(start.id, start.number, where(piece, start, view.words))
            for start in piece.deck.starts
            if call is None or start.id not in call.following[:1]
        ]

        def chosen(start: str | None) -> None:
            if start is None:
                self._do(Act.CANCEL)
            else:
                self._do(Act.CHOOSE, start)

        self.app.push_screen(ChooseScreen("Where did you go on?", choices), chosen)

    def _do(self, act: Act, start: str = "") -> None:
        """Do an act through the desk; where it cannot be kept, all stays as it was."""
        if self.timer is not None:
            self.timer.stop()
            self.timer = None
        before = self.rehearsal
        with self.minding():
            self.rehearsal = self.trainer.desk.exercises.act(before, act, start=start)
        if self.rehearsal is not before and (self.rehearsal.over or before.over):
            self.trainer.reload()
        self.draw()
