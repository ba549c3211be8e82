"""From a key to its screen with a whole studio in the database, and what drawing costs.

    python -m tests.benchmarks.screens [--rounds 7] [--tries 300000] [--json]

The first part drives processes in terminals of their own, in turn: the app, with 60 students,
1,200 starts and 300,000 tries in its database, and a bare Textual app that pushes a screen of
five lines. Time runs from writing the key to reading the new screen's title. The second part
draws, in this process, and compares with a bare Textual update of a text of as many cells, from
the update to the end of its refresh.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import statistics
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

from textual.app import App, ComposeResult
from textual.widgets import Static

from tests.benchmarks.pty_clock import OURS, Process
from tests.benchmarks.season import season
from tests.pieces import piece_of, tune
from trainer.deck.model import Piece
from trainer.deck.page import page_span
from trainer.draw.keyboard import first_position, keyboard
from trainer.draw.map import piece_map
from trainer.draw.page import page
from trainer.draw.strip import Forecast, strips

BARE = """
from textual.app import App
from textual.screen import Screen
from textual.widgets import Static

class Two(Screen):
    BINDINGS = [("escape", "app.pop_screen", "")]

    def compose(self):
        yield Static("bare-second")
        for text in ("two", "three", "four", "five"):
            yield Static(text)

class Bare(App):
    BINDINGS = [("m", "go", "")]

    def compose(self):
        yield Static("bare-first")

    def action_go(self):
        self.push_screen(Two())

Bare().run()
"""
ROOMS = {
    "map": ("m", "starts open"),
    "retention": ("r", "Retention for"),
    "recital": ("e", "No recital is set"),
    "students": ("s", "minutes a day"),
    "settings": ("t", "who sees what"),
}
BACK = "\x1b"


def spread(values: list[float]) -> str:
    """The median, and from the least to the most."""
    return f"{statistics.median(values):.2f} ({min(values):.2f} to {max(values):.2f})"


def key_to_screen(process: Process, key: str, wanted: str, home: str) -> float:
    """Seconds from a key to its screen; the screen before it is there again afterwards."""
    begin = time.perf_counter()
    process.press(key)
    process.until([wanted])
    took = time.perf_counter() - begin
    time.sleep(0.3)  # what the screen still works out does not count for the next one
    process.press(BACK)
    process.until([home])
    time.sleep(0.3)
    return took


def switches(db: Path, rounds: int) -> dict[str, list[float]]:
    """For each screen the ratios to the bare switch, one a round; the first does not count."""
    found: dict[str, list[float]] = {name: [] for name in ROOMS}
    with Process(BARE) as bare, Process(OURS, "app", "--db", str(db)) as ours:
        bare.until(["bare-first"])
        ours.until(["begins."])
        for number in range(rounds + 1):
            for name, (key, wanted) in ROOMS.items():
                one = key_to_screen(bare, "m", "bare-second", "bare-first")
                other = key_to_screen(ours, key, wanted, "begins.")
                if number:
                    found[name].append(other / one)
    return found


class Plain(App[None]):
    def compose(self) -> ComposeResult:
        yield Static("", id="text", markup=False)


def best(work: Callable[[], object], times: int = 15) -> float:
    """Seconds of the median run."""
    took = []
    for _ in range(times):
        begin = time.perf_counter()
        work()
        took.append(time.perf_counter() - begin)
    return statistics.median(took)


async def bare_update(text: str, times: int = 15) -> float:
    """Seconds of the median update of a text in a bare app, its refresh included."""
    took = []
    app = Plain()
    async with app.run_test(size=(120, 50)) as pilot:
        shown = app.query_one("#text", Static)
        for number in range(times):
            begin = time.perf_counter()
            shown.update(text.replace("─", "━") if number % 2 else text)
            await pilot.pause()
            took.append(time.perf_counter() - begin)
    return statistics.median(took)


def drawings(piece: Piece) -> dict[str, Callable[[], list[str]]]:
    start = piece.deck.starts[0]
    begin, end = page_span(piece, start)
    keys = first_position(piece.score, Fraction(0))
    days = tuple(0.95 * 0.98**day for day in range(60))
    return {
        "page": lambda: page(piece.score, begin, end),
        "table": lambda: page(piece.score, begin, end, form="table"),
        "map": lambda: piece_map(piece, {}),
        "keyboard": lambda: keyboard(keys),
        "strip": lambda: strips([Forecast(n, days) for n in range(1, 17)]),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=7)
    parser.add_argument("--tries", type=int, default=300_000)
    parser.add_argument("--json", action="store_true")
    arguments = parser.parse_args()
    drawn: dict[str, list[float]] = {}
    for name, draw in drawings(piece_of(tune(64), range(0, 192, 12))).items():
        text = "\n".join(draw())
        drawn[name] = [best(draw) / asyncio.run(bare_update(text)) for _ in range(arguments.rounds)]
    with TemporaryDirectory() as folder:
        db = Path(folder) / "a.db"
        desk = season(db, tries=arguments.tries, others=20)
        desk.views.remember(desk.views.of(desk.students.find()))
        desk.store.close()
        found = switches(db, arguments.rounds)
    if arguments.json:
        print(json.dumps({"drawing": drawn, "key to screen": found}))
        return
    for name, ratios in drawn.items():
        print(f"drawing the {name}: {spread(ratios)} of a bare update of its text")
    for name, ratios in found.items():
        print(f"key to {name}: {spread(ratios)} times a bare screen switch")


if __name__ == "__main__":
    main()
