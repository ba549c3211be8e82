"""Tries taken up side by side, against the same tries taken up one by one."""

from __future__ import annotations

from random import Random

import pytest
from msgspec.structs import replace

from tests.memory.build import at, attempt, deck
from trainer.deck.model import Deck
from trainer.memory import cache
from trainer.memory.evidence import Try, weigh
from trainer.memory.model import Beliefs, believe
from trainer.record.attempt import Attempt, Outcome, Witness

STARTS = 126
KINDS = ["cold"] * 6 + ["joins", "away", "run-through"]


def family() -> Deck:
    """A deck where some starts were split off from others, and one of these was split again."""
    plain = deck(STARTS)
    parents = {"s5": "s1", "s6": "s1", "s7": "s6", "s8": "s7", "s40": "s2"}
    starts = (replace(one, parent=parents.get(one.id, "")) for one in plain.starts)
    return replace(plain, starts=tuple(starts))


def made(seed: int, count: int, *, heard: bool) -> tuple[Try, ...]:
    """Tries of many kinds, a dozen a day, half of them at eight starts."""
    rng = Random(seed)
    return weigh([one_of(rng, n / 12, heard=heard) for n in range(count)], {"d": family()})


def one_of(rng: Random, days: float, *, heard: bool) -> Attempt:
    start = rng.randint(1, rng.choice((8, STARTS)))
    outcome = rng.choices(list(Outcome), (6, 2, 2, 2, 2, 1))[0]
    one = attempt(
        days, f"s{start}", outcome, drill=rng.choice(KINDS), seconds=rng.uniform(5, 40),
        hints=rng.choice(((), (), ("key",))),
        elsewhere="s3" if outcome is Outcome.ELSEWHERE else "",
    )  # fmt: skip
    if not heard:
        return one
    told = Witness(rng.choice(list(Outcome)), wrong=rng.randint(0, 9), notes=20, sure=rng.random())
    return replace(one, judge="heard", latency=rng.uniform(0, 8), heard=told)


@pytest.mark.parametrize("heard", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_tries_in_any_pieces_are_the_same_replay_to_the_bit(seed: int, heard: bool) -> None:
    tries = made(seed, 700, heard=heard)
    whole, rng, done = believe(tries), Random(seed), 0
    grown = believe(())
    while done < len(tries):
        count = rng.choice((1, 1, 2, 15, 200))
        grown = grown.taken(tries[done : done + count])
        done += count
    assert cache.same(grown, whole)
    kept = cache.find(cache.keep(whole))
    assert kept is not None
    at_last = tries[-1].attempt.at
    starts = [start.id for start in family().starts]
    assert kept.chances(starts, at_last) == whole.chances(starts, at_last)


def seen(beliefs: Beliefs, start: str) -> list[float]:
    trace = beliefs.trace(start)
    assert trace is not None
    assert beliefs.table is not None
    return [float(one) for one in beliefs.table[trace.row].ravel()]


def test_within_a_day_one_start_says_nothing_of_another() -> None:
    """So that a day's attempts may be taken up side by side; the student is settled overnight."""
    mine = [attempt(0, "s3"), attempt(1, "s3", Outcome.NOTHING)]
    others = [attempt(1 + n / 100, f"s{n}", Outcome.NOTHING) for n in range(4, 20)]
    alone, beside = believe(weigh(mine, {})), believe(weigh([*mine, *others], {}))
    assert seen(alone, "s3") == seen(beside, "s3")
    assert alone.retention("s3", at(2)) != beside.retention("s3", at(2))


def test_a_try_is_held_against_the_pace_of_the_morning() -> None:
    """The seconds of other starts tell from the next day on."""

    def day(number: float, latency: float) -> list[Attempt]:
        return [
            attempt(number, "s2", judge="heard", latency=latency),
            attempt(number + 0.01, "s1", judge="heard", latency=2.0),
        ]

    def after(*days: list[Attempt]) -> list[float]:
        return seen(believe(weigh([one for day in days for one in day], {})), "s1")

    first, second = day(0, 1.0), day(1, 1.0)
    assert after(first, second) == after(first, day(1, 8.0))
    assert after(first, second, day(2, 1.0)) != after(first, day(1, 8.0), day(2, 1.0))


def test_what_a_start_borrows_is_what_its_parent_had_seen_till_then() -> None:
    parent = [attempt(n, "s1", Outcome.NOTHING) for n in range(6)]
    child = attempt(2.5, "s5")
    decks = {"d": family()}
    before = believe(weigh([*parent[:3], child], decks))
    assert seen(believe(weigh([*parent, child], decks)), "s5") == seen(before, "s5")
    assert seen(before, "s5") != seen(believe(weigh([*parent[:2], child], decks)), "s5")


def test_what_was_cued_refreshes_half() -> None:
    cold, cued = [
        believe(weigh([attempt(0, "s1"), attempt(4, "s1", drill=drill)], {}))
        for drill in ("cold", "run-through")
    ]
    assert [(t := one.trace("s1")) and t.last for one in (cold, cued)] == [at(4), at(2)]
