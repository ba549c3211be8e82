"""More: all that can be done, from the registry of keys; found by typing."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from textual.app import ComposeResult

from trainer.draw.text import cells
from trainer.reports.registry import REPORTS
from trainer.ui.keys import KEYS, Key, bindings, keys_of
from trainer.ui.room import Room
from trainer.ui.screens.ask import Answer
from trainer.ui.screens.help import NAMES
from trainer.ui.widgets.rows import ListRow, Rows
from trainer.ui.widgets.sheet import Sheet, ink, row, said, wrapped

# What only a teacher needs comes with the second student, as the first screen's key does.
TEACHERS = {"today.lesson", "students.lesson", "students.studio", "studio"}
# The key of the first screen that leads to another screen, or towards it.
LEADS = {
    "drill": "today.begin",
    "retention": "today.retention",
    "log": "today.retention",
    "map": "today.map",
    "start": "today.map",
    "recital": "today.recital",
    "students": "today.student",
    "studio": "today.student",
    "lesson": "today.lesson",
    "settings": "today.settings",
    "prepare": "today.prepare",
    "alike": "today.prepare",
    "run": "today.others",
    "slip": "today.others",
}
# What has no key of its own, and is found here alone.
PAPER = Key(
    "today.on paper", "", "", "piece on paper", "on_paper", "Add a printed piece without a file."
)
# The reports of the registry, each to be read on the one screen for them.
READ = tuple(
    Key(f"today.report {report.name}", "", "", report.name, f"report('{report.name}')", report.help)
    for report in REPORTS.values()
)
WAYS = ("scroll", "leaf", "move", "turn", "back", "digit", "all")  # about a screen, not a deed


def does(key: Key) -> bool:
    """Whether a key does something that one may look for."""
    return key.action.partition("(")[0] not in WAYS


def found(text: str, works: Callable[[Key], bool]) -> list[Key]:
    """The keys whose words hold all that was typed: those of the first screen, and with something
    typed those of the screens that it leads to. `works` says whether one of its keys does
    something now. A match in a key's name comes before one in its meaning."""
    first = [key for key in keys_of("today") if does(key) and works(key)]
    if not text.strip():
        return first
    ids = {key.id for key in first}
    hidden = set() if "today.lesson" in ids else TEACHERS
    others = [
        key
        for key in KEYS
        if LEADS.get(key.screen) in ids and does(key) and not {key.id, key.screen} & hidden
    ]
    typed = text.casefold().split()

    def fits(said: str) -> bool:
        return all(word in said.casefold() for word in typed)

    read = [
        key
        for key, report in zip(READ, REPORTS.values(), strict=True)
        if works(key) and not (hidden and report.audience == "teacher")
    ]
    keys = [*first, *others, PAPER, *read]
    named = [key for key in keys if fits(key.words)]
    meant = [k for k in keys if k not in named and fits(f"{k.words} {k.meaning} {NAMES[k.screen]}")]
    return named + meant


class MoreScreen(Room):
    """Gives the id of the key chosen, or None. `works` is that of the first screen."""

    ROOM = "more"
    BINDINGS = bindings("more")
    DEFAULT_CSS = """
    MoreScreen > #question { height: 2; padding: 1 2 0 2; }
    MoreScreen > #answer { margin: 0 2; border: none; height: 1; background: $panel; }
    """

    def __init__(self, works: Callable[[Key], bool]) -> None:
        super().__init__()
        self._does = works
        self._keys = found("", works)
        self._at = 0

    def body(self) -> ComposeResult:
        yield Sheet("question", fixed=True)
        answer = Answer(id="answer")
        answer.cursor_blink = False
        yield answer
        yield Rows("actions")

    def draw(self) -> None:
        self.show_title("More")
        self.sheet("question").show(["Type a word of what you want to do, or choose a line."])
        self.query_one(Rows).show(list(self._rows()), self._at)
        self.show_strip([key for key in keys_of("more") if key.screen == "more"])

    def _rows(self) -> Iterator[ListRow]:
        if not self._keys:
            yield ListRow(None, [ink("Nothing is called so. Try another word.", "bold")])
            return
        where = [self._where(key) for key in self._keys]
        one = max(cells(key.words) for key in self._keys)
        two = max(cells(text) for text in where)
        margin = one + two + 6
        for at, key in enumerate(self._keys):
            mark, style = (">", "bold $accent") if at == self._at else (" ", "")
            first, *others = wrapped(key.meaning, self.room[0] - margin)
            head = ink(f"{mark} {key.words:{one}}  {where[at]:{two}}  ", style)
            below = [row(" " * margin, line) for line in others]
            yield ListRow(at, [row(head, said(str(first))), *below])

    def _where(self, key: Key) -> str:
        """The key, and on which screen it is one."""
        face = key.stands(self.trainer.ascii)
        return face if key.screen in ("today", "everywhere") else f"{NAMES[key.screen]}: {face}"

    def on_input_changed(self, event: Answer.Changed) -> None:
        self._keys, self._at = found(event.value, self._does), 0
        self.draw()

    def on_input_submitted(self) -> None:
        self.action_take()

    def action_move(self, by: int) -> None:
        self._at = min(max(0, self._at + by), max(0, len(self._keys) - 1))
        self.draw()

    def action_take(self) -> None:
        if self._keys:
            self.dismiss(self._keys[self._at].id)

    def on_rows_picked(self, message: Rows.Picked) -> None:
        self.dismiss(self._keys[message.at].id)
