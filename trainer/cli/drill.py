"""The drill: on the screens, or line by line for a screen reader or a plain terminal."""

from __future__ import annotations

from contextlib import closing, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trainer import terminal
from trainer.cli.app import on_terminal, run_screens
from trainer.cli.common import desk_options, open_desk, say, say_of_clock, show, speak
from trainer.cli.lines import LOOK, Lines
from trainer.draw.words import NO_MORE_HINTS, joined
from trainer.practice import cautions
from trainer.practice.drills import COLD, KINDS
from trainer.practice.exercise import Act
from trainer.practice.session import LETTERS, Call, Session, State

if TYPE_CHECKING:
    from trainer.desk import Desk
    from trainer.desk.hearing import Hearing, Seen
    from trainer.reports.view import View

LISTENS = "The instrument is connected and listening."
AWAY = "The instrument is not connected: type letters until it is back."
BACK = "The instrument is back; play from the beginning of the start."
UNKNOWN = "The notes of this piece are not known, so it cannot be heard: type letters."
FAILED = "The instrument cannot be heard any more: type letters."
HEARD = "heard"  # in place of a line: something came from the instrument


@click.command()
@click.argument("piece", default="")
@click.option("--plain", is_flag=True, help="Line by line, in words; works with a screen reader.")
@click.option("--minutes", type=click.FloatRange(0.5, 240), help="Time for this drill.")
@click.option("--kind", type=click.Choice(list(KINDS)), default=COLD, show_default=True)
@click.option("--more", is_flag=True, help="More starts, once today's are done.")
@click.option(
    "--instrument", default="", help="The instrument that listens this time; see `instruments`."
)
@desk_options
def drill(
    piece: str,
    plain: bool,
    minutes: float | None,
    kind: str,
    more: bool,
    instrument: str,
    db: Path | None,
    student: str,
) -> None:
    """Drill today's remaining starts, of one PIECE or of all.

    After each attempt one letter says how far you came; it is saved at once. With an instrument
    set, or named here, the instrument marks the attempt, and a letter corrects it.
    """
    if plain:
        speak()
    whole = not piece and minutes is None and kind == COLD and not more
    if whole and not plain and on_terminal():
        run_screens(db, student=student, drill=True, instrument=instrument)
    with open_desk(db) as desk:
        seconds = None if minutes is None else minutes * 60
        view = desk.views.of(desk.students.find(student), seconds=seconds)
        deck = desk.pieces.find(piece).id if piece else None
        begun = desk.exercises.drill(view, kind=kind, deck=deck, more=more)
        hearing = desk.instruments.hearing(view.student, instrument) if begun.calls else None
        with closing(hearing) if hearing else nullcontext():
            LineDrill(desk, view, begun, hearing).run()


class LineDrill:
    """A session driven line by line. Each line of input is one act; what an instrument hears is
    told as it comes."""

    def __init__(
        self, desk: Desk, view: View, session: Session, hearing: Hearing | None = None
    ) -> None:
        self.desk = desk
        self.view = view
        self.session = session
        self.hearing = hearing
        self.lines = Lines() if hearing else None
        self._told_safe = False
        self._said = ""  # how the instrument stands, as it was said last
        self._begun = not hearing  # whether the first call was given
        self._left = False  # the drill is over, and was left by a signal

    def run(self) -> None:
        """Until the drill is over or the input ends; what was recorded is on the disk."""
        if not self.session.calls:
            self._nothing()
            return
        if not self.desk.store.settings.get("caution seen"):
            say(cautions.FIRST)
            self.desk.store.settings.set("caution seen", "yes")
        say_of_clock(self.desk, self.view)
        if self.session.not_cold:
            say(self.session.not_cold)
        say(f"{KINDS[self.session.drill].says} Then one letter and Enter: {_letters()}.")
        if self.hearing and self.session.allows(Act.PAUSE):
            say(_by_ear(self.hearing))
            self.session = self.desk.exercises.act(self.session, Act.PAUSE)
        asked: Session | None = None
        while not self._over:
            if self.session is not asked:
                self._ask()
                asked = self.session
            line = self._line()
            if line is None:
                self._do(Act.STOP)
            elif line is not HEARD:
                self._answer(line)
            if self._over and line not in (None, "q"):
                self._afterwards()
        self._end()

    def _nothing(self) -> None:
        """What to say where there is no call."""
        if self.session.drill == COLD:
            from trainer.reports.today import report

            show(report(self.view), as_json=False)
        else:
            say(f"{KINDS[self.session.drill].title}: there is nothing to call.")

    @property
    def _over(self) -> bool:
        return self.session.state is State.OVER

    def _afterwards(self) -> None:
        """After the last call: the last try may still be corrected, or its page read."""
        say("That was the last call. Enter ends; v reads the music, a corrects, u takes it back.")
        while self._over:
            line = self._line()
            if line == "v":
                self._page()
            elif line in ("a", "u") and self.session.allows(LETTERS[line]):
                self._do(LETTERS[line])
            elif line is not HEARD or self._left:
                return

    def _line(self) -> str | None:
        """What was typed, None at the end of the input; HEARD where the drill has gone on, or has
        something to say, by what was played."""
        if self.lines is None:
            line = terminal.line()
        else:
            terminal.put("> ")
            while (typed := self.lines.typed(LOOK)) is None:
                if self._listened():
                    return HEARD
            line = typed or None
            terminal.end_line()
        return None if line is None else line.strip().lower()

    # What is heard

    def _listened(self) -> bool:
        """Take what was played; whether something came of it."""
        hearing = self.hearing
        assert hearing is not None
        hearing.attend(self.session, self.view)
        seen = hearing.look()
        self._stands(seen)
        if seen.ended or seen.sign:
            say("")
        if self._over and seen.sign in ("next", "stop"):
            self._left = True
            return True
        if seen.ended:
            self._heard(hearing)
        if not seen.sign:
            return seen.ended
        if act := hearing.act(seen.sign, self.session):
            self._do(act)
        elif seen.sign == "again":
            hearing.again()
        return seen.ended or act is not None

    def _stands(self, seen: Seen) -> None:
        """Say when the instrument comes, goes, or can be heard no more."""
        now = FAILED if seen.failed else LISTENS if seen.connected else AWAY
        if seen.note and not seen.failed:
            now = seen.note
        if seen.connected and seen.unknown:
            now = UNKNOWN
        if seen.connected and (seen.lost or seen.back):
            now = BACK
        if now != self._said and not (now == LISTENS and self._said == BACK):
            self._said = now
            say(["", now] if self._begun else now)

    def _heard(self, hearing: Hearing) -> None:
        """A try came to its end: it is recorded as it was heard, or the player is asked."""
        from trainer.desk.hearing import TOO_LITTLE

        tried = hearing.tried()
        why = tried.proposal.why if tried else TOO_LITTLE
        if tried and tried.proposal.outcome is not None and self.session.allows(Act.HEARD):
            say(f"Heard: {why} {tried.notes}".rstrip())
            self._do(Act.HEARD, **tried.fields)
        else:
            say(f"{why} Which letter says how far you came?")

    def _ask(self) -> None:
        match self.session.state:
            case State.CALLING:
                assert self.session.call is not None
                self._call(self.session.call)
            case State.AMENDING:
                say("Correct the last result: t, s, b, l, n or e; c leaves it as it was.")
            case State.TOLD:
                sign = f", or {self.hearing.sign}," if self.hearing and self.hearing.sign else ""
                say(f"Enter{sign} goes on, r calls it again; t, s, b, l, n or e corrects it.")
            case State.PAUSED if not self._begun:
                sign = f", or {self.hearing.sign}," if self.hearing and self.hearing.sign else ""
                say(f"Enter{sign} calls the first start.")
                self._begun = True
            case State.PAUSED:
                say("Paused. Enter goes on.")
            case State.RESTING:
                say([*cautions.REST, "Enter goes on."])
            case State.CHOOSING | State.CHOOSING_AMENDED | State.CHOOSING_TOLD:
                say("At which start did you begin? Its number, or Enter if you do not know; c "
                "goes back.")  # fmt: skip

    def _call(self, call: Call) -> None:
        if self.session.hints:
            name = self.session.hints[-1]
            say(f"Hint, {name}: {self._hint(call, name)}")
            return
        count = f"Call {self.session.progress}"
        if self.session.rest_is_safe and not self._told_safe:
            self._told_safe = True
            say("The rest are secure for today; press q to end.")
        say(["", f"{call.words}. {call.title}. {count}."])

    def _answer(self, line: str) -> None:
        state = self.session.state
        if state in (State.CHOOSING, State.CHOOSING_AMENDED, State.CHOOSING_TOLD):
            self._chosen(line)
        elif state in (State.PAUSED, State.RESTING):
            self._do(LETTERS[line] if line == "q" else Act.RESUME)
        elif state is State.TOLD and line in ("", "r"):
            self._do(Act.AGAIN if line else Act.RESUME)
        elif line == "c" and state is State.AMENDING:
            self._do(Act.CANCEL)
        elif line == "v" and self._repeats:
            say("This start is called again; you can read its music afterwards.")
        elif line == "v" and (self.session.tries or self._looks):
            self._page()
        elif line in LETTERS and self.session.allows(LETTERS[line]):
            self._do(LETTERS[line])
        else:
            say(f"Press one of: {_letters()}.")

    def _chosen(self, line: str) -> None:
        from trainer.desk import begun_instead

        if line == "c":
            self._do(Act.CANCEL)
            return
        amended = self.session.state is not State.CHOOSING
        call = self.session.last_call if amended else self.session.call
        assert call is not None
        piece = self.view.pieces[call.deck]
        known = {str(s.number): s.id for s in begun_instead(piece, call.spot.id)}
        if line and line not in known:
            say(f"Choose another start of {call.title}: {joined(list(known))}.")
            return
        self._do(Act.CHOOSE, known.get(line, ""))

    def _do(self, act: Act, start: str = "", **heard: Any) -> None:
        from trainer.reports.lookalikes import parting

        before, tries = self.session, self.session.tries
        if self.hearing:
            heard |= self.hearing.witnessed(before, act)
        self.session = self.desk.exercises.act(before, act, start=start, **heard)
        if self.session.tries != tries and act is not Act.UNDO and self.session.last:
            say(f"{self.session.last.outcome.value.capitalize()}; v reads the music.")
            if told := parting(self.view, self.session.last):
                say(told)
        elif act is Act.UNDO:
            say("Taken back.")
        elif act is Act.HINT and self.session == before:
            say(NO_MORE_HINTS)

    @property
    def _repeats(self) -> bool:
        """Whether the start of the last try is called again: its music tells all."""
        last, call = self.session.last, self.session.call
        calling = self.session.state is State.CALLING and not self._looks
        return bool(calling and last and call and last.start == call.spot.id)

    @property
    def _looks(self) -> bool:
        """Whether the page of the present call may be looked at."""
        return self.session.state is State.CALLING and KINDS[self.session.drill].looks

    def _page(self) -> None:
        """The written music of the last try, or of a call that may be looked at, in words."""
        from trainer.deck.page import page_span
        from trainer.draw.speech import spoken

        call = self.session.call if self._looks else self.session.last_call
        found = self.view.find(call.deck, call.spot.id) if call else None
        if call and found:
            begin, end = page_span(*found)
            say([f"{call.called} is written:"])
            view = self.view
            say(spoken(found[0].score, begin, end, view.names, words=view.words))

    def _hint(self, call: Call, name: str) -> str:
        from trainer.draw.hints import hint_text

        found = self.view.find(call.deck, call.spot.id)
        return hint_text(*found, name, self.view.names, self.view.words) if found else ""

    def _end(self) -> None:
        from trainer.reports.drilled import report

        say("")
        after = self.desk.views.of(self.view.student)
        show(report(after, self.session.tries), as_json=False)
        self.desk.views.remember(after)


def _by_ear(hearing: Hearing) -> str:
    """What an instrument does in a drill, in words."""
    told = "The instrument hears how far you came; a letter corrects it."
    if not hearing.sign:
        return told
    return (
        f"{told} On the instrument {hearing.sign} goes on; twice: the same again; three times: "
        "the end. Press it once if nothing comes to mind."
    )


def _letters() -> str:
    told = {Act.STOP: "end"}  # an outcome is called so
    words = (f"{letter} {told.get(act, act.value)}" for letter, act in LETTERS.items())
    return ", ".join(words) + ", v music"
