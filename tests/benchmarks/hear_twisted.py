"""The demo pieces played badly in many ways from every start, and what is heard of it.

    python -m tests.benchmarks.hear_twisted [--json]

Nothing is recorded here: each try is made from the score, by chances that are the same in every
run. For each way: the tries; how many were taken as begun where it was asked (of all but the last
rows they all should be, of the last rows none); how many times a beginning again was heard, where
there is one and where there is none; how many jumps were named; how many times the counts of
notes too many and of notes that lack were both right, where they are known.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from random import Random
from typing import Any

from trainer.demo import demo_pieces
from trainer.listen.alike import identical
from trainer.listen.match import Listener
from trainer.listen.model import Cluster, Entry, Hands, Heard, Verdict, Waiting
from trainer.listen.score import waiting

CHORDS = 24  # that are played from a start
AFTER = 1.0  # seconds of silence at the end
Keys = list[tuple[float, int]]  # seconds and pitch


@dataclass(frozen=True)
class Try:
    """What is played, and what is to be heard: notes `beside` the written and those that `lack`,
    None where that is not defined; whether it begins again; the start it jumps to."""

    keys: Keys
    accept: bool = True
    again: bool = False
    beside: int | None = None
    lack: int | None = None
    jump: str = ""


@dataclass(frozen=True)
class Case:
    """A start, the chords from there on, and chance."""

    ready: Waiting
    entry: Entry
    rng: Random

    @property
    def chords(self) -> Sequence[Cluster]:
        return self.ready.clusters[self.entry.at : self.entry.at + CHORDS]

    def others(self, count: int) -> list[Entry]:
        """The starts that do not sound like this one over some chords, nor lie beside it."""
        return [
            one
            for one in self.ready.entries
            if abs(one.at - self.entry.at) > 4
            and not identical(self.ready, self.entry.at, one.at, count)
        ]


def played(
    chords: Sequence[Cluster],
    rng: Random,
    *,
    at: float = 1.0,
    pace: float = 0.6,
    jitter: float = 0.01,
    spread: float = 0.03,
    rubato: float = 0.0,
    hands: Hands = "both",
) -> Keys:
    """Chords from `at` seconds on, `pace` seconds a quarter: each early or late by chance, its
    notes spread, the pace now and then another."""
    keys, time, before, own = [], at, chords[0].onset, pace
    for chord in chords:
        time += own * (chord.onset - before)
        before, own = chord.onset, pace * 2 ** rng.uniform(-rubato, rubato)
        struck = time + rng.gauss(0, jitter)
        pitches = chord.of(hands)
        for i, pitch in enumerate(pitches):
            keys.append((struck + spread * i / max(1, len(pitches) - 1), pitch))
    return sorted(keys)


def later(first: Keys, more: Keys, gap: float) -> Keys:
    """And more keys, `gap` seconds after the last."""
    return first + [(first[-1][0] + gap + time - more[0][0], pitch) for time, pitch in more]


def even(**how: Any) -> Callable[[Case], Try]:
    """With all notes, in some time."""

    def make(case: Case) -> Try:
        return Try(played(case.chords, case.rng, **how), beside=0, lack=0)

    return make


def one_hand(hands: Hands) -> Callable[[Case], Try | None]:
    def make(case: Case) -> Try | None:
        if sum(bool(chord.of(hands)) for chord in case.chords) < 6 or not case.chords[0].of(hands):
            return None
        return Try(played(case.chords, case.rng, hands=hands), beside=0, lack=0)

    return make


def faulty(share: float) -> Callable[[Case], Try]:
    """A share of the notes wrong, missed, or with another beside it; none of the last chord."""

    def make(case: Case) -> Try:
        rng, beside, lack = case.rng, 0, 0
        sound = played(case.chords, rng)
        safe = len(case.chords[-1].of("both"))
        keys = sound[-safe:]
        for time, pitch in sound[:-safe]:
            kind = rng.choice(("wrong", "missed", "extra")) if rng.random() < share else "right"
            if kind in ("right", "extra"):
                keys.append((time, pitch))
            if kind in ("wrong", "extra"):
                keys.append((time + 0.005, pitch + rng.choice((-2, -1, 1, 2))))
            beside += kind in ("wrong", "extra")
            lack += kind in ("wrong", "missed")
        return Try(sorted(keys), beside=beside, lack=lack)

    return make


def adorned(case: Case) -> Try:
    """Every third chord with a grace note before it, or its top note as a trill."""
    rng, keys = case.rng, []
    for number, (time, pitch) in enumerate(played(case.chords, rng)):
        if number % 3 == 1:
            keys.append((time - 0.07, pitch + rng.choice((-1, 1, 2))))
        keys.append((time, pitch))
        if number % 9 == 3:
            keys += [(time + 0.07 * k, pitch + 2 * (k % 2)) for k in range(1, 5)]
    return Try(sorted(keys))


def blurred(case: Case) -> Try:
    """Some chords struck once more, as where the pedal blurs what was caught."""
    keys = []
    for time, pitch in played(case.chords, case.rng):
        keys.append((time, pitch))
        if case.rng.random() < 0.2:
            keys.append((time + 0.12, pitch))
    return Try(sorted(keys))


def begun_again(count: int, gap: float) -> Callable[[Case], Try]:
    """Begun again after some chords; after one or two without a pause it is a stutter."""
    again = count > 2 or gap > 1

    def make(case: Case) -> Try:
        first = played(case.chords[:count], case.rng)
        return Try(later(first, played(case.chords, case.rng), gap), again=again, beside=0, lack=0)

    return make


def false_start(case: Case) -> Try:
    top = max(case.chords[0].of("both"))
    first = [(1.0 + 0.01 * i, top + away) for i, away in enumerate((-9, -6, 1))]
    return Try(later(first, played(case.chords, case.rng), 1.5), again=True, beside=3, lack=0)


def jumped(case: Case) -> Try | None:
    """On from another start after ten chords."""
    others = case.others(1)
    if not others or len(case.chords) < CHORDS:
        return None
    to = case.rng.choice(others)
    more = played(case.ready.clusters[to.at : to.at + 16], case.rng)
    if abs(to.at - case.entry.at - 10) < 4 or len(more) < 12:
        return None
    return Try(later(played(case.chords[:10], case.rng), more, 1.0), jump=to.id)


def octaves(case: Case) -> Try:
    """One note in ten an octave off."""
    rng = case.rng
    keys = [
        (time, pitch + rng.choice((-12, 12)) * (rng.random() < 0.1))
        for time, pitch in played(case.chords, rng)
    ]
    return Try(sorted(keys))


def cut_off(case: Case) -> Try:
    return Try(played(case.chords[:5], case.rng), beside=0, lack=0)


def elsewhere(case: Case) -> Try | None:
    """Another start, as like this one as there is."""

    def alike(one: Entry) -> int:
        theirs = case.ready.clusters[one.at : one.at + CHORDS]
        return sum(a.of("both") == b.of("both") for a, b in zip(case.chords, theirs, strict=False))

    others = case.others(12)
    if not others:
        return None
    other = max(others, key=alike)
    chords = case.ready.clusters[other.at : other.at + CHORDS]
    return Try(played(chords, case.rng), accept=False)


def noise(case: Case) -> Try:
    """The pitches of the place in any order and time."""
    pitches = [pitch for chord in case.chords for pitch in chord.of("both")]
    case.rng.shuffle(pitches)
    return Try([(1 + 0.25 * i, pitch) for i, pitch in enumerate(pitches)], accept=False)


WAYS: dict[str, Callable[[Case], Try | None]] = {
    "even": even(),
    "at twice the pace": even(pace=0.3),
    "at .62 of the pace": even(pace=0.97),
    "rubato": even(rubato=0.5),
    "unsteady by 50 ms": even(jitter=0.05),
    "chords spread over .25 s": even(spread=0.25),
    "notes struck again": blurred,
    "grace notes and trills": adorned,
    "right hand alone": one_hand("right"),
    "left hand alone": one_hand("left"),
    **{f"{share} % of errors": faulty(share / 100) for share in (5, 10, 20, 30, 40)},
    **{f"again after {count}, pause": begun_again(count, 1.5) for count in (1, 2, 3, 4, 6)},
    **{f"again after {count}, none": begun_again(count, 0.3) for count in (1, 2, 3, 4, 6)},
    "wrong chord, then right": false_start,
    "on from elsewhere": jumped,
    "octave slips": octaves,
    "cut off after 5 chords": cut_off,
    "the start most like it": elsewhere,
    "noise": noise,
}


def heard(case: Case, one: Try) -> Verdict:
    listener = Listener(case.ready, case.entry.id)
    for time, pitch in one.keys:
        listener.hear(Heard(min(127, max(0, pitch)), time))
    return listener.end(one.keys[-1][0] + AFTER)


def rows() -> Iterator[dict[str, object]]:
    pieces = [waiting(piece) for piece in demo_pieces()]
    for way, make in WAYS.items():
        found = []
        for number, ready in enumerate(pieces):
            for entry in ready.entries:
                case = Case(ready, entry, Random(f"{number} {entry.id} {way}"))
                one = make(case) if len(case.chords) > 8 else None
                if one:
                    found.append((one, heard(case, one)))
        counted = [(one, verdict) for one, verdict in found if one.beside is not None]
        exact = sum(
            (v.wrong + v.extra, v.wrong + v.missed) == (one.beside, one.lack) for one, v in counted
        )
        jumps = [(one, verdict) for one, verdict in found if one.jump]
        named = sum(v.jump is not None and one.jump in v.jump.same for one, v in jumps)
        restarted = sum(bool(verdict.restarts) for _, verdict in found)
        yield {
            "way": way,
            "tries": len(found),
            "accepted": sum(verdict.accepted for _, verdict in found),
            "should be": sum(one.accept for one, _ in found),
            "heard again": restarted,
            "is again": sum(one.again for one, _ in found),
            "jumps named": f"{named} of {len(jumps)}" if jumps else "",
            "counts exact": f"{exact} of {len(counted)}" if counted else "",
        }


def main() -> None:
    parser = argparse.ArgumentParser(description="Hear the demo pieces played badly.")
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    for row in rows():
        if given.json:
            print(json.dumps(row))
        else:
            print("  ".join(f"{name} {value}" for name, value in row.items() if value != ""))


if __name__ == "__main__":
    main()
