"""Today: who, for when, what is to be drilled and why, and one key to begin."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest
from typing import TYPE_CHECKING

from textual.app import ComposeResult

from trainer.draw.text import cells, clean, fit
from trainer.ui.keys import bindings
from trainer.ui.room import Room, window
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said, wrapped

if TYPE_CHECKING:
    from trainer.reports.view import View

PLANNED = 2  # as in the app
ADD, PAPER = "add a score", "add from paper"  # answers that are no deck's id


class TodayScreen(Room):
    """The first screen. `begin` may be pressed before the plan is there: it is kept."""

    ROOM = "today"
    BINDINGS = bindings("today")
    DEFAULT_CSS = """
    TodayScreen > #day { height: 1fr; padding: 1 2 0 2; }
    """

    def __init__(self, *, begin: bool = False, prepare: str = "") -> None:
        super().__init__()
        self._begin = begin
        self._prepare = prepare
        self._top = 0
        self._drawn: View | None = None  # what the lines were of

    def body(self) -> ComposeResult:
        yield Sheet("day", fixed=True)

    def draw(self) -> None:
        app = self.trainer
        self.show_strip()
        if not app.stage:
            waits = "Opening …" if not app.is_open else "Who is practising? Press s to choose."
            self.show_title("Today")
            self.sheet("day").show([] if app.failed else [ink(waits, "$faint")])
        else:
            view = app.view
            self.show_title(f"Today for {view.student.name}", f"{view.day:%A} {_day(view)}")
            if self._begin and app.stage >= PLANNED and self.app.screen is self:
                self.action_begin()
            if self._prepare and app.stage >= PLANNED and self.app.screen is self:
                deck_id, self._prepare = self._prepare, ""
                self.prepare(deck_id)
            if app.stage >= PLANNED and self.app.screen is self:
                if view is not self._drawn:  # another day, or what was done today
                    self._drawn, self._top = view, 0
                self._show(list(_lines(view, self.room[0])))

    def _show(self, lines: list[Line]) -> None:
        height = self.room[1] - 3 - self.sheet("strip").line_count
        self._top = min(max(0, self._top), max(0, len(lines) - height))
        self.sheet("day").show(window(lines, height, self._top + height // 2))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        app = self.trainer
        does = {
            "begin": not app.failed and (app.stage < PLANNED or bool(app.view.left.slots)),
            "more": app.stage >= PLANNED and self._may_do_more,
            "room": bool(app.stage),
            "report": bool(app.stage) and not (parameters == ("forecasts",) and self._child),
            "lesson": bool(app.stage) and app.teaches,
            "others": bool(app.stage) and bool(app.view.open) and self._offers_others,
            "prepare": bool(app.stage),
            "all": app.is_open and not app.failed,
            "student": app.is_open and not app.failed,
            "colours": app.is_open and not app.failed,
        }.get(action, True)
        return does and super().check_action(action, parameters)

    @property
    def _child(self) -> bool:
        return self.trainer.view.level == "child"

    @property
    def _offers_others(self) -> bool:
        app = self.trainer
        return app.desk.settings.get(app.view.student, "drills") == "yes"

    def action_scroll(self, by: int) -> None:
        self._top += by
        self.draw()

    def action_begin(self) -> None:
        """Begin the drill, as soon as the plan of this very day is known."""
        app = self.trainer
        if app.stage >= PLANNED and app.desk.views.is_past(app.view):
            app.reload()
        self._begin = app.stage < PLANNED
        if self._begin or not app.view.left.slots:
            return
        from trainer.ui.screens.drill import DrillScreen

        with self.minding():
            self.app.push_screen(DrillScreen(app.desk.exercises.drill(app.view)))

    @property
    def _may_do_more(self) -> bool:
        view = self.trainer.view
        return bool(view.open) and not view.left.slots and bool(view.more.slots)

    def action_more(self) -> None:
        """A drill beyond the day's plan."""
        from trainer.ui.screens.drill import DrillScreen

        app = self.trainer
        with self.minding():
            self.app.push_screen(DrillScreen(app.desk.exercises.drill(app.view, more=True)))

    def action_room(self, name: str) -> None:
        """Go to another screen."""
        go_to(self, name)

    def action_report(self, name: str) -> None:
        """Read a report of the registry."""
        from trainer.ui.screens.table import ReportReader

        self.app.push_screen(ReportReader(name))

    def action_all(self) -> None:
        """Find what can be done, here or on another screen, and do it or go there."""
        from trainer.ui.keys import KEYS
        from trainer.ui.screens.more import LEADS, PAPER, READ, MoreScreen

        keys = {key.id: key for key in (*KEYS, PAPER, *READ)}

        async def chosen(name: str | None) -> None:
            if name is None:
                return
            key = keys[name]
            lead = keys[LEADS[key.screen]] if key.screen in LEADS else key
            await self.run_action(lead.action)
            screen = self.app.screen
            if lead is not key and isinstance(screen, Room):
                told = f"{key.stands(self.trainer.ascii)} {key.words}: {key.meaning}"
                self.call_after_refresh(screen.say, told)

        self.app.push_screen(MoreScreen(self.works), chosen)

    def action_lesson(self) -> None:
        from trainer.ui.screens.students import open_lesson

        open_lesson(self, self.trainer.view.student.id)

    def action_others(self) -> None:
        """A drill of another kind."""
        from trainer.ui.screens.others import offer

        offer(self)

    def action_prepare(self) -> None:
        """Prepare a piece, or add one first."""
        from trainer.ui.screens.choose import Choice, ChooseScreen

        choices = [
            Choice(deck_id, n, deck.title)
            for n, (deck_id, deck) in enumerate(self.trainer.view.decks.items(), 1)
        ]
        choices.append(Choice(ADD, None, "add a score from a file"))
        choices.append(Choice(PAPER, None, "add a printed piece without a file"))

        def chosen(answer: str | None) -> None:
            if answer == ADD:
                self._ask_for_a_score()
            elif answer == PAPER:
                self.action_on_paper()
            elif answer is not None:
                self.prepare(answer)

        self.app.push_screen(ChooseScreen("Prepare which piece?", choices), chosen)

    def prepare(self, deck_id: str | None) -> None:
        """Go to the Prepare screen of a piece; None goes nowhere."""
        from trainer.ui.screens.prepare import PrepareScreen

        if deck_id is not None:
            with self.minding():
                self.app.push_screen(PrepareScreen(self.trainer.desk.store.pieces.get(deck_id)))

    def action_on_paper(self) -> None:
        """Add a printed piece, and prepare it."""
        from trainer.ui.screens.on_paper import ask_on_paper

        ask_on_paper(self, self._added)

    def _added(self, deck_id: str | None) -> None:
        if deck_id is not None:
            self.trainer.reload()
            self.prepare(deck_id)

    def _ask_for_a_score(self) -> None:
        from trainer.ui.screens.adding import AddingScreen
        from trainer.ui.screens.ask import AskScreen
        from trainer.ui.widgets.paths import ScorePaths, typed

        def named(text: str | None) -> None:
            if text:
                self.app.push_screen(AddingScreen(typed(text)), self._added)

        question = (
            "Which file? MusicXML, .mxl, MIDI, ABC, **kern or MEI. The right arrow accepts what "
            "is suggested as you type."
        )
        ask = AskScreen("A new piece", question, str, suggester=ScorePaths())
        self.app.push_screen(ask, named)

    def action_student(self) -> None:
        """Ask whose day it is."""
        from trainer.ui.screens.students import StudentsScreen

        def chosen(student_id: str | None) -> None:
            for student in self.trainer.desk.store.students.all(besides=student_id or ""):
                if student.id == student_id:
                    with self.minding():
                        self.trainer.choose(student)

        self.app.push_screen(StudentsScreen(), chosen)

    def action_colours(self) -> None:
        from trainer.ui.theme import THEMES

        names = [theme.name for theme in THEMES]
        self.app.theme = names[(names.index(self.app.theme) + 1) % len(names)]
        with self.minding():
            self.trainer.desk.store.settings.set("colours", self.app.theme)


def go_to(room: Room, name: str) -> None:
    """Go from a screen to the map, the recital, the settings or the retention."""
    if name == "map":
        from trainer.ui.screens.map import MapScreen

        if not room.trainer.view.decks:
            room.say("There are no pieces yet.")
            return
        room.app.push_screen(MapScreen())
    elif name == "recital":
        from trainer.ui.screens.recital import RecitalScreen

        room.app.push_screen(RecitalScreen())
    elif name == "settings":
        from trainer.ui.screens.settings import SettingsScreen

        room.app.push_screen(SettingsScreen())
    else:
        from trainer.ui.screens.retention import RetentionScreen

        room.app.push_screen(RetentionScreen())


def _day(view: View) -> str:
    return f"{view.day.day} {view.day:%B}"


def _lines(view: View, width: int) -> Iterator[Line]:
    """The whole of the screen's body."""
    from trainer.reports.today import before_today, countdown, held_back, left_words, warnings

    for warning in warnings(view):
        yield from wrapped(f"! {warning}", width, "$error", indent="  ")
        yield ""
    if view.recital:
        days = countdown(view.day, view.recital.day)
        yield row(said(view.recital.name, "bold"), ink(f" {days}", "$accent"))
        yield ""
    slots = view.left.slots
    if not slots:
        yield from _nothing(view, width)
        return
    told = f"{left_words(slots, begun=bool(view.today))}."
    yield row(ink(told, "bold"), ink("   Enter", "bold $accent"), ink(" begins."))
    for sentence in before_today(view):
        yield from wrapped(sentence, width, "$faint")
    yield ""
    yield from _reasons(view, width)
    for sentence in held_back(view):
        yield ""
        yield from wrapped(sentence, width, "$faint")


def _reasons(view: View, width: int) -> Iterator[Line]:
    """The starts of the plan, the most wanted first; those of one piece and reason together."""
    found: dict[tuple[str, str], list[int]] = {}
    for slot in view.left.slots:
        deck = view.decks[slot.deck]
        found.setdefault((slot.why, deck.title), []).append(deck.start(slot.start).number)
    rows = [(clean(t), ", ".join(map(str, sorted(n))), why) for (why, t), n in found.items()]
    one = min(max(cells(title) for title, _, _ in rows), width * 2 // 5)
    two = min(max(6, *(cells(numbers) for _, numbers, _ in rows)), width // 5)
    yield ink(f"{'piece':{one}}  {'starts':{two}}  why", "$faint")
    before = ""
    for title, numbers, why in rows:
        heads = wrapped(numbers, two, "bold")
        reason = wrapped(why, width - one - two - 4, "$faint") if why != before else []
        for n, (head, because) in enumerate(zip_longest(heads, reason, fillvalue="")):
            name = fit(title if not n else "", one)
            gap = " " * (two + 2 - cells(str(head)))
            yield row(name, "  ", head, gap, because)
        before = why


def _nothing(view: View, width: int) -> Iterator[Line]:
    """A kind word where there is nothing to drill, and the way on."""
    from trainer.reports.today import held_back, nothing_today

    if not view.decks:
        yield ink("There are no pieces yet.", "bold")
        yield ""
        yield from wrapped("Add a score with p. Import a teacher's deck with", width)
        yield ink("   trainer deck in FILE", "$accent")
        yield ""
        yield from wrapped("Or see what practice looks like, on invented pieces:", width)
        yield ink("   trainer demo", "$accent")
    elif not view.open:
        yield ink("No start is open yet.", "bold")
        yield ""
        yield from wrapped(
            "A start is drilled once its phrase has been learned. Press m for the map; there o "
            "opens a start and a opens every start of a piece.",
            width,
        )
    else:
        head, told = nothing_today(view)
        yield ink(head, "bold")
        yield ""
        for sentence in told:
            yield from wrapped(sentence, width)
        for sentence in held_back(view):
            yield ""
            yield from wrapped(sentence, width, "$faint")
        if view.more.slots:
            yield ""
            yield row(ink("+", "bold $accent"), ink(" calls more, if you want more today."))
