"""A student's days with the program, played through in a real terminal.

Each scene is a case that players and teachers know; the pieces are those that come with the
program. Where a day has to pass, it passes at a desk with a clock of its own.
"""

import re
import sys
from collections.abc import Collection
from datetime import timedelta
from functools import partial
from itertools import pairwise
from pathlib import Path

import pytest

from tests.pieces import Clock, today
from tests.terminal import Terminal, needs_tmux
from trainer.cli.common import make_desk
from trainer.deck.file import read_deck
from trainer.deck.model import Deck
from trainer.demo import bundled
from trainer.desk import Desk
from trainer.record.attempt import Outcome
from trainer.record.people import ProgrammeItem, Recital
from trainer.reports.view import where

pytestmark = needs_tmux

ROOT = str(Path(__file__).parents[2])
KEYS = {"through": "t", "nothing": "n"}


def trainer(db: Path, *words: str, size: tuple[int, int] = (80, 24), **env: str) -> Terminal:
    """`trainer WORDS` in a terminal of its own."""
    command = [sys.executable, "-m", "trainer", *words]
    return Terminal(
        command, size, {"PYTHONPATH": ROOT, "LC_ALL": "C.UTF-8", "TRAINER_DB": str(db), **env}
    )


def with_piece(db: Path, name: str, opened: range, **student: object) -> tuple[Desk, Deck]:
    """A desk with one of the program's own pieces, and a student to whom some starts are open."""
    desk = make_desk(db)
    piece = read_deck(bundled("decks") / f"{name}.deck.json")
    desk.store.pieces.add(piece, "a teacher's deck")
    pupil = desk.students.add("K.", **student)
    desk.students.choose(pupil)
    desk.store.settings.set("caution seen", "yes")
    desk.pieces.set_open(pupil, piece.deck, opened, opened=True)
    return desk, piece.deck


def played(desk: Desk, ago: int, deck: Deck, missed: Collection[int] = ()) -> None:
    """The open starts are tried cold so many days ago, none right after the one before it."""
    clock = Clock(desk.clock() - timedelta(days=ago))
    past = Desk(desk.store, clock, desk.new_id, desk.rng)
    view = past.views.of(past.students.find())
    tried = [start.number for start in deck.starts if start.id in view.open]
    for number in (*tried[1::2], *tried[::2]):
        past.attempts.add(
            view, deck, number, Outcome.NOTHING if number in missed else Outcome.THROUGH
        )
        clock.later(minutes=1)


def called(screen: str, desk: Desk, deck: Deck) -> int:
    """The number of the start that is called, by its place."""
    piece = desk.store.pieces.get(deck.id)
    places = {where(piece, start): start.number for start in deck.starts}
    below = screen[screen.rindex("────────") :]
    found = next((line.split("   ")[-1].strip() for line in below.splitlines()
                  if line.split("   ")[-1].strip() in places), "")  # fmt: skip
    assert found, screen
    return places[found]


def count(screen: str) -> str:
    """How far the drill is, such as "3 of 8"; "over" at its end."""
    found = re.search(r"\d+ of \d+|over", screen.splitlines()[0])
    return found.group() if found else ""


def comes_after(screen: str, before: str) -> bool:
    """Whether the next call stands whole on the screen, or the end."""
    now = count(screen)
    return now == "over" or (
        now not in ("", before) and "────────" in screen and "t through" in screen
    )


def test_a_child_misses_one_start_and_sees_when_it_comes_back(tmp_path: Path) -> None:
    """Six minutes in random order, one key a try. The missed start works on its third try, in the
    same drill or, where that has no room for it, after it: the map still shows the cold miss,
    and tomorrow it is among the calls."""
    db = tmp_path / "a.db"
    desk, deck = with_piece(db, "round-the-mill-wheel", range(1, 7), level="child", minutes=6.0)
    for ago in (10, 4):
        played(desk, ago, deck)
    order: list[int] = []
    tried = 0
    with trainer(db) as terminal:
        terminal.wait_for("begins.")
        terminal.keys("Enter")
        screen = terminal.wait_for("1 of 6")
        while count(screen) != "over":
            number = called(screen, desk, deck)
            order.append(number)
            assert "%" not in screen  # a child is shown places, not chances
            tried += number == 4
            before = count(screen)
            terminal.keys("n" if number == 4 and tried < 3 else "t")
            screen = terminal.wait_until(partial(comes_after, before=before), "the next call")
        tomorrow = today() + timedelta(days=1)
        ended = terminal.wait_for("next call")
        row = next(line for line in ended.splitlines() if re.search(r"\b4\b.*nothing", line))
        again = today() if tried < 3 else tomorrow  # a miss that found no room waits today
        assert f"{again.day} {again:%b}" in row
        while tried < 3:  # the drill had no room for it: it waits on the page of the day
            terminal.keys("Enter")
            terminal.wait_for("1 start left")
            terminal.keys("Enter")
            assert called(terminal.wait_for("1 of 1"), desk, deck) == 4
            tried += 1
            order.append(4)
            terminal.keys("n" if tried < 3 else "t")
            terminal.wait_for("over")
        terminal.keys("Enter")
        assert f"{len(order)} attempts today." in terminal.wait_for("Done for today.")
        terminal.keys("m")
        shown = terminal.wait_for("starts open")
        assert re.search(r"\b4[~!]", shown)
        assert re.search(r"\b1[✓~]", shown)  # soon after 3 a.m. the next day is far
        terminal.keys("Right", "Right", "Right", "Enter")
        assert "nothing" in terminal.wait_for("Cold attempts")
    assert sorted(set(order)) == [1, 2, 3, 4, 5, 6]
    assert all(after not in (one, one + 1) for one, after in pairwise(order[:4]))
    log = desk.store.log.attempts(desk.students.find().id)
    assert [one.outcome for one in log if one.start == deck.starts[3].id][2:] == [
        Outcome.NOTHING, Outcome.NOTHING, Outcome.THROUGH,
    ]  # fmt: skip
    later = Desk(desk.store, Clock(desk.clock() + timedelta(days=1)), desk.new_id, desk.rng)
    plan = later.views.of(later.students.find()).plan
    assert deck.starts[3].id in {slot.start for slot in plan.slots}


def test_another_start_was_begun_and_the_page_shows_where_they_part(tmp_path: Path) -> None:
    """Asked for one start, the student plays its twin: it is told where the two go apart."""
    db = tmp_path / "a.db"
    desk, deck = with_piece(db, "mist-on-the-upper-lock", range(1, 2))
    start = deck.starts[0]
    twin = deck.start(deck.kin(start.id)[0])
    with trainer(db) as terminal:
        terminal.wait_for("begins.")
        terminal.keys("Enter")
        terminal.wait_for("1 of 1")
        terminal.keys("e")
        terminal.wait_for("Where did you begin?")
        terminal.type(str(twin.number))
        terminal.keys("Enter")
        shown = " ".join(terminal.wait_for(f"began at start {twin.number}").split())
        assert "part" in shown or "instead of" in shown
    (attempt,) = desk.store.log.attempts(desk.students.find().id)
    assert attempt.outcome is Outcome.ELSEWHERE
    assert attempt.elsewhere == twin.id
    with trainer(db, "look-alikes", "1") as terminal:
        assert terminal.wait_end() == 0
        assert "instead of" in " ".join(terminal.screen().split())


def test_eight_weeks_before_the_recital_a_holiday_makes_the_plan_too_small(tmp_path: Path) -> None:
    """Four pieces, one played with music: the coverage of each, and a warning in time. Before
    enough was tried nothing is foretold."""
    db = tmp_path / "a.db"
    desk, deck = with_piece(db, "lanterns-along-the-towpath", range(1, 11), minutes=2.5)
    pupil = desk.students.find()
    others = ("mist-on-the-upper-lock", "rain-on-the-skylight", "the-heron-stands-and-looks")
    decks = [deck]
    for name in others:
        piece = read_deck(bundled("decks") / f"{name}.deck.json")
        desk.store.pieces.add(piece, "a teacher's deck")
        decks.append(piece.deck)
        if name != others[-1]:
            everyone = range(1, len(piece.deck.starts) + 1)
            desk.pieces.set_open(pupil, piece.deck, everyone, opened=True)
    day = today() + timedelta(days=56)
    items = [ProgrammeItem(one.id, "no" if n == 3 else "yes") for n, one in enumerate(decks)]
    desk.store.recitals.save(Recital("r", pupil.id, "Summer concert", day, tuple(items)))
    with trainer(db, "readiness") as terminal:
        assert terminal.wait_end() == 0
        early = " ".join(terminal.screen().split())
    assert "Too early to say how many starts will hold" in early
    assert "are likely to hold" not in early
    for ago in (13, 10, 7, 4, 1):
        for one in decks[:3]:
            played(desk, ago, one, range(3, 13, 3) if ago > 1 else ())
    with trainer(db, "readiness", size=(80, 60)) as terminal:
        assert terminal.wait_end() == 0
        before = terminal.screen()
    for title in ("Lanterns along", "Mist on the", "Rain on the"):
        assert title in before
    off = f"{today() + timedelta(days=15)} to {today() + timedelta(days=54)}"
    with trainer(db, "settings", "set", "off", off) as terminal:
        assert terminal.wait_end() == 0
    with trainer(db) as terminal:
        terminal.wait_for("begins.")
        terminal.keys("e")
        shown = " ".join(terminal.wait_for("likely to hold").split())
    assert likely(shown) < likely(before)
    assert "minutes a day would do more" in shown
    assert "With music: The Heron Stands and Looks" in shown


def likely(shown: str) -> int:
    """How many of the 28 starts are likely to hold at least."""
    found = re.search(
        r"With 2\.5 minutes a day (\d+)(?: to \d+)? of 28 starts are likely to hold",
        " ".join(shown.split()),
    )
    assert found, shown
    return int(found[1])


def test_by_ear_and_in_german_names(tmp_path: Path) -> None:
    """A drill line by line, as a screen reader follows it: a singer's start with its words, and
    the page in German names."""
    db = tmp_path / "a.db"
    # The starts that the voice begins: the others have neither words nor a cue.
    with_piece(db, "the-late-ferry", range(2, 6))[0].store.close()
    with trainer(db, "settings", "set", "names", "german") as terminal:
        assert terminal.wait_end() == 0
    with trainer(db, "drill", "--plain", size=(80, 60)) as terminal:
        terminal.wait_for("Call 1 of")
        for _ in range(5):
            terminal.keys("h", "Enter")
        hints = terminal.wait_for("Hint, cue")
        assert "Hint, words" in hints
        assert "Dur" in hints or "Moll" in hints
        terminal.keys("t", "Enter")
        terminal.wait_for("Call 2 of")
        terminal.keys("v", "Enter")
        page = terminal.wait_for("Left hand ")
        assert re.search(r"Bar \d+, beat", page)
        assert not set(page) & set("│┃█▓▒░")
        terminal.keys("q", "Enter")
        assert terminal.wait_end() == 0


@pytest.mark.parametrize("left", [1, 0, -5])
def test_the_day_before_the_day_itself_and_afterwards(left: int, tmp_path: Path) -> None:
    """The day before: a short list, nothing new. On the day: a warm-up. Then: maintenance."""
    db = tmp_path / "a.db"
    desk, deck = with_piece(db, "round-the-mill-wheel", range(1, 13), minutes=15.0)
    pupil = desk.students.find()
    for days in (30, 20, 12, 7, 3):
        past = Desk(desk.store, Clock(desk.clock() - timedelta(days=days)), desk.new_id, desk.rng)
        for number in range(1, 11):
            past.attempts.add(past.views.of(pupil), deck, number, Outcome.THROUGH)
    day = today() + timedelta(days=left)
    desk.store.recitals.save(Recital("r", pupil.id, "Concert", day, (ProgrammeItem(deck.id),)))
    with trainer(db, "today", size=(80, 60)) as terminal:
        assert terminal.wait_end() == 0
        shown = terminal.screen()
    starts = len(re.findall(r"^ *\d+  ", shown, flags=re.M))
    if left == 1:
        assert "tomorrow" in shown
        assert starts <= 16
    elif left == 0:
        assert "A warm-up for Concert today." in " ".join(shown.split())
        assert starts <= 6
    else:
        assert "Concert" not in shown
        assert starts > 0
