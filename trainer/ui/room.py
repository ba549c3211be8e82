"""What all screens share: a title, a body, a message, and the strip of their keys."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import TYPE_CHECKING, ClassVar, cast

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.screen import Screen
from textual.style import Style

from trainer.draw.text import cells
from trainer.errors import TrainerError
from trainer.ui.keys import Key, keys_of, rows
from trainer.ui.widgets.reader import more
from trainer.ui.widgets.rows import Rows
from trainer.ui.widgets.sheet import Line, Sheet, ends, ink, row, wrapped

if TYPE_CHECKING:
    from trainer.ui.app import TrainerApp

LEAST = (60, 20)  # columns and lines
MARGIN = 2
TAP = 5  # lines that a tap on "more below" goes on


class Room(Screen["str | None"], inherit_bindings=False):
    """A screen. It gives the name under which its keys stand in the registry, builds its body
    of sheets, and shows in `draw` what the app knows now; `draw` may be called at any time."""

    ROOM: ClassVar[str] = ""
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (LEAST[0], "-wide")]  # noqa: RUF012, so in Screen
    VERTICAL_BREAKPOINTS = [(0, "-low"), (LEAST[1], "-high")]  # noqa: RUF012
    DEFAULT_CSS = """
    Room { background: $background; color: $foreground; layout: vertical; overflow: hidden; }
    Room > #title { height: 1; padding: 0 2; background: $panel; }
    Room.-ascii > .-under { border-top: ascii $faint 80%; }
    Room > .-under { border-top: solid $faint 80%; }
    Room > #notice { height: auto; padding: 0 2; color: $error; display: none; }
    Room > #notice.-said { display: block; }
    Room > #strip { height: auto; padding: 0 2; background: $panel; }
    Room > #small { display: none; height: 1fr; padding: 1 1; text-wrap: wrap; }
    Room.-narrow > *, Room.-low > * { display: none; }
    Room.-narrow > #notice.-said, Room.-low > #notice.-said { display: none; }
    Room.-narrow > #small, Room.-low > #small { display: block; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._built = False
        self._drawn_at: tuple[int, int] | None = None

    @property
    def trainer(self) -> TrainerApp:
        return cast("TrainerApp", self.app)

    @property
    def room(self) -> tuple[int, int]:
        """The columns and lines to draw in, the margins left out: those of the whole screen,
        never fewer than the least, as what is drawn on a smaller screen is hidden."""
        wide, high = self.app.size
        return max(LEAST[0], wide) - 2 * MARGIN, max(LEAST[1], high)

    def compose(self) -> ComposeResult:
        yield Sheet("title")
        yield from self.body()
        yield Sheet("notice")
        yield Sheet("strip")
        yield Sheet("small")

    def body(self) -> ComposeResult:
        yield from ()

    def draw(self) -> None:
        """Show what is known now."""

    def redraw(self) -> None:
        """Draw, unless the screen still waits for its sheets: it then draws by itself."""
        if self._built:
            self._drawn_at = self.app.size
            self.draw()

    def sheet(self, name: str) -> Sheet:
        return self.query_one(f"#{name}", Sheet)

    def on_mount(self) -> None:
        least = f"{LEAST[0]} columns and {LEAST[1]} lines"
        self.sheet("small").show([f"Please enlarge the window to {least}."])
        self.set_class(self.trainer.ascii, "-ascii")
        for shown in (*self.query(Sheet), *self.query(Rows)):
            shown.plain = self.trainer.ascii
        self._built = True
        self.redraw()

    def on_resize(self) -> None:
        if self._drawn_at != self.app.size:
            self.redraw()

    def on_screen_resume(self) -> None:
        self.redraw()

    def show_title(self, left: str, right: str = "") -> None:
        """The line at the top: where one is, and something that is true of all of it."""
        one, other = ends(left, right, self.room[0])
        self.sheet("title").show([row(ink(one, "bold"), ink(other, "$faint"))])

    def show_strip(self, keys: list[Key] | None = None) -> None:
        """The keys at the foot, by default all that do something now."""
        shown = [key for key in keys_of(self.ROOM) if self.works(key)] if keys is None else keys
        self.sheet("strip").show(strip(tuple(shown), self.room[0], ascii=self.trainer.ascii))

    def works(self, key: Key) -> bool:
        """Whether a key does something now."""
        name, _, rest = key.action.partition("(")
        arguments = (rest.rstrip(")").strip("'"),) if rest else ()
        return bool(self.check_action(name, arguments))

    def check_action(
        self,
        action: str,
        parameters: tuple[object, ...],  # noqa: ARG002
    ) -> bool | None:
        """Nothing is done on a screen too small to be seen. A room may say more of what its
        actions do now, by their `parameters`."""
        wide, high = self.app.size
        return action == "back" or (wide >= LEAST[0] and high >= LEAST[1])

    def say(self, message: str) -> None:
        """A message above the keys; an empty one takes it away."""
        notice = self.sheet("notice")
        notice.show(wrapped(f"! {message}", self.room[0], indent="  ") if message else [])
        notice.set_class(bool(message), "-said")

    def say_of_clock(self) -> None:
        """A message where the clock is seen to be wrong, before anything is recorded."""
        from trainer.reports.clock import warning

        app = self.trainer
        if ahead := warning(app.view.log, app.desk.clock()):
            self.say(ahead)

    @contextmanager
    def minding(self) -> Iterator[None]:
        """Takes the last message away, and shows the one of what goes wrong inside."""
        self.say("")
        try:
            yield
        except TrainerError as error:
            self.say(str(error))

    async def on_mouse_scroll_down(self) -> None:
        """The wheel does what the arrow does, where nothing under it scrolls by itself."""
        await self._arrow("down")

    async def on_mouse_scroll_up(self) -> None:
        await self._arrow("up")

    async def _arrow(self, name: str, times: int = 1) -> None:
        for key in keys_of(self.ROOM):
            if name in key.keys.split(",") and self.works(key):
                for _ in range(times):
                    await self.run_action(key.action)

    async def action_further(self, by: int) -> None:
        """A tap on "more below" (1) or "more above" (-1)."""
        await self._arrow("down" if by > 0 else "up", TAP)

    def action_back(self) -> None:
        self.dismiss(None)


def touched(words: Content, key: Key) -> Content:
    """The words of a key, which can be clicked or tapped to do what it does."""
    name = key.bindings()[0]
    action = name.action if isinstance(name, Binding) else name[1]
    namespace = "" if action.startswith("app.") else "screen."
    return words.stylize(Style.from_meta({"@click": f"{namespace}{action}"}))


@lru_cache(maxsize=32)
def strip(keys: tuple[Key, ...], width: int, *, ascii: bool = False) -> list[Line]:
    """The keys with their words, in as many lines as the width asks for."""
    lines: list[Line] = []
    for group in rows(keys):
        line: list[Content] = []
        used = 0
        for key in group:
            face = key.stands(ascii)
            size = cells(face) + 1 + cells(key.words)
            if line and used + 3 + size > width:
                lines.append(row(*line))
                line, used = [], 0
            if line:
                line.append(ink("   "))
                used += 3
            line += [touched(ink(face, "bold $accent") + f" {key.words}", key)]
            used += size
        lines.append(row(*line))
    return lines


def window(lines: list[Line], height: int, focus: int = 0) -> list[Line]:
    """As many of the lines as there is room for, with line `focus` among them; signs in the
    last and first line say that there are more. No line where there is room for none."""
    if height < 1:
        return []
    if len(lines) <= height:
        return lines
    first = min(max(0, focus - height // 2), len(lines) - height)
    shown = lines[first : first + height]
    if first:
        shown[0] = more(-1)
    if first + height < len(lines):
        shown[-1] = more(1)
    return shown
