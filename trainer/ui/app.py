"""The app: what is open, who it is for, and what is known of them. Screens show it.

The first frame comes before the store is opened, and nothing heavy is imported until then.
The store belongs to the app's own thread; what follows from the records is worked out in
another one, which touches no widget and posts a message when it is done.
"""

from __future__ import annotations

import asyncio
import gc
import logging
import os
import signal
import sys
from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING, ClassVar

from textual.app import App
from textual.binding import BindingType
from textual.events import Event, Key
from textual.message import Message
from textual.screen import Screen
from textual.worker import WorkerFailed

from trainer import layouts
from trainer.errors import TrainerError
from trainer.ui.keys import EVERYWHERE, bindings, letter_key
from trainer.ui.room import Room
from trainer.ui.screens.today import TodayScreen
from trainer.ui.theme import DARK, THEMES

if TYPE_CHECKING:
    from types import FrameType

    from trainer.desk import Desk
    from trainer.draw.layout import Style
    from trainer.record.people import Student
    from trainer.reports.view import View

OPENING, PLANNING, PLANNED, ALL = range(4)  # how much is known
HUNG_UP = 129  # the exit code of a program whose terminal was closed, 128 and SIGHUP's number


class Known(Message):
    """So much of a view has been worked out."""

    def __init__(self, view: View, stage: int) -> None:
        super().__init__()
        self.view = view
        self.stage = stage


class Worth(Message):
    """What is worth keeping of a view has been worked out."""

    def __init__(self, view: View) -> None:
        super().__init__()
        self.view = view


class TrainerApp(App[None], inherit_bindings=False):
    """`open_desk` is called once, after the first frame. `student` names whose day it is, by
    default the one last chosen; `drill` begins today's drill at once, `prepare` the preparing of
    the deck with that id; `instrument` hears the drills of this time, by default the one that is
    set; `ascii` draws with plain signs only."""

    TITLE = "trainer"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = bindings(EVERYWHERE)
    CSS = "App { background: $background; }"

    def __init__(
        self,
        open_desk: Callable[[], Desk],
        *,
        student: str = "",
        drill: bool = False,
        prepare: str = "",
        instrument: str = "",
        ascii: bool = False,
    ) -> None:
        super().__init__()
        self._open_desk = open_desk
        self._named = student
        self._drill = drill
        self._prepare = prepare
        self.instrument = instrument
        self.ascii = ascii
        self.stage = OPENING
        self._working = OPENING
        self.failed = False
        self._asks_keyboard = False
        self._desk: Desk | None = None
        self._student: Student | None = None
        self._view: View | None = None
        self.full = False  # while the teacher looks
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = DARK

    @property
    def desk(self) -> Desk:
        assert self._desk is not None, "no key works before the desk is open"
        return self._desk

    @property
    def is_open(self) -> bool:
        return self._desk is not None

    @property
    def student(self) -> Student | None:
        return self._student

    @property
    def view(self) -> View:
        """What is known; its plan only from PLANNED on, when each start comes back with ALL."""
        assert self._view is not None, "no key works before the records are read"
        return self._view

    def look(self, width: int) -> Style:
        """How pages are written: in so many columns, with the names and signs wanted here."""
        from trainer.draw.layout import Style

        return Style(width, self.view.names, self.ascii)

    @property
    def day_room(self) -> TodayScreen:
        """The screen at the bottom, to which all others lead back."""
        screen = self.screen_stack[0]
        assert isinstance(screen, TodayScreen)
        return screen

    def get_default_screen(self) -> Screen[None]:
        return TodayScreen(begin=self._drill, prepare=self._prepare)  # type: ignore[return-value]

    def on_mount(self) -> None:
        self._leave_when_told()
        self.call_after_refresh(self.open)

    def _leave_when_told(self) -> None:
        """Who is told to end gives the terminal back first, if it is still there. One that was
        closed also tells the program to go on (SIGCONT), which the framework answers by drawing
        all anew: it would wait for ever until somebody takes what it draws."""
        for name in ("SIGTERM", "SIGHUP"):
            if number := getattr(signal, name, None):
                with suppress(NotImplementedError, RuntimeError, ValueError):  # not everywhere
                    loop = asyncio.get_running_loop()
                    loop.add_signal_handler(number, self._leave, 128 + number)
        go_on = getattr(signal, "SIGCONT", None)
        draws_anew = signal.getsignal(go_on) if go_on else None
        if go_on and callable(draws_anew):
            redraw = draws_anew

            def going_on(number: int, frame: FrameType | None) -> None:
                _end_without_a_terminal()
                redraw(number, frame)

            signal.signal(go_on, going_on)

    def _leave(self, code: int) -> None:
        if not self.is_headless and not self.is_web:
            _end_without_a_terminal()
        self.exit(return_code=code)

    def open(self) -> None:
        """Open the desk, once the first frame stands."""
        room = self.day_room
        try:
            self._desk = self._open_desk()
            wanted = self._desk.store.settings.get("colours")
            self.theme = wanted if wanted in self.available_themes else DARK
            self._student = self._whose(self._desk)
        except TrainerError as error:
            self.failed = True
            room.say(str(error))
            room.draw()
            return
        if self.desk.store.settings.get("caution seen") is None:
            from trainer.ui.screens.caution import CautionScreen

            self.push_screen(CautionScreen())
        if self._student is None:
            room.action_student()
        else:
            self.reload()

    def _whose(self, desk: Desk) -> Student | None:
        """The student meant, None where the app has to ask."""
        several = len(desk.store.students.all()) > 1
        if several and not self._named and desk.store.settings.get("student") is None:
            return None
        return desk.students.find(self._named)

    @property
    def teaches(self) -> bool:
        """Whether a teacher is likely at the keys: where several students are known."""
        return len(self.desk.store.students.all(besides=self.view.student.id)) > 1

    def choose(self, student: Student) -> None:
        """Make it this student's day, now and the next time."""
        self.desk.students.choose(student)
        self._student = student
        self.reload()

    def go_on_as(self, student: Student) -> None:
        """Go on with the same student, of whom something is known that was not."""
        self._student = student
        self.reload()

    async def on_event(self, event: Event) -> None:
        """A key counts by its place, not by the letter that it types, except into a text."""
        if isinstance(event, Key) and not event.is_forwarded and self.focused is None:
            placed = self._placed(event)
            if placed is None:
                return
            event = placed
        await super().on_event(event)

    def _placed(self, event: Key) -> Key | None:
        """The key at the place of the one pressed; None where the keyboard is asked for."""
        typed = event.character or ""
        if not typed.isalpha():
            return event
        layout = ""
        if layouts.is_cyrillic(typed):
            layout = (self._desk and self._desk.store.settings.get("keyboard")) or ""
            if layout not in layouts.CYRILLIC:
                self._ask_keyboard()
                return None
        letter = layouts.key_at(typed, layout)
        return Key(letter_key(letter), letter) if letter else event

    def _ask_keyboard(self) -> None:
        """Cyrillic letters stand at different places on different keyboards: which is this?"""
        from trainer.ui.screens.choose import Choice, ChooseScreen

        if self._desk is None or self._asks_keyboard:
            return
        self._asks_keyboard = True

        def chosen(name: str | None) -> None:
            self._asks_keyboard = False
            screen = self.screen
            if name is not None and isinstance(screen, Room):
                with screen.minding():
                    self.desk.store.settings.set("keyboard", name)

        choices = [Choice(name, n, name) for n, name in enumerate(layouts.CYRILLIC, 1)]
        question = "The keys type Cyrillic letters. Which keyboard is it?"
        self.push_screen(ChooseScreen(question, choices), chosen)

    def reload(self) -> None:
        """Read the records again, and work out elsewhere what follows from them."""
        assert self._student is not None
        view = self.desk.views.of(self._student, full=self.full)
        self._view, self.stage = view, PLANNING
        self._work_out(PLANNED, view)
        self._draw()

    def need(self, stage: int) -> None:
        """Work out more, where a screen needs what is not there yet. It is drawn again then."""
        if PLANNED <= self.stage < stage and self._working < stage:
            self._work_out(stage, self.view)

    def _work_out(self, stage: int, view: View) -> None:
        """Take the view to a stage in another thread: it keeps what it has worked out."""
        self._working = stage

        def work() -> None:
            _ = view.day_planned if stage == PLANNED else view.next_calls
            self.post_message(Known(view, stage))
            _ = view.to_keep
            self.post_message(Worth(view))

        self.run_worker(work, thread=True, exclusive=True, group="view")

    def on_known(self, message: Known) -> None:
        if message.view is self._view:
            self.stage = message.stage
            self._draw()
            if not gc.isenabled():
                self.call_after_refresh(_collect_again)

    def on_worth(self, message: Worth) -> None:
        with suppress(TrainerError):  # a cache that is not written costs only time
            self.desk.views.remember(message.view)

    def _draw(self) -> None:
        screen = self.screen
        if isinstance(screen, Room):
            screen.redraw()

    def action_help(self) -> None:
        from trainer.ui.screens.help import HelpScreen

        screen = self.screen
        if isinstance(screen, Room) and screen.ROOM != "help":
            self.push_screen(HelpScreen(screen.ROOM))

    def panic(self, *_: object) -> None:
        """End after an error without a word; `run` raises it again."""
        self._close_messages_no_wait()

    def _fatal_error(self) -> None:
        """End without Textual's traceback, which shows every variable, and so names of people.
        Textual has no public way to this."""
        self.panic()

    @property
    def error(self) -> BaseException | None:
        """What ended the app, if something did."""
        error = self._exception
        return error.error if isinstance(error, WorkerFailed) else error

    def action_copy(self) -> None:
        """Copy the marked text; without one, leave."""
        marked = self.screen.get_selected_text()
        if not marked:
            self.action_leave()
            return
        self.copy_to_clipboard(marked)
        self.screen.clear_selection()
        if isinstance(self.screen, Room):
            self.screen.say("The marked text is copied.")

    def action_leave(self) -> None:
        self.exit(return_code=int(self.failed))

    def close(self) -> None:
        """Close the store, if it was opened."""
        if self._desk is not None:
            self._desk.store.close()


def _end_without_a_terminal() -> None:
    """End at once where the terminal was closed: nothing can be given back, and every answer is
    kept as soon as it is given."""
    if not os.isatty(sys.__stdin__.fileno() if sys.__stdin__ else -1):
        os._exit(HUNG_UP)


def _collect_again() -> None:
    """What stands now is there to stay: the collector need not look at it again and again."""
    gc.freeze()
    gc.enable()


def run(app: TrainerApp) -> int:
    """Run an app in this terminal until its user leaves. Gives the process's exit code: 0, or
    1 where the desk could not be opened. An error that ended the app is raised, once the
    terminal is as it was before."""
    logging.getLogger("asyncio").addHandler(logging.NullHandler())  # it would print tracebacks
    gc.disable()  # until the day is known: a start makes much and drops nothing
    try:
        app.run()
    finally:
        gc.enable()
        app.close()
    if app.error is not None:
        raise app.error
    return app.return_code or 0
