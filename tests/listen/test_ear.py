"""One try from the call to its end: when it is over, and that it does not matter who looks when."""

from __future__ import annotations

import tracemalloc
from collections.abc import Iterable, Sequence
from random import Random
from time import process_time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.listen.build import WAITING, after, chords, played, start
from trainer.errors import TrainerError
from trainer.listen.ear import MOST, Ear, Listening, Patience
from trainer.listen.match import Listener
from trainer.listen.model import Heard, Policy, Verdict
from trainer.listen.port import Event, MemoryPort
from trainer.listen.signs import Means, Signs

QUICK = Patience()
PHRASE = chords(16, 32)  # start 2; its join is at quarter 32
TICK = 1 / 30


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


class Try:
    """A try at a start, played on a port with a clock that is moved."""

    def __init__(self, asked: int = 2, signs: Signs | None = None, called: float = 50.0) -> None:
        self.clock = Clock()
        self.clock.now = self.called = called
        self.port = MemoryPort(self.clock)
        self.ear = Ear(WAITING, start(asked), signs=signs, since=called)
        self.now = Listening()

    def look(self) -> Listening:
        self.now = self.ear.listen(self.port.take(), self.clock.now, connected=self.port.connected)
        return self.now

    def wait(self, seconds: float) -> Listening:
        """Let time pass, and look thirty times a second."""
        end = self.clock.now + seconds
        while self.clock.now < end:
            self.clock.now = min(end, self.clock.now + TICK)
            self.look()
        return self.now

    def play(self, notes: Iterable[Heard]) -> Listening:
        """Play notes, in seconds since the call; those after the end as well."""
        for note in notes:
            self.wait(self.called + note.time - self.clock.now)
            self.port.play(note.pitch, note.velocity)
        return self.look()

    def ended_after(self, most: float = 60.0) -> float | None:
        """How many seconds from now on it is over; None where it is not."""
        begin = self.clock.now
        assert not self.now.ended
        while not self.wait(TICK).ended:
            if self.clock.now > begin + most:
                return None
        return self.clock.now - begin


def ended_after(notes: Sequence[Heard], asked: int = 2) -> float | None:
    one = Try(asked)
    one.play(notes)
    return one.ended_after()


# when a try is over


@pytest.mark.parametrize(
    ("until", "pace", "silence"),
    [
        (36, 0.5, QUICK.beyond),  # a bar into the next phrase, whatever is written there
        (36, 1.2, QUICK.beyond),  # slowly
        (36, 0.2, QUICK.beyond),
        (33, 0.5, QUICK.arrived),  # its first chord
        (32, 0.5, QUICK.within),  # the last of the phrase: the join may come yet
        (22, 0.5, QUICK.within),  # within the phrase
        (22, 2.8, 2.8 + QUICK.over),  # slowly: a quarter is held
    ],
)
def test_the_silence_that_ends_a_try(until: int, pace: float, silence: float) -> None:
    assert ended_after(played(chords(16, until), pace=pace)) == pytest.approx(silence, abs=0.1)


def test_the_last_chord_of_the_piece_is_soon_over() -> None:
    assert ended_after(played(chords(48, 64)), 4) == pytest.approx(QUICK.arrived, abs=0.1)


def test_a_phrase_of_another_start_is_over_as_soon() -> None:
    assert ended_after(played(chords(48, 64)), 2) == pytest.approx(QUICK.arrived, abs=0.1)
    assert ended_after(played(chords(0, 20)), 2) == pytest.approx(QUICK.beyond, abs=0.1)


def test_one_who_plays_on_is_not_stopped() -> None:
    one = Try()
    assert not one.play(played(chords(16, 64))).ended
    verdict = judged(one)
    assert verdict.accepted
    assert verdict.join_reached
    assert verdict.reached is not None
    assert 32 < verdict.reached < 48  # and what is played later is not judged
    assert (verdict.stopped, verdict.wrong, verdict.missed, verdict.extra) == (False, 0, 0, 0)


def judged(one: Try) -> Verdict:
    if not one.now.ended:
        assert one.ended_after() is not None
    return one.ear.verdict


def test_what_is_played_after_the_phrase_does_no_harm() -> None:
    rng = Random(5)
    noise = [Heard(rng.randrange(40, 90), 0.3 * i) for i in range(60)]
    one = Try()
    one.play(after(played(chords(16, 46)), noise, 0.5))
    verdict = judged(one)
    assert verdict.accepted
    assert verdict.join_reached
    assert (verdict.wrong, verdict.missed, verdict.extra) == (0, 0, 0)


@pytest.mark.parametrize("seconds", [2.0, 2.5, 2.9])
@pytest.mark.parametrize("until", [20, 22, 32])
def test_one_who_stops_and_saves_it_is_heard_to_the_end(until: int, seconds: float) -> None:
    one = Try()
    one.play(after(played(chords(16, until)), played(chords(until, 36)), seconds))
    verdict = judged(one)
    assert verdict.join_reached
    assert [pause.onset for pause in verdict.pauses] == [until]


def test_one_who_breaks_off_is_heard_as_such() -> None:
    one = Try()
    one.play(played(chords(16, 22)))
    verdict = judged(one)
    assert verdict.accepted
    assert (verdict.stopped, verdict.join_reached, verdict.reached) == (True, False, 21)


@pytest.mark.parametrize("length", [1, 2, 4, 6, 8])
def test_a_wrong_beginning_then_the_right_one(length: int) -> None:
    one = Try()
    one.play(after(played(chords(48, 48 + length)), played(chords(16, 36)), 2.8))
    verdict = judged(one)
    assert verdict.accepted
    assert verdict.join_reached
    assert verdict.restarts or verdict.pauses


def test_a_right_beginning_begun_again() -> None:
    one = Try()
    one.play(after(played(chords(16, 24)), played(chords(16, 36)), 2.8))
    verdict = judged(one)
    assert verdict.join_reached
    assert verdict.left == (23,)


def test_a_look_alike_is_over_where_its_own_phrase_is() -> None:
    one = Try(3)
    one.play(played(chords(0, 20)))
    assert one.ended_after() == pytest.approx(QUICK.beyond, abs=0.1)
    assert one.ear.verdict.played == start(1)


def test_a_jump_over_the_join_does_not_cross_it() -> None:
    one = Try()
    one.play(after(played(chords(16, 20)), played(chords(48, 51)), 0.8))
    silence = one.ended_after()
    assert silence is not None
    assert silence > QUICK.within


def test_a_long_rest_that_is_written_is_no_silence() -> None:
    clusters = [
        replace(cluster, onset=cluster.onset + 12 * (cluster.onset >= 20))
        for cluster in WAITING.clusters
    ]
    waiting = replace(WAITING, clusters=tuple(clusters))
    ear = Ear(waiting, start(2))
    for note in played(waiting.clusters[16:20]):
        ear.hear(Event(note.pitch, note.time))
    assert (clusters[19].onset, clusters[20].onset) == (19, 32)
    last, due = ear.now.last, ear.now.due
    assert last is not None
    assert due is not None
    assert due - last == pytest.approx(13 * 0.5 + QUICK.over, abs=0.1)


# what is no try


def test_an_hour_of_silence_then_the_start() -> None:
    one = Try()
    for _ in range(3600):
        one.clock.now += 1
        assert not one.look().ended
    assert one.now == Listening()
    notes = [replace(note, time=note.time + 3600) for note in played(chords(16, 36))]
    one.play(notes)
    assert judged(one).latency == pytest.approx(3601, abs=TICK)


def test_a_key_that_is_touched_ends_nothing() -> None:
    one = Try()
    one.play([Heard(61, 1.0), Heard(40, 5.0), Heard(61, 9.0)])
    assert one.ended_after(600) is None
    assert one.now.onset is None
    late = [replace(note, time=note.time + 700) for note in played(chords(16, 36))]
    one.play(late)
    assert judged(one).accepted


def test_what_was_played_before_the_call_belongs_to_no_try() -> None:
    clock = Clock()
    port = MemoryPort(clock)
    for note in played(chords(48, 60)):
        clock.now = note.time
        port.play(note.pitch)
    ear = Ear(WAITING, start(2), since=clock.now + 1)
    assert ear.listen(port.take(), clock.now + 2) == Listening()


def test_a_key_that_a_keyboard_sends_twice_is_one() -> None:
    """As those do that play two sounds at once, on two channels."""
    one = Try()
    notes = played(chords(16, 36))
    one.play(sorted((*notes, *(replace(n, time=n.time + 0.004) for n in notes)), key=heard_at))
    assert one.now.notes == len(notes)
    assert judged(one).extra == 0


def heard_at(note: Heard) -> float:
    return note.time


def test_an_unknown_start_is_refused() -> None:
    with pytest.raises(TrainerError, match="no start 'x'"):
        Ear(WAITING, "x")


# where the player is


def test_the_place_is_told_as_it_goes() -> None:
    one = Try()
    places = []
    for chord in chords(16, 40):
        at = 1 + 0.5 * (chord.onset - 16)
        one.play([Heard(pitch, at + 0.002 * i) for i, pitch in enumerate(chord.of("both"))])
        places.append(one.now.onset)
    known = [place for place in places if place is not None]
    assert known == [chord.onset for chord in chords(16, 40)][-len(known) :]
    assert len(known) >= len(places) - 3
    assert one.now.said is not None
    assert (one.now.said.answer, one.now.said.leading) == ("yes", start(2))


# cables and other keyboards


def test_a_cable_that_is_pulled_is_no_silence() -> None:
    one = Try()
    one.play(played(chords(16, 22)))
    one.port.pull()
    assert one.ended_after(600) is None
    assert one.now.lost
    one.port.plug()
    again = Ear(WAITING, start(2), since=one.clock.now)  # the call stands: it is heard anew
    one.ear, one.called, one.now = again, one.clock.now, Listening()
    one.play(played(chords(16, 36)))
    assert not one.now.lost
    assert judged(one).join_reached


def test_a_cable_that_comes_in_before_the_first_note_loses_nothing() -> None:
    one = Try()
    one.port.pull()
    one.wait(3)
    one.port.plug()
    assert not one.play(played(chords(16, 36), at=4.0)).lost
    assert judged(one).join_reached


def test_a_cable_that_goes_after_the_join_changes_nothing() -> None:
    """As when a program that played has come to its end."""
    one = Try()
    one.play(played(chords(16, 36)))
    one.port.pull()
    assert one.ended_after() == pytest.approx(QUICK.beyond, abs=0.1)
    assert one.ear.verdict.join_reached


def test_a_lost_try_ends_with_a_key() -> None:
    one = Try()
    one.play(played(chords(16, 22)))
    one.port.pull()
    one.wait(2)
    one.ear.finish(one.clock.now)
    assert one.look().ended
    assert one.ear.verdict.accepted


def test_the_player_ends_it_with_a_key() -> None:
    one = Try()
    one.play(played(chords(16, 22)))
    one.wait(1.0)
    one.ear.finish(one.clock.now)
    one.port.play(60)
    assert one.look().ended
    verdict = one.ear.verdict
    assert (verdict.notes, verdict.stopped) == (len(played(chords(16, 22))), False)
    assert one.ear.verdict is verdict  # worked out once


# signs


@pytest.mark.parametrize(("presses", "sign"), [(1, "next"), (2, "again"), (3, "stop")])
def test_a_sign_ends_the_try_and_is_no_note_of_it(presses: int, sign: str) -> None:
    one = Try(signs=Signs())
    one.play(played(chords(16, 22)))
    one.wait(0.4)
    for _ in range(presses):
        one.port.play(21)
        one.wait(0.3)
    one.wait(1)
    assert (one.now.ended, one.now.sign) == (True, sign)
    verdict = one.ear.verdict
    assert (verdict.notes, verdict.extra) == (len(played(chords(16, 22))), 0)
    assert not verdict.stopped  # the silence before it was short


def test_a_sign_before_any_note_ends_it_with_nothing_heard() -> None:
    one = Try(signs=Signs(Means(pedal=67)))
    one.wait(3)
    one.port.pedal(67)
    assert not one.look().ended
    assert one.wait(1).sign == "next"
    assert one.now.ended
    assert one.ear.verdict.notes == 0


def test_a_sign_after_the_end_is_still_heard() -> None:
    one = Try(signs=Signs())
    one.play(played(chords(16, 36)))
    assert one.wait(3).ended
    assert one.now.sign is None
    one.port.play(21)
    assert one.wait(1).sign == "next"


def test_a_sign_that_comes_as_the_silence_runs_out() -> None:
    """The key is held back until it is known to be a sign; meanwhile nothing is over."""
    one = Try(signs=Signs())
    one.play(played(chords(16, 22)))
    assert one.now.due is not None
    one.wait(one.now.due - one.clock.now - 0.3)
    one.port.play(21)
    assert not one.wait(0.5).ended
    assert one.wait(0.2).sign == "next"


def test_a_low_note_in_the_middle_is_a_wrong_note() -> None:
    notes = played(chords(16, 36))
    slip = replace(notes[9], pitch=21, time=notes[9].time + 0.1)
    one = Try(signs=Signs())
    one.play([*notes[:10], slip, *notes[10:]])
    assert one.now.sign is None
    assert judged(one).extra == 1


def test_a_sign_that_the_piece_has_itself_is_music() -> None:
    one = Try(signs=Signs(Means((72, 76, 79, 76))), asked=1)
    one.play(played(chords(0, 20), hands="right"))
    assert one.now.sign is None
    assert judged(one).accepted


# whoever looks, and however often

NEARBY = st.tuples(st.sampled_from((0.0, 0.01, 0.1, 0.4, 1.5, 4.0)), st.sampled_from((21, 48, 60)))


@settings(max_examples=60, deadline=None)
@given(
    st.integers(1, 4),
    st.integers(1, 4),
    st.integers(2, 24),
    st.sampled_from((0.1, 0.5, 1.6)),
    st.lists(NEARBY, max_size=12),
    st.lists(st.integers(0, 40), max_size=12),
    st.lists(st.floats(0, 8), max_size=12),
)
def test_any_portions_and_any_looks_give_the_same_verdict(
    asked: int,
    begun: int,
    length: int,
    pace: float,
    others: list[tuple[float, int]],
    portions: list[int],
    looks: list[float],
) -> None:
    notes = played(chords(16 * (begun - 1), 16 * (begun - 1) + length), pace=pace)
    events = [Event(note.pitch, note.time) for note in notes]
    time = notes[len(notes) // 2].time
    for step, pitch in others:
        time += step
        events.append(Event(pitch, time) if pitch != 60 else Event(0, time, 127, pedal=67))
    events.sort(key=lambda event: event.time)
    told = []
    for together in (False, True):
        ear = Ear(WAITING, start(asked), signs=Signs())
        at = 0
        if together:
            for portion, look in zip(portions, looks, strict=False):
                some = events[at : at + portion]
                at += len(some)
                soon = events[at].time if at < len(events) else 1e6
                ear.listen(some, min(soon, (some[-1].time if some else 0.0) + look))
        else:
            for event in events:
                ear.tick(event.time)
                ear.hear(event)
            at = len(events)
        now = ear.listen(events[at:], 1e6)
        told.append((now, ear.verdict))
    assert told[0] == told[1]


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 4), st.integers(0, 40), st.integers(1, 30))
def test_a_whole_try_is_judged_as_a_recorded_one(asked: int, first: int, length: int) -> None:
    """Up to the end the verdict is that of the listener on the same notes."""
    notes = played(chords(first, first + length))
    ear, listener = Ear(WAITING, start(asked)), Listener(WAITING, start(asked))
    for note in notes:
        ear.hear(Event(note.pitch, note.time))
        listener.hear(note)
    assert not ear.now.ended
    ear.finish(notes[-1].time)
    if ear.verdict.notes == len(notes):  # all were judged
        assert ear.verdict == listener.end()


# floods


def random_events(count: int, every: float, rng: Random) -> list[Event]:
    return [
        Event(0, every * i, 100, rng.choice((64, 66, 67)))
        if rng.random() < 0.1
        else Event(rng.randrange(21, 109), every * i, rng.randrange(1, 128))
        for i in range(count)
    ]


@pytest.mark.parametrize("every", [1e-4, 0.02])
def test_a_flood_neither_blocks_nor_piles_up(every: float) -> None:
    """Ten thousand random events a second for five seconds, or fifty a second for as many: after
    the notes that are listened to all is passed over cheaply."""
    ear = Ear(WAITING, start(2), signs=Signs())
    events = random_events(50_000, every, Random(1))
    spent = []
    tracemalloc.start()
    try:
        for thousand in range(0, len(events), 1000):
            portion = events[thousand : thousand + 1000]
            began = process_time()
            now = ear.listen(portion, portion[-1].time)
            spent.append(process_time() - began)
            if thousand == 5000:
                before = tracemalloc.get_traced_memory()[0]
        grown = tracemalloc.get_traced_memory()[0] - before
    finally:
        tracemalloc.stop()
    assert grown < 100_000
    assert not now.ended
    assert max(spent[10:]) < max(spent[:3]) + 0.05
    assert ear.listen((), events[-1].time + 60).ended
    verdict = ear.verdict
    assert verdict.notes <= MOST
    assert not verdict.accepted


def test_policy_may_listen_to_fewer() -> None:
    ear = Ear(WAITING, start(2), Policy(most=10))
    for note in played(chords(16, 36)):
        ear.hear(Event(note.pitch, note.time))
    assert ear.now.notes > 10
    assert ear.verdict.notes == 10
