"""Recital: what it would find, what it waits for, the way back after a slip, its last days.

The pages stand side by side; each can be had from the command line as a report. A child sees
the places that would catch a slip, and nothing foretold.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.message import Message

from trainer.record.people import ProgrammeItem
from trainer.ui.keys import bindings
from trainer.ui.screens.page import ReaderScreen
from trainer.ui.theme import INKS
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said, wrapped

if TYPE_CHECKING:
    from datetime import date

    from trainer.document.model import Document
    from trainer.memory.readiness import Readiness
    from trainer.record.people import Recital
    from trainer.reports.view import View

PROGRAMME, STAGES, BACK, DAYS = "programme", "stages", "recovery", "last days"
PAGES = (PROGRAMME, STAGES, BACK, DAYS)
CHILD_PAGES = (PROGRAMME, BACK)


class Foretold(Message):
    """The plan has been run on to the recital."""

    def __init__(self, view: View, days: Document) -> None:
        super().__init__()
        self.view = view
        self.days = days


class RecitalScreen(ReaderScreen):
    ROOM = "recital"
    BINDINGS = bindings("recital")
    DEFAULT_CSS = """
    RecitalScreen > #pages { height: 2; padding: 1 2 0 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._page = 0
        self._asked: View | None = None  # of what a forecast is being made
        self._days: Document | None = None
        self._written: dict[tuple[str, int], list[Line]] = {}  # each page, by its width

    def body(self) -> ComposeResult:
        yield Sheet("pages", fixed=True)
        yield from super().body()

    @property
    def _pages(self) -> tuple[str, ...]:
        return CHILD_PAGES if self.trainer.view.student.level == "child" else PAGES

    def title_words(self) -> tuple[str, str]:
        from trainer.document.words import day_word
        from trainer.reports.today import countdown

        view = self.trainer.view
        if view.recital is None:
            return f"Recital for {view.student.name}", ""
        day = view.recital.day
        return view.recital.name, f"{day_word(day)}, {countdown(view.day, day)}"

    def draw(self) -> None:
        self._look_ahead()
        names: list[Line] = []
        for at, name in enumerate(self._pages):
            here = at == self._page
            names.append(ink(f"[{name}]" if here else f" {name} ", "bold $accent" if here else ""))
        self.sheet("pages").show([row(*names)] if self.trainer.view.recital else [])
        super().draw()

    def _look_ahead(self) -> None:
        """Run the plan on to the recital, in another thread that touches no widget."""
        view = self.trainer.view
        if self._asked is view:
            return
        self._asked, self._days, self._written = view, None, {}
        if view.student.level == "child" or view.recital is None:
            return

        def work() -> None:
            from trainer.reports.countdown import last_days

            _ = view.readiness, view.outlook
            self.post_message(Foretold(view, last_days(view)))

        self.run_worker(work, thread=True, exclusive=True, group="recital")

    def on_foretold(self, message: Foretold) -> None:
        if message.view is self.trainer.view:
            self._days, self._written = message.days, {}
            self.redraw()

    def lines(self, width: int) -> list[Line]:
        key = (self._pages[self._page], width)
        if key not in self._written:
            self._written[key] = self._write(width)
        return self._written[key]

    def _write(self, width: int) -> list[Line]:
        """The page of the moment."""
        from trainer.reports.readiness import of_next

        view = self.trainer.view
        if view.recital and self._days is None and view.student.level != "child":
            return self._waiting()
        found = of_next(view)
        if found is None:
            return list(_without(width))
        match self._pages[self._page]:
            case "programme" if view.student.level == "child":
                return list(self._caught(view, width))
            case "programme":
                return list(self._programme(view, *found, width))
            case "stages":
                return list(_stages(view, *found, width))
            case "recovery":
                return list(self._way_back(view, found[0], width))
        return self._table(self._days, width) if self._days else self._waiting()

    def _waiting(self) -> list[Line]:
        return [ink("Working out the plan up to the recital …", "$faint")]

    def _programme(
        self, view: View, recital: Recital, ready: Readiness, width: int
    ) -> Iterator[Line]:
        """The answer first, then piece by piece, then where it is weak."""
        from trainer.draw.words import band_sign
        from trainer.reports.readiness import (
            AS_IT_IS,
            NOTE,
            outlook_notes,
            place_words,
            report,
            weakest,
        )

        for n, sentence in enumerate(outlook_notes(view)):
            yield from wrapped(sentence, width, "" if n else "bold")
        yield ""
        yield from wrapped(AS_IT_IS, width, "$faint")
        yield ""
        yield from self._rows(report(view), width)
        yield from (_with_music(view, recital, width))
        places = weakest(ready)
        if places:
            yield ""
            yield ink("Weakest", "bold")
        for place in places:
            band = place.retention.band
            style = INKS[band]
            first, *others = wrapped(place_words(view, place), width - 2)
            yield row(ink(band_sign(band, ascii=self._ascii), style), " ", first)
            yield from (row("  ", line) for line in others)
        yield ""
        yield from wrapped(NOTE, width, "$faint")

    def _caught(self, view: View, width: int) -> Iterator[Line]:
        """For a child: the map of each piece, with the starts that would catch a slip."""
        from trainer.draw.map import piece_map
        from trainer.reports.readiness import CHILD_NOTE
        from trainer.reports.retention import bands

        assert view.recital is not None
        yield from wrapped(CHILD_NOTE, width)
        for item in view.recital.programme:
            if item.deck not in view.decks or item.from_memory == "no":
                continue
            known = {start: found.band for start, found in bands(view, item.deck).items()}
            yield ""
            yield said(view.decks[item.deck].title, "bold")
            yield from piece_map(view.pieces[item.deck], known, width=width, ascii=self._ascii)

    def _way_back(self, view: View, recital: Recital, width: int) -> Iterator[Line]:
        """Piece by piece: if memory fails here, where to go on."""
        from trainer.reports.readiness import recovery_report

        child = view.student.level == "child"
        yield from wrapped("If memory fails, go on from the next start that holds:", width)
        notes: tuple[str, ...] = ()
        for item in recital.programme:
            if item.deck in view.decks and item.from_memory != "no":
                found = recovery_report(view, item.deck)
                notes = found.notes
                yield ""
                yield said(view.decks[item.deck].title, "bold")
                yield from self._rows(found, width)
        yield ""
        for note in () if child else notes:
            yield from wrapped(note, width, "$faint")

    def _rows(self, found: Document, width: int) -> list[Line]:
        """The rows of a document alone."""
        return self._table(replace(found, blocks=found.blocks[:1], title=""), width)[2:]

    def _table(self, found: Document, width: int) -> list[Line]:
        from trainer.document.lines import as_lines

        text = as_lines(found, width=width, ascii=self._ascii)
        return [ink(text[0], "bold"), *text[1:]]

    @property
    def _ascii(self) -> bool:
        return self.trainer.ascii

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        view = self.trainer.view
        if (action == "turn" and view.recital is None) or (
            action == "set" and (view.student.level == "child" or not view.decks)
        ):
            return False
        return super().check_action(action, parameters)

    def action_turn(self, by: int) -> None:
        self._page = (self._page + by) % len(self._pages)
        self.reader.to_top()
        self.draw()

    def action_set(self) -> None:
        """Set a recital, or change one: its name, its day, its pieces."""
        self._ask("Name of the recital? Give an existing name to change it.", self._named)

    def _named(self, name: str) -> None:
        from trainer.dates import day_of

        today = self.trainer.view.day

        def dated(text: str) -> None:
            self._ask_pieces(name, day_of(text, today))

        self._ask(
            "On which day? Such as 4 Jan, in 3 weeks or 2026-06-21.",
            dated,
            lambda text: day_of(text, today),
        )

    def _ask_pieces(self, name: str, day: date) -> None:
        from trainer.dates import in_full

        decks = list(self.trainer.view.decks.values())
        listed = ", ".join(f"{n} {deck.title}" for n, deck in enumerate(decks, 1))

        def chosen(text: str) -> None:
            items = [ProgrammeItem(decks[n - 1].id) for n in _numbers(text, len(decks))]
            with self.minding():
                app = self.trainer
                app.desk.recitals.set(app.view.student, name, day, items)
                app.reload()
            self.draw()

        question = (
            f"{name} is on {in_full(day)}. Which pieces, from memory? Their numbers, such as 1, 3."
            f" There are {listed}."
        )
        self._ask(question, chosen, lambda text: _numbers(text, len(decks)))

    def _ask(
        self,
        question: str,
        then: Callable[[str], None],
        check: Callable[[str], object] = str,
    ) -> None:
        """Ask for a short answer; without one nothing more is asked."""
        from trainer.ui.screens.ask import AskScreen

        def answered(text: str | None) -> None:
            if text:
                then(text)

        self.app.push_screen(AskScreen("A recital", question, check), answered)


def _numbers(text: str, count: int) -> list[int]:
    """Numbers of pieces as typed: "1, 3". Raises TrainerError."""
    from trainer.errors import TrainerError

    words = text.replace(",", " ").split()
    if not all(word.isdecimal() and 1 <= int(word) <= count for word in words):
        raise TrainerError(f"{text!r} are not numbers of pieces; write them as 1, 3.")
    return [int(word) for word in words]


def _without(width: int) -> Iterator[Line]:
    """A kind word where no recital is set, and the way to one."""
    yield ink("No recital is set.", "bold")
    yield ""
    yield from wrapped(
        "Once the date is set, the plan works towards it. n sets one: its name, its date, its "
        "pieces.",
        width,
    )


def _with_music(view: View, recital: Recital, width: int) -> Iterator[Line]:
    """The pieces that are not played from memory."""
    titles = [
        view.decks[item.deck].title
        for item in recital.programme
        if item.from_memory == "no" and item.deck in view.decks
    ]
    if titles:
        yield from wrapped(f"With music: {', '.join(titles)}.", width)


def _stages(view: View, recital: Recital, ready: Readiness, width: int) -> Iterator[Line]:
    """Each stage with its day, whether it is reached, and what it waits for."""
    from datetime import timedelta

    from trainer.document.words import day_word
    from trainer.reports.countdown import ADVICE
    from trainer.reports.numbers import numbers

    for stage in ready.stages:
        day = recital.day - timedelta(days=stage.days)
        state = ink("reached", INKS["holds"]) if stage.met else ink("not yet", INKS["fading"])
        due = "" if day >= view.day or stage.met else "; overdue"
        yield row(ink(f"{stage.name.capitalize()}, {day_word(day)}", "bold"), "   ", state, due)
        yield from wrapped(stage.asks, width)
        if not stage.met:
            waits = numbers(view, stage.waits_for) or "more that hold"
            yield from wrapped(f"Waiting for {waits}.", width, "$faint")
        yield ""
    yield from wrapped(ADVICE, width, "$faint")
