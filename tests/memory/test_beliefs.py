"""The grid over what is not known, and what each kind of try does to it."""

from __future__ import annotations

import subprocess
import sys
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.memory.build import at, attempt, deck
from trainer.deck.model import Former, Start
from trainer.memory import cache
from trainer.memory.evidence import Part, weigh
from trainer.memory.model import Beliefs, believe
from trainer.record.attempt import Attempt, Outcome, Witness
from trainer.record.log import Written

DECKS = {"d": deck(6)}
PARTS: tuple[Part, ...] = ("both", "start", "join")


def beliefs_of(log: list[Attempt]) -> Beliefs:
    return believe(weigh(log, DECKS))


def chance(beliefs: Beliefs, days: float, start: str = "s1") -> float:
    return beliefs.expected([start], at(days))[0]


TRIES = st.lists(
    st.builds(
        attempt,
        st.integers(0, 4000).map(lambda n: n / 100),
        st.sampled_from([start.id for start in DECKS["d"].starts]),
        st.sampled_from(list(Outcome)),
        drill=st.sampled_from(["cold", "cold", "cold", "joins", "away", "run-through"]),
        judge=st.sampled_from(["self", "heard"]),
        latency=st.none() | st.floats(0, 40),
        hints=st.sampled_from([(), ("key",)]),
        elsewhere=st.sampled_from(["", "s2", "s5"]),
        heard=st.none()
        | st.builds(
            Witness,
            st.sampled_from(list(Outcome)),
            st.sampled_from(["", "s3"]),
            wrong=st.integers(0, 9),
            notes=st.integers(0, 20),
            sure=st.floats(0, 1),
        ),
    ),
    max_size=40,
    unique_by=lambda one: one.id,
)


@settings(max_examples=60, deadline=None)
@given(TRIES, st.integers(0, 40))
def test_one_by_one_equals_replay_to_the_bit(log: list[Attempt], cut: int) -> None:
    tries = weigh(log, DECKS)
    replayed = believe(tries)
    grown = believe(tries[:cut])
    for one in tries[cut:]:
        grown = grown.taken([one])
    restored = cache.find(cache.keep(believe(tries[:cut])))
    assert restored is not None
    assert cache.same(grown, replayed)
    assert cache.same(restored.taken(tries[cut:]), replayed)


@settings(max_examples=60, deadline=None)
@given(TRIES, st.floats(0, 800))
def test_chances_are_chances_and_fade(log: list[Attempt], later: float) -> None:
    beliefs = beliefs_of(log)
    for start in DECKS["d"].starts:
        for part in PARTS:
            now = beliefs.retention(start.id, at(40), part)
            then = beliefs.retention(start.id, at(40 + later), part)
            if now.chance is None:
                assert now.tries == 0
                continue
            assert now.low is not None
            assert now.high is not None
            assert then.chance is not None
            assert 0 < now.low <= now.chance <= now.high < 1
            assert then.chance <= now.chance + 1e-12
            assert 0 <= now.held <= now.tries
        both, begins, joins = (beliefs.retention(start.id, at(40), part) for part in PARTS)
        if joins.chance is not None:
            assert both.chance == pytest.approx((begins.chance or 0.0) * joins.chance)


BASE = [attempt(0), attempt(1), attempt(3)]


def test_repeats_of_the_same_day_move_little_and_lengthen_nothing() -> None:
    repeats = [attempt(3 + i / 100, id=f"r{i}") for i in range(1, 8)]
    before, after = beliefs_of(BASE), beliefs_of(BASE + repeats)
    assert abs(chance(after, 10) - chance(before, 10)) < 0.05
    trace, was = after.trace("s1"), before.trace("s1")
    assert trace is not None
    assert was is not None
    assert before.table is not None
    assert after.table is not None
    assert (after.table[trace.row, 0] == before.table[was.row, 0]).all()
    assert (trace.tries, trace.held) == (3, 3)


def test_a_miss_in_the_morning_stays_after_it_works_in_the_evening() -> None:
    missed = [*BASE, attempt(8, outcome=Outcome.NOTHING)]
    again = [*missed, attempt(8.01), attempt(8.02)]
    assert chance(beliefs_of(again), 12) - chance(beliefs_of(missed), 12) < 0.05
    assert beliefs_of(again).retention("s1", at(9)).held == 3


@pytest.mark.parametrize("fields", [{"drill": "run-through"}, {"drill": "slip"}])
def test_a_cued_success_says_less_than_a_cold_one(fields: dict[str, Any]) -> None:
    cold, cued = [*BASE, attempt(10)], [*BASE, attempt(10, **fields)]
    assert chance(beliefs_of(BASE), 20) < chance(beliefs_of(cued), 20)
    assert chance(beliefs_of(cued), 20) < chance(beliefs_of(cold), 20)


def test_a_hint_makes_a_success_say_less_and_a_failure_more() -> None:
    for outcome in (Outcome.THROUGH, Outcome.NOTHING):
        alone = beliefs_of([*BASE, attempt(10, outcome=outcome)])
        helped = beliefs_of([*BASE, attempt(10, outcome=outcome, hints=("key",))])
        assert chance(alone, 20) > chance(helped, 20)


def test_away_from_the_instrument_counts_half_and_apart() -> None:
    away = beliefs_of([*BASE, attempt(10, drill="away")])
    assert chance(beliefs_of(BASE), 20) < chance(away, 20)
    assert chance(away, 20) < chance(beliefs_of([*BASE, attempt(10)]), 20)
    assert away.retention("s1", at(11)).tries == 3


def test_a_quick_start_that_was_heard_says_more_than_a_slow_one() -> None:
    def after(latency: float | None) -> float:
        heard = [attempt(d, judge="heard", latency=latency) for d in (0, 1, 3, 7)]
        # Another start gives the student's usual pace.
        usual = [attempt(d, "s4", judge="heard", latency=2.0) for d in (0.1, 1.1, 3.1, 7.1)]
        return chance(beliefs_of(heard + usual), 20)

    assert after(0.8) > after(2.0) > after(9.0)
    assert after(31.0) == pytest.approx(after(None), abs=0.02)  # an interruption


def test_what_was_begun_instead_is_remembered() -> None:
    beliefs = beliefs_of([attempt(0, outcome=Outcome.ELSEWHERE, elsewhere="s4")])
    assert beliefs.confusions == {("s1", "s4"): 1}
    assert beliefs.trace("s4") is None


def test_a_start_that_was_split_off_borrows_its_parents_ease_only() -> None:
    hard = [attempt(d, outcome=Outcome.NOTHING) for d in range(8)]
    child = attempt(9, "s7", outcome=Outcome.NOTHING)
    plain_deck = deck(7)
    starts = (*plain_deck.starts[:6], Start("s7", 7, plain_deck.starts[6].onset, parent="s1"))
    split = {"d": deck(7, starts=starts)}
    lent = believe(weigh([*hard, child], split))
    alone = believe(weigh([*hard, child], {"d": plain_deck}))
    assert chance(lent, 11, "s7") < chance(alone, 11, "s7")
    assert lent.retention("s7", at(10)).tries == 1


def test_an_attempt_merged_late_is_replayed_in_its_place() -> None:
    late = attempt(1, "s2", Outcome.NOTHING, judge="heard", machine="other")
    log = [attempt(d, judge="heard", latency=1.5 + d) for d in range(4)]
    assert cache.same(beliefs_of([*log, late]), beliefs_of([late, *reversed(log)]))


def test_the_students_hardness_is_learned_across_starts() -> None:
    def others(outcome: Outcome) -> list[Attempt]:
        return [attempt(d + i / 50, f"s{i}", outcome) for d in range(8) for i in (2, 4, 6)]

    first = attempt(9, "s1", Outcome.LOOKED)
    easy, hard = (
        beliefs_of([*others(Outcome.THROUGH), first]),
        beliefs_of([*others(Outcome.NOTHING), first]),
    )
    assert chance(easy, 10) > chance(hard, 10) + 0.05


def test_always_clean_ends_sure_but_never_certain() -> None:
    log = [attempt(d, start.id) for d in range(60) for start in DECKS["d"].starts]
    beliefs = beliefs_of(log)
    assert 0.9 < chance(beliefs, 61) < 1
    assert chance(beliefs, 61 + 730) < chance(beliefs, 61)


def test_daylight_saving_and_travel_count_real_hours() -> None:
    log = [attempt(0), attempt(1)]
    moved = [attempt(0), attempt(1, when=at(1).astimezone(ZoneInfo("Asia/Tokyo")))]
    assert chance(beliefs_of(log), 5) == chance(beliefs_of(moved), 5)


@pytest.mark.parametrize("data", [b"", b"\x00", b"not beliefs", b"\x80"])
def test_a_spoiled_cache_is_no_beliefs(data: bytes) -> None:
    assert cache.find(data) is None
    assert cache.find(cache.keep(beliefs_of(BASE))[:-9]) is None


def test_importing_the_model_does_not_import_numpy() -> None:
    code = "import sys, trainer.memory.model, trainer.memory.planner; print('numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def kept_of(log: Written, count: int) -> cache.Remembered | None:
    """The beliefs after the first so many tries, as they are kept."""
    onward = cache.go_on(log, DECKS, None)
    return cache.to_remember(log, DECKS, onward, believe(onward.tries[:count]), count)


def gone_on(log: Written, kept: cache.Remembered | None) -> Beliefs:
    onward = cache.go_on(log, DECKS, kept)
    return onward.beliefs.taken(onward.tries)


@settings(max_examples=60, deadline=None)
@given(TRIES, st.integers(0, 40), st.integers(0, 40))
def test_remembered_beliefs_are_the_replayed_ones_to_the_bit(
    some: list[Attempt], cut: int, begun: int
) -> None:
    log = Written(sorted(some, key=lambda one: (one.at, one.id)))
    tries = weigh(log.attempts, DECKS)
    kept = kept_of(Written(log.attempts[:begun]), cut)
    assert cache.same(gone_on(log, kept), believe(tries))
    if kept and kept.basis.mark.attempts < len(tries):  # once more, from what was kept
        onward = cache.go_on(log, DECKS, kept)
        count = len(onward.tries) // 2
        settled = onward.beliefs.taken(onward.tries[:count])
        again = cache.to_remember(log, DECKS, onward, settled, count)
        assert cache.same(gone_on(log, again), believe(tries))


LOG = [attempt(n, f"s{n % 5 + 1}") for n in range(12)]


def test_kept_beliefs_need_only_what_came_since() -> None:
    kept = kept_of(Written(LOG), 12)
    assert kept
    more = Written([*LOG, attempt(13, "s1"), attempt(13.02, "s1", Outcome.NOTHING)])
    onward = cache.go_on(more, DECKS, kept)
    assert [one.attempt.at for one in onward.tries] == [at(13), at(13.02)]
    assert onward.kept is kept


@pytest.mark.parametrize(
    "changed",
    [
        [*LOG, attempt(3.5, "s6", Outcome.NOTHING)],  # one that arrives late
        LOG[1:],  # one that was taken back
        [*LOG, attempt(11.2, "s1")],  # one of a day that was thought to be over
        [*LOG, attempt(12, "s1", amends=LOG[4].id)],  # a correction of an earlier one
    ],
)
def test_a_log_that_reads_otherwise_is_replayed(changed: list[Attempt]) -> None:
    kept = kept_of(Written(LOG), 12)
    log = Written(sorted(changed, key=lambda one: (one.at, one.id)))
    assert kept
    assert cache.go_on(log, DECKS, kept).kept is None
    assert cache.same(gone_on(log, kept), believe(weigh(log.attempts, DECKS)))


def test_beliefs_of_another_form_or_deck_are_replayed() -> None:
    log = Written(LOG)
    kept = kept_of(log, 12)
    assert kept
    assert cache.go_on(log, DECKS, kept).kept
    assert not cache.go_on(log, {}, kept).kept
    older = replace(kept, basis=replace(kept.basis, form=1))
    assert not cache.go_on(log, DECKS, older).kept
    broken = replace(kept, content=kept.content[:-9])
    assert cache.same(gone_on(log, broken), believe(weigh(LOG, DECKS)))


def test_beliefs_are_kept_of_whole_days_only() -> None:
    log = Written([*LOG, attempt(11.1, "s1")])
    assert kept_of(log, 12) is None
    assert kept_of(log, 13)


def test_a_word_on_a_start_leaves_kept_beliefs_standing() -> None:
    [deck_id] = DECKS
    deck = DECKS[deck_id]
    kept = kept_of(Written(LOG), 12)
    advised = replace(deck, starts=tuple(replace(one, advice=("Breathe.",)) for one in deck.starts))
    assert cache.go_on(Written(LOG), {deck_id: advised}, kept).kept
    joined = replace(deck, former=(Former("s9", 9, Fraction(0), "merged", "s1"),))
    assert not cache.go_on(Written(LOG), {deck_id: joined}, kept).kept


def test_a_long_log_on_few_starts_can_still_be_planned_with() -> None:
    outcomes = {"s1": Outcome.NOTHING, "s2": Outcome.THROUGH}
    log = [attempt(n / 3, f"s{n % 2 + 1}", outcomes[f"s{n % 2 + 1}"]) for n in range(2400)]
    found = beliefs_of(log)
    for start in outcomes:
        kept = found.retention(start, at(801))
        assert kept.chance is not None
        assert 0 <= (kept.low or 0) <= kept.chance <= (kept.high or 0) <= 1
