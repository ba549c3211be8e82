from __future__ import annotations

from fractions import Fraction

import pytest

from tests.memory.build import at, attempt, deck
from trainer.deck.model import Piece
from trainer.memory.evidence import weigh
from trainer.memory.model import Beliefs, believe
from trainer.memory.readiness import readiness, recovery
from trainer.record.attempt import Attempt, Outcome
from trainer.record.people import ProgrammeItem, Recital
from trainer.score.model import Bar, Meter, Score, Staff

DECK = deck(5)
DAY = at(12)


def recital(*items: ProgrammeItem) -> Recital:
    return Recital("r", "p", "the concert", DAY.date(), items or (ProgrammeItem("d"),))


def beliefs(*failing: str, starts: tuple[str, ...] = ("s1", "s2", "s3", "s4")) -> Beliefs:
    log: list[Attempt] = []
    for day in (0, 1, 3, 6, 10):
        for i, start in enumerate(starts):
            outcome = Outcome.NOTHING if start in failing else Outcome.THROUGH
            log.append(attempt(day + i / 24, start, outcome))
    return believe(weigh(log, {}))


OPEN = frozenset(["s1", "s2", "s3", "s4", "s5"])


def test_the_expected_number_and_the_chance_of_all() -> None:
    known = beliefs()
    (piece,) = readiness(recital(), known, OPEN, {"d": DECK}, DAY).pieces
    chances = [known.retention(s, DAY).chance or 0.0 for s in ("s1", "s2", "s3", "s4")]
    assert piece.lost == pytest.approx(sum(1 - chance for chance in chances))
    assert piece.untried == ("s5",)
    assert (piece.open, piece.closed) == (5, 0)
    product = 1.0
    for chance in chances:
        product *= chance
    assert piece.all_hold is not None
    # What is not known of the student is shared, so together is likelier than the product,
    # and no likelier than the least likely alone.
    assert product < piece.all_hold < min(chances)


def test_all_hold_of_one_start_is_its_chance() -> None:
    known = beliefs("s2")
    for start in ("s1", "s2"):
        alone = known.hopes([start], DAY).all_hold([start])
        assert alone == pytest.approx(known.retention(start, DAY).chance)
    assert known.hopes([], DAY).all_hold([]) == 1.0


def test_the_weakest_come_first_and_what_holds_is_not_named() -> None:
    (piece,) = readiness(recital(), beliefs("s3"), OPEN, {"d": DECK}, DAY).pieces
    assert piece.weakest[0].start == "s3"
    chances = [place.retention.chance or 0.0 for place in piece.weakest]
    assert chances == sorted(chances)
    assert all(place.retention.band != "holds" for place in piece.weakest)


def test_a_piece_played_with_music_is_left_out_and_a_missing_deck_too() -> None:
    items = (ProgrammeItem("d", "no"), ProgrammeItem("gone"))
    assert readiness(recital(*items), beliefs(), OPEN, {"d": DECK}, DAY).pieces == ()


def test_nothing_tried_gives_no_figure() -> None:
    found = readiness(recital(), believe(()), OPEN, {"d": DECK}, DAY)
    assert found.pieces[0].all_hold is None
    assert found.pieces[0].untried == ("s1", "s2", "s3", "s4", "s5")
    assert not any(stage.met for stage in found.stages)


def test_the_stages_wait_for_what_is_missing() -> None:
    four = frozenset(["s1", "s2", "s3", "s4"])
    ready = {s.days: s for s in readiness(recital(), beliefs(), four, {"d": DECK}, DAY).stages}
    assert ready[28].met
    assert ready[14].met
    not_yet = {
        s.days: s for s in readiness(recital(), beliefs("s2"), OPEN, {"d": DECK}, DAY).stages
    }
    assert not_yet[28].waits_for == ("s5",)
    assert not_yet[14].waits_for == ("s2", "s5")
    assert not_yet[7].waits_for == ("s2", "s5")


def piece_of_bars() -> Piece:
    """Five phrases of two bars in 4/4, played once, then the second again."""
    bars = tuple(Bar(i, str(i + 1), Fraction(4 * i), Fraction(4), Meter(4, 4)) for i in range(10))
    played = deck(5, route=("s1", "s2", "s3", "s4", "s5", "s2"))
    return Piece(played, Score("Study", (Staff(0, ""),), bars, ()))


def test_the_way_back_in_is_the_first_start_ahead_that_holds() -> None:
    known = beliefs("s2", "s3")
    catches = recovery(piece_of_bars(), known, at(11))
    assert [c.bar for c in catches] == [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 2, 3]
    by_place = {(c.step, c.bar): c for c in catches}
    s4 = known.retention("s4", at(11))
    assert s4.band == "holds"
    first = by_place[0, 0]
    assert (first.start, first.lost) == ("s4", 6)
    assert first.chance == pytest.approx(s4.chance)
    assert (by_place[0, 1].start, by_place[0, 1].lost) == ("s4", 5)
    # After s4 only s5 (untried) and s2 (failing) come: nothing ahead holds.
    assert by_place[3, 6].start == ""
    assert by_place[3, 6].chance is None
    assert by_place[5, 3].lost == 1


def test_a_start_that_is_left_out_is_not_closed() -> None:
    some = frozenset(["s1", "s2"])
    (piece,) = readiness(
        recital(), beliefs(), some, {"d": DECK}, DAY, left_out=frozenset(["s5"])
    ).pieces
    assert (piece.open, piece.closed) == (2, 2)


def test_a_start_whose_join_fails_is_no_place_to_go_on_from() -> None:
    """However well it begins: one rule says what holds, here as on every page."""
    log = [
        attempt(day, "s4", Outcome.BROKE_OFF if day % 2 else Outcome.THROUGH) for day in range(10)
    ]
    known = believe(weigh(log, {}))
    assert known.retention("s4", at(10), "start").band == "holds"
    assert all(not catch.start for catch in recovery(piece_of_bars(), known, at(10)))
