"""The drill: the call, large and alone; one key says how far it went.

The session is a pure state machine; what it records is on the disk before the next call is
drawn. Above the call stands the page of the last try. Nothing here tells the time, but for a
count up to the call, where it is wanted: metre and tempo give no note away, so it is no hint and
is not recorded. With an instrument that hears the tries, the outcome comes from it; the keys count
as ever.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property, partial
from typing import TYPE_CHECKING

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.timer import Timer

from trainer.deck.model import Piece, Start
from trainer.deck.page import before_join
from trainer.draw.hints import hint_text
from trainer.draw.words import NO_MORE_HINTS, OUTCOME_MEANINGS
from trainer.practice.cautions import REST
from trainer.practice.drills import drill_kind
from trainer.practice.exercise import Act
from trainer.practice.session import LETTERS, Call, Session, State
from trainer.record.attempt import Outcome
from trainer.reports.settings import OFF
from trainer.score.count import Count, count_before
from trainer.score.find import find
from trainer.ui.hearing import TryByEar
from trainer.ui.keys import Key, bindings
from trainer.ui.room import Room, window
from trainer.ui.screens.choose import Choice, ChooseScreen
from trainer.ui.screens.heard import HeardScreen
from trainer.ui.screens.last_try import LastTry
from trainer.ui.screens.page import PageScreen
from trainer.ui.sounding import Sounding
from trainer.ui.widgets.digits import large, small
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said, wrapped

if TYPE_CHECKING:
    from trainer.desk.hearing import Tried
    from trainer.listen.signs import Sign

ALL = 3  # as in the app
ROOMY = 30  # lines
CHOOSING = (State.CHOOSING, State.CHOOSING_AMENDED, State.CHOOSING_TOLD)
AMENDING = (State.AMENDING, State.CHOOSING_AMENDED)
UNKNOWN = "unknown"
PRESS = "Then press the letter that says how far you came."
HEARD = "The instrument hears how far you came; a letter corrects it."
SIGNS = "Then {} goes on; twice: the same again; three times: the end."
SAYS = " ".join(letter for letter, act in LETTERS.items() if act.value in tuple(Outcome))


class DrillScreen(Room):
    """A drill from its first call to its end."""

    ROOM = "drill"
    BINDINGS = bindings("drill")
    DEFAULT_CSS = """
    DrillScreen > #last { height: 1fr; padding: 0 2; }
    DrillScreen > #call { height: 4; padding: 0 4; }
    DrillScreen.-roomy > #last { padding: 1 2 0 2; }
    DrillScreen.-roomy > #call { height: 8; padding: 1 4; }
    DrillScreen.-over > #call { display: none; }
    """

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self._top, self._more = 0, False  # at the end: lines above the window, and if it is full
        self.sounding = Sounding(self)
        self._waits = False  # the first call waits until the player is ready
        self._counted = ""  # what stands of a count, beside the call
        self._ticks: list[Timer] = []
        self.last_try = LastTry(self)
        self.by_ear = TryByEar(self, self._heard, self._signed, self._listens)

    def on_mount(self) -> None:
        if self._by_instrument and self.session.allows(Act.PAUSE):
            self._waits = True
            self._do(Act.PAUSE)  # the first call stands, and its time begins, when one is ready
        self.by_ear.open()
        self.say_of_clock()

    @property
    def _by_instrument(self) -> bool:
        """Whether an instrument is to hear this drill."""
        app = self.trainer
        hears = self.session.judge == "self" and drill_kind(self.session.drill).heard
        return (
            hears
            and (app.instrument or app.desk.settings.get(app.view.student, "instrument")) != OFF
        )

    @property
    def _first(self) -> bool:
        """Whether the first call waits until the player is ready, and has not been seen."""
        return self._waits and self.session.state is State.PAUSED

    @property
    def _repeats(self) -> bool:
        """Whether the start of the last try is called again: its music tells all."""
        last, call = self.session.last, self.session.call
        calling = self.session.state in (State.CALLING, State.PAUSED)
        return bool(calling and last and call and last.start == call.spot.id)

    def body(self) -> ComposeResult:
        yield Sheet("last", fixed=True)
        yield Sheet("call", fixed=True, under=True)

    # What is shown

    def draw(self) -> None:
        session = self.session
        over = session.over
        self.set_class(over, "-over")
        self.show_title(session.title, "over" if over else session.progress)
        self.set_class(self._roomy, "-roomy")
        if over:
            self.by_ear.attend(session)
            self.sheet("last").show(self._ended())
        self.show_strip()
        if not over:
            self.by_ear.attend(session)
            self.sheet("last").show(self._before(self._above))
            self.sheet("call").show(self._call())
            self.call_after_refresh(self._prepare)

    @property
    def _roomy(self) -> bool:
        """Whether there is room for the largest digits besides a page of two staves."""
        return self.room[1] >= ROOMY

    @property
    def _above(self) -> int:
        """The lines above the call."""
        return self.room[1] - self.sheet("strip").line_count - (11 if self._roomy else 5)

    def _before(self, height: int) -> list[Line]:
        """What stands above the call: the last try with its page, and the hints taken."""
        hints = list(self._hints())
        hints = window(hints, height, len(hints))
        room = max(0, height - len(hints) - 1) if hints else height
        if self.session.state is State.RESTING:
            lines: list[Line] = list(_rest(self.room[0]))
        elif self.session.last is None:
            lines = list(self._at_first())
        else:
            lines = self.last_try.lines(self.session, room, music=not self._repeats)
        return [*lines[:room], *[""] * (room > 0), *hints] if hints else lines

    def _prepare(self) -> None:
        """Draw the page of the present call while it is played, so that it is there at once
        when it may be seen."""
        found = self._find(self.session.call) if self.session.call else None
        if found and self.session.state is State.CALLING:
            self.last_try.page(self.session, *found, self._above - 1)

    def _at_first(self) -> Iterator[Line]:
        """What to do, while there is no page yet."""
        yield from wrapped(drill_kind(self.session.drill).says, self.room[0], "bold")
        yield from wrapped(self.session.not_cold, self.room[0], "$accent")
        told = (HEARD, *([SIGNS.format(self.by_ear.sign)] if self.by_ear.sign else []))
        for sentence in told if self.by_ear.on else (PRESS,):
            yield from wrapped(sentence, self.room[0])
        yield ""
        for outcome in Outcome:
            first, *others = wrapped(OUTCOME_MEANINGS[outcome], self.room[0] - 11)
            yield row(ink(f"{outcome.value:11}", "$accent"), first)
            yield from (row(" " * 11, line) for line in others)

    def _hints(self) -> Iterator[Line]:
        session, call, view = self.session, self.session.call, self.trainer.view
        found = self._find(call) if call and session.hints else None
        if found is None or call is None:
            return
        yield said(f"{call.called}, {call.title}, hints:", "bold")
        for name in session.hints:
            text = hint_text(*found, name, view.names, view.words)
            yield from wrapped(f"{name}: {text}", self.room[0], "$accent", indent="  ")

    def _call(self) -> list[Line]:
        """The call: number and place, and no more."""
        session = self.session
        call = session.call
        if session.state in AMENDING and session.last_call:
            call = session.last_call
            beside: list[Line] = [ink("Correct the last result", "bold"), said(call.place)]
        elif session.state in CHOOSING and call:
            beside = [ink("Where did you begin?", "bold"), said(call.place)]
        elif self._first:
            sign = f", or {self.by_ear.sign}," if self.by_ear.sign else ""
            return [row(ink("Enter", "bold $accent"), ink(f"{sign} calls the first start."))]
        elif session.state is State.PAUSED and call:
            beside = [ink("Paused.", "bold"), ink("p or Enter goes on.", "$faint")]
        elif session.state is State.TOLD and session.last_call:
            return self._told()
        elif session.state is State.RESTING or call is None:
            return [ink("A rest.", "bold"), ink("Enter goes on, q ends here.", "$faint")]
        else:
            beside = [said(call.place, "bold"), said(call.title, "$faint")]
            if session.rest_is_safe:
                beside.append(ink("The rest are secure for today; press q to end.", "$faint"))
            if self._counted or self.by_ear.line:
                beside.append(ink(self._counted or self.by_ear.line, "$accent"))
        return self._beside(call, beside)

    def _beside(self, call: Call, words: list[Line]) -> list[Line]:
        """The number in large digits with words on their right."""
        ascii = self.trainer.ascii
        if self._roomy:
            figure = large(call.shown, ascii=ascii)
        else:
            figure = [str(call.shown)] if ascii else small(call.shown)
        figure += [" " * len(figure[0])] * (len(words) - len(figure))
        above: list[Line] = [""] * ((len(figure) - len(words)) // 2)
        texts = [*above, *words, *[""] * len(figure)]
        return [
            row(ink(line, "$accent"), "     ", text)
            for line, text in zip(figure, texts, strict=False)
        ]

    def _ended(self) -> list[Line]:
        """The end: what held, and when each comes back."""
        from trainer.document.lines import as_lines
        from trainer.reports.drilled import report

        session, app = self.session, self.trainer
        if not session.tries:
            return [ink("Nothing was tried.", "bold"), "", *self._how_on()]
        last = session.last
        found = app.view.find(last.deck, last.start) if last else None
        tail: list[Line] = [""]
        if last and found:
            tail += self.last_try.words(session, *found, last)
        tail += self._how_on()
        app.need(ALL)
        if app.stage < ALL:
            return [ink("Working out when each start comes round again …", "$faint"), *tail]
        ended = report(app.view, session.tries)
        shown = replace(ended, blocks=ended.blocks[:1])
        text = as_lines(shown, width=self.room[0], ascii=app.ascii)
        notes = [line for note in ended.notes for line in wrapped(note, self.room[0], "$accent")]
        lines: list[Line] = [ink(text[0], "bold"), *notes, *text[1:]]
        height = self.room[1] - 2 - self.sheet("strip").line_count - len(tail)
        self._more = len(lines) > height
        self._top = min(self._top, max(0, len(lines) - height))
        return [*window(lines, height, self._top + height // 2), *tail]

    def _how_on(self) -> list[Line]:
        where = "the lesson" if self.session.judge == "teacher" else "Today"
        sign = f", or {self.by_ear.sign}," if self.by_ear.sign else ""
        return [row(ink("Enter", "bold $accent"), ink(f"{sign} goes back to {where}."))]

    def _find(self, call: Call) -> tuple[Piece, Start] | None:
        return self.trainer.view.find(call.deck, call.spot.id)

    # What is done

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        session = self.session
        does = {
            "pause": session.allows(Act.PAUSE) or session.state in (State.PAUSED, State.RESTING),
            "on": session.state not in (State.CALLING, State.AMENDING),
            "page": (session.last is not None and not self._repeats) or self._looks,
            "yours": session.last is not None
            and not self._repeats
            and bool(self.last_try.strikes(session.last))
            and not self.sounding.why_not,
            "scroll": self._more,
            "outcomes": session.allows(Act.THROUGH),
            "hear": session.last is not None and not self._repeats and not self.sounding.why_not,
            "count": session.state is State.CALLING and self._count_in != "off",
        }.get(action, True)
        if action == "act":
            act = Act(str(parameters[0]))
            does = session.allows(act) and not (act is Act.HINT and self.by_ear.asked)
        return does and super().check_action(action, parameters)

    def works(self, key: Key) -> bool:
        """While the time stands still, p goes on as Enter does: it is not said twice."""
        paused = self.session.state is State.PAUSED
        return super().works(key) and not (paused and key.action == "pause")

    def action_act(self, name: str) -> None:
        act = Act(name)
        if act is Act.BROKE_OFF and self.session.state is State.AMENDING:
            self._ask_bar()
            return
        self._do(act)
        if self.session.state in CHOOSING:
            self._ask_where()

    def action_outcomes(self) -> None:
        """The outcomes as a list: for the arrows, for a finger, for any keyboard."""
        choices = [
            Choice(one.value, None, f"{one.value}: {OUTCOME_MEANINGS[one]}") for one in Outcome
        ]

        def chosen(name: str | None) -> None:
            if name is not None:
                self.action_act(name)

        self.app.push_screen(ChooseScreen("How far did it go?", choices), chosen)

    def action_scroll(self, by: int) -> None:
        self._top = max(0, self._top + by)
        self.draw()

    def action_pause(self) -> None:
        self._do(Act.PAUSE if self.session.allows(Act.PAUSE) else Act.RESUME)

    # What is heard

    def _heard(self, tried: Tried | None, sign: Sign | None) -> None:
        """A try came to its end: it is recorded as it was heard, or the player is asked."""
        if tried and tried.proposal.outcome is not None and self.session.allows(Act.HEARD):
            self._do(Act.HEARD, **tried.fields)
            if self.session.last and self.session.state is State.TOLD:
                self.last_try.tried = self.session.last.id, tried
                self.draw()
        else:
            from trainer.desk.hearing import TOO_LITTLE

            why = tried.proposal.why if tried else TOO_LITTLE
            twice = f"; {self.by_ear.sign} twice: play it again" if self.by_ear.sign else ""
            self.say(f"{why} Press the letter that says how far you came{twice}.")
            self.draw()
        if sign:
            self._signed(sign)

    def _signed(self, sign: Sign) -> None:
        """A sign on the instrument."""
        if self.session.over:
            if sign != "again":
                self.dismiss(None)
            return
        act = self.by_ear.act(sign, self.session)
        if act:
            self._do(act)
        elif sign == "again":
            self.by_ear.again()
            self.say("")
            self.draw()

    def _listens(self) -> None:
        """The words beside the call have changed."""
        if self.session.state is State.CALLING and self._built:
            self.sheet("call").show(self._call())

    def _told(self) -> list[Line]:
        """What stands of a try that was heard, and how the player goes on."""
        last, indent = self.session.last, " " * 4
        stands = "" if last is None else last.outcome.value
        how = "heard" if last is None or last.judge == "heard" else "said"
        sign = f", or {self.by_ear.sign}," if self.by_ear.sign else ""
        return [
            row(ink(f"{indent}{how.capitalize()}: {stands}.", "bold $accent")),
            row(indent, ink("Enter", "bold $accent"), ink(f"{sign} goes on.")),
            row(indent, ink(SAYS, "bold $accent"), ink(" to correct it.")),
        ]

    def action_yours(self) -> None:
        """Let what was played be heard, or stop it."""
        if self.session.last:
            with self.minding():
                self.sounding.strikes(self.last_try.strikes(self.session.last))

    def action_on(self) -> None:
        """Go on from where the drill waits."""
        if self.session.over:
            self.dismiss(None)
        elif self.session.state in CHOOSING:
            self._ask_where()
        else:
            self._do(Act.RESUME)

    def action_stop(self) -> None:
        if self.session.over:
            self.dismiss(None)
        else:
            self._do(Act.STOP)

    @property
    def _looks(self) -> bool:
        """Whether the page of the present call may be looked at."""
        return self.session.state is State.CALLING and drill_kind(self.session.drill).looks

    def action_page(self) -> None:
        call = self.session.call
        present = self._find(call) if call and self._looks else None
        if present:
            self.app.push_screen(PageScreen(*present))
            return
        attempt = self.session.last
        found = self.trainer.view.find(attempt.deck, attempt.start) if attempt else None
        tried = self.last_try.heard_of(attempt) if attempt else None
        if tried:
            self.app.push_screen(HeardScreen(tried))
        elif found:
            self.app.push_screen(PageScreen(*found))

    def action_hear(self) -> None:
        """Let the opening of the last try's page be heard, or stop it."""
        attempt = self.session.last
        found = self.trainer.view.find(attempt.deck, attempt.start) if attempt else None
        if found:
            self._forget_count()
            self._show_beats("")
            with self.minding():
                self.sounding.opening(*found)

    # The count

    @cached_property
    def _count_in(self) -> str:
        """How a count is given: "off", "seen" or "heard"."""
        return self.trainer.desk.settings.get(self.trainer.view.student, "count-in")

    def action_count(self) -> None:
        """Count up to the present call; a count that goes on begins again."""
        found = self._find(self.session.call) if self.session.call else None
        if found is None:
            return
        piece, start = found
        joins = drill_kind(self.session.drill).begins == "before the join"
        rate = self.trainer.view.own(piece.deck.id, start.id).tempo
        count = count_before(piece.score, before_join(piece, start) if joins else start.onset, rate)
        self._hush()
        self.by_ear.counted(count.seconds)
        why_not = self.sounding.why_not if self._count_in == "heard" else ""
        self.say(why_not)
        if self._count_in == "heard" and not why_not:
            self.sounding.count(count, partial(self._show_count, count))
        else:
            self._show_count(count)

    def _show_count(self, count: Count) -> None:
        """Show the beats as they come, then nothing; all at once where nothing is to move."""
        if self.app.animation_level == "none":
            self._show_beats(f"count {count.words()}, {count.rate} a minute")
            return
        self._show_beats(f"count {count.words(1)}")
        for number, beat in enumerate(count.beats[1:], 2):
            show = partial(self._show_beats, f"count {count.words(number)}")
            self._ticks.append(self.set_timer(beat.at, show))
        self._ticks.append(self.set_timer(count.seconds, partial(self._show_beats, "")))

    def _show_beats(self, text: str) -> None:
        self._counted = text
        self.sheet("call").show(self._call())

    def _forget_count(self) -> None:
        self._counted = ""
        for timer in self._ticks:
            timer.stop()
        self._ticks.clear()

    def _hush(self) -> None:
        """Forget the count, and be silent."""
        self._forget_count()
        self.sounding.stop()

    def on_screen_suspend(self) -> None:
        self._hush()
        self.by_ear.leave()

    def on_screen_resume(self) -> None:
        self.by_ear.come_back()

    def on_unmount(self) -> None:
        self._hush()
        self.by_ear.close()

    def _do(self, act: Act, **more: object) -> None:
        """Do an act through the desk; where it cannot be kept, the drill stays as it was."""
        self._hush()
        before = self.session
        self._waits &= act is Act.PAUSE
        more |= self.by_ear.witnessed(before, act)
        with self.minding():
            self.session = self.trainer.desk.exercises.act(before, act, **more)
        if act is Act.HINT and self.session == before:
            self.say(NO_MORE_HINTS)
        if self.session.over and self.session is not before:
            self.trainer.reload()
        self.draw()

    def _ask_where(self) -> None:
        """Elsewhere: at which start?"""
        from trainer.desk import begun_instead
        from trainer.reports.view import where

        call = self.session.call if self.session.state is State.CHOOSING else None
        call = call or self.session.last_call
        found = self._find(call) if call else None
        if call is None or found is None:
            self._do(Act.CHOOSE, start="")
            return
        choices = [
            Choice(start.id, start.number, where(found[0], start, self.trainer.view.words))
            for start in begun_instead(found[0], call.spot.id)
        ]
        choices.append(Choice(UNKNOWN, None, "at none of these, or you do not know"))

        def chosen(start_id: str | None) -> None:
            if start_id is None:
                self._do(Act.CANCEL)
            else:
                self._do(Act.CHOOSE, start="" if start_id == UNKNOWN else start_id)

        question = f"{call.called} was called. Where did you begin?"
        self.app.push_screen(ChooseScreen(question, choices), chosen)

    def _ask_bar(self) -> None:
        """Broke off: at which bar? It need not be said."""
        last = self.session.last
        found = self.trainer.view.find(last.deck, last.start) if last else None
        if found is None:
            self._do(Act.BROKE_OFF)
            return
        piece, start = found

        def answered(text: str | None) -> None:
            if text is not None:
                self._do(Act.BROKE_OFF, broke_at=find(piece.score, text) if text else None)

        from trainer.ui.screens.ask import AskScreen

        title = f"Start {start.number} broke off"
        question = "At which bar? Such as 12, or 12:3 for its beat 3. Enter alone: not said."
        asked = AskScreen(title, question, lambda t: find(piece.score, t), optional=True)
        self.app.push_screen(asked, answered)


def _rest(width: int) -> Iterator[Line]:
    for sentence in REST:
        yield from wrapped(sentence, width)
