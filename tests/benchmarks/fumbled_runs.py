"""Whole performances with the fumbling of a student in them, and what is logged of it.

    python -m tests.benchmarks.fumbled_runs [--runs N] [--folder DIR] [--json]

The demo pieces are played through from the score, by chances that are the same in every run: with
repeats, wrong notes, and a pace that gives way. In each run one thing happens, at a chord drawn
anew each time. With --folder the notes are those of recorded performances (`runs/*.json.gz`, the
run of each file whose id is among `clean` of `labels.json`) in place of the demo pieces'.

For each way: the runs; in how many it was logged, as a slip or as a hesitation; in how many it was
only shown as "perhaps"; in how many the place where the playing broke and, for a slip, where it
was taken up are right to a bar; and the slips that were logged and are none. The last rows should
have no slips at all.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

from tests.benchmarks.follow_runs import runs
from trainer.deck import edit
from trainer.deck.model import Piece
from trainer.demo import demo_pieces
from trainer.listen.follow import Follower, Slip
from trainer.listen.model import Heard, exact
from trainer.listen.score import clusters
from trainer.score.read import read_score
from trainer.score.route import bar_route

MARGIN = 24  # chords at either end in which nothing happens
Notes = list[Heard]


@dataclass(frozen=True)
class Told:
    """What happened in a run: at which position (ql) it broke, and where it was taken up."""

    notes: Notes
    broke: float
    on: float


@dataclass(frozen=True)
class Played:
    """A clean performance: its notes, and each chord's first note (by number) and position."""

    piece: Piece
    notes: Notes
    chords: list[tuple[int, float]]

    def bar(self, onset: float) -> float:
        return float(self.piece.score.bar_at(exact(onset)).length)

    def back(self, at: int, quarters: float) -> int:
        """The chord that lies so many quarters before another, as it was played."""
        here = at
        while here > 0 and 0 <= self.chords[at][1] - self.chords[here][1] < quarters:
            here -= 1
        return here

    def cut(self, first: int, last: int) -> Notes:
        """The notes from one chord up to another."""
        end = self.chords[last][0] if last < len(self.chords) else len(self.notes)
        return self.notes[self.chords[first][0] : end]


def joined(*parts: tuple[float, Notes]) -> Notes:
    """Stretches of notes one after the other, each so many seconds after the last note."""
    made: Notes = []
    for gap, part in parts:
        if part:
            shift = made[-1].time + gap - part[0].time if made else 0.0
            made += [Heard(one.pitch, one.time + shift, one.velocity) for one in part]
    return made


def performed(piece: Piece, rng: Random, *, pace: float = 0.55) -> Played:
    """The piece on its route: each chord early or late by chance, some notes wrong or left out,
    the pace slower and faster by turns."""
    made: dict[int, list[int]] = {}
    score, all_chords = piece.score, clusters(piece.score)
    for number, chord in enumerate(all_chords):
        made.setdefault(score.bar_at(exact(chord.onset)).index, []).append(number)
    notes: list[tuple[Heard, int]] = []
    order: list[float] = []
    time, rate = 1.0, pace
    for visit in bar_route(score):
        begin = score.bars[visit.bar].start
        for number in made.get(visit.bar, ()):
            chord = all_chords[number]
            when = time + rate * (chord.onset - float(begin)) + rng.gauss(0, 0.012)
            for k, pitch in enumerate(chord.of("both")):
                if rng.random() < 0.02 and k:
                    continue
                wrong = rng.choice((-2, -1, 1, 2)) * (rng.random() < 0.02)
                notes.append((Heard(pitch + wrong, when + 0.008 * k), len(order)))
            order.append(chord.onset)
        time += rate * float(score.bars[visit.bar].length)
        rate = min(1.3 * pace, max(0.75 * pace, rate * 2 ** rng.uniform(-0.12, 0.12)))
    notes.sort(key=lambda one: (one[1], one[0].time))
    firsts: dict[int, int] = {}
    for place, (_, number) in enumerate(notes):
        firsts.setdefault(number, place)
    chords = [(firsts[number], order[number]) for number in sorted(firsts)]
    return Played(piece, [note for note, _ in notes], chords)


def recorded(folder: Path) -> Iterator[Played]:
    """The clean performances of a folder, with the chords as they are followed."""
    labels = json.loads((folder / "labels.json").read_text())
    for file in sorted((folder / "scores").iterdir()):
        score = read_score(file)
        first = min(note.onset for note in score.notes if note.sounds)
        piece = Piece(edit.new_deck(score, [(first, ())], ["a", "b"]), score)
        notes = next(some for name, some in runs(file) if labels[name]["kind"] == "clean")
        follower = Follower(piece)
        for note in notes:
            follower.hear(note)
        follower.end()
        numbers = {id(note): number for number, note in enumerate(notes)}
        chords: list[tuple[int, float]] = []
        for note, onset in follower.matched():
            if not chords or (onset != chords[-1][1] and numbers[id(note)] > chords[-1][0]):
                chords.append((numbers[id(note)], onset))
        yield Played(piece, notes, chords)


def strays(near: Notes, rng: Random, count: int) -> Notes:
    """Wrong notes near those that were played last, a third of a second apart."""
    pitches = [note.pitch for note in near[-8:]]
    return [
        Heard(rng.choice(pitches) + rng.choice((-3, -2, -1, 1, 2, 3)), 0.35 * k)
        for k in range(count)
    ]


def slowed(notes: Notes, seconds: float = 3.0) -> Notes:
    """The last seconds drawn out, up to twice as slow."""
    last = notes[-1].time - seconds
    return [
        one
        if one.time <= last
        else Heard(one.pitch, one.time + 0.5 * (one.time - last) ** 2 / seconds, one.velocity)
        for one in notes
    ]


def gone_back(
    quarters: Callable[[Played, int], float],
    *,
    gap: float,
    wrong: int = 0,
    slow: bool = False,
    tries: int = 1,
) -> Callable[[Played, int, Random], Told]:
    """Broken, and taken up again so many quarters further back; `tries` times in all, each after
    the same passage but for the last."""

    def make(one: Played, at: int, rng: Random) -> Told:
        first = one.cut(0, at)
        begin = one.back(at, quarters(one, at))
        parts = [(0.0, slowed(first) if slow else first)]
        if wrong:
            parts.append((0.5, strays(first, rng, wrong)))
        for _ in range(tries - 1):
            parts.append((gap, one.cut(begin, at)))
        parts.append((gap, one.cut(begin, len(one.chords))))
        return Told(joined(*parts), one.chords[at - 1][1], one.chords[begin][1])

    return make


def bars(count: float) -> Callable[[Played, int], float]:
    return lambda one, at: count * one.bar(one.chords[at][1])


def chords_back(count: int) -> Callable[[Played, int], float]:
    return lambda one, at: max(0.01, one.chords[at][1] - one.chords[at - count][1])


def start_before(one: Played, at: int) -> float:
    here = one.chords[at][1]
    before = [float(s.onset) for s in one.piece.deck.starts if float(s.onset) < here - 1]
    return here - before[-1] if len(before) > 1 else 4 * one.bar(here)


def gone_on(count: int, gap: float) -> Callable[[Played, int, Random], Told]:
    """Some bars left out after wrong notes."""

    def make(one: Played, at: int, rng: Random) -> Told:
        first, to = one.cut(0, at), at
        wanted = count * one.bar(one.chords[at][1])
        while to + 1 < len(one.chords) and 0 <= one.chords[to][1] - one.chords[at][1] < wanted:
            to += 1
        parts = (0.0, first), (0.5, strays(first, rng, 3)), (gap, one.cut(to, len(one.chords)))
        return Told(joined(*parts), one.chords[at - 1][1], one.chords[to][1])

    return make


def clean(one: Played, at: int, _rng: Random) -> Told:
    return Told(one.notes, one.chords[at - 1][1], one.chords[at][1])


def corrected(one: Played, at: int, rng: Random) -> Told:
    """A wrong note put right at once, without a hole."""
    first = one.cut(0, at)
    parts = (0.0, first), (0.3, strays(first, rng, 1)), (0.3, one.cut(at - 1, len(one.chords)))
    return Told(joined(*parts), one.chords[at - 1][1], one.chords[at - 1][1])


SLIPS: dict[str, Callable[[Played, int, Random], Told]] = {
    "back two bars, 3 s": gone_back(bars(2), gap=3.0),
    "back two bars at once": gone_back(bars(2), gap=0.5),
    "back two bars, wrong notes, slowing": gone_back(bars(2), gap=1.5, wrong=4, slow=True),
    "two tries at a bar": gone_back(bars(1), gap=1.0, tries=2),
    "three tries at a bar, wrong notes": gone_back(bars(1), gap=1.0, wrong=3, tries=3),
    "back to the start before": gone_back(start_before, gap=2.0, wrong=2, slow=True),
    "on by four bars, wrong notes": gone_on(4, 1.0),
    "on by two bars after 3 s": gone_on(2, 3.0),
}
HELD: dict[str, Callable[[Played, int, Random], Told]] = {
    "the last chord again after 3 s": gone_back(chords_back(1), gap=3.5),
    "3 s before a chord, slowing": gone_back(chords_back(0), gap=4.5, slow=True),
}
NONE: dict[str, Callable[[Played, int, Random], Told]] = {
    "clean": clean,
    "a wrong note put right": corrected,
    "the last two chords again at once": gone_back(chords_back(2), gap=0.4),
    "the last chord twice again at once": gone_back(chords_back(1), gap=0.4, tries=3),
}


def main() -> None:
    parser = argparse.ArgumentParser(description="Follow performances with fumbling in them.")
    parser.add_argument("--runs", type=int, default=3, help="runs of each piece and way")
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    if given.folder:
        some = list(recorded(given.folder))
    else:
        some = [performed(piece, Random(7)) for piece in demo_pieces()]
    rows = {}
    for ways in (SLIPS, HELD, NONE):
        for name, make in ways.items():
            rows[name] = row(some, make, given.runs, slip=ways is SLIPS)
            if not given.json:
                print(
                    f"{name:<38}" + "  ".join(f"{k} {v}" for k, v in rows[name].items()), flush=True
                )
    if given.json:
        print(json.dumps(rows, indent=1))


def row(
    some: Sequence[Played], make: Callable[[Played, int, Random], Told], count: int, *, slip: bool
) -> dict[str, Any]:
    found = {"runs": 0, "logged": 0, "perhaps": 0, "both ends": 0, "other slips": 0}
    for number, one in enumerate(some):
        rng = Random(number)
        for _ in range(count):
            at = rng.randrange(MARGIN, len(one.chords) - MARGIN)
            told = make(one, at, rng)
            slips = followed(one.piece, told.notes)
            near = [it for it in slips if is_near(it, told, one)]
            sure = [it for it in near if it.sure and (it.kind == "hesitation") != slip]
            right = [it for it in sure if not slip or is_taken_up(it, told, one)]
            found["runs"] += 1
            found["logged"] += bool(sure)
            found["perhaps"] += not sure and any(not it.sure for it in near)
            found["both ends"] += bool(right)
            kept = [it for it in slips if it.sure and it.kind != "hesitation"]
            found["other slips"] += sum(not slip or it not in near for it in kept)
    return found


def followed(piece: Piece, notes: Notes) -> list[Slip]:
    follower = Follower(piece)
    for note in notes:
        follower.hear(note)
    return list(follower.end())


def is_near(slip: Slip, told: Told, one: Played) -> bool:
    return abs(float(slip.broke_at) - told.broke) <= one.bar(told.broke)


def is_taken_up(slip: Slip, told: Told, one: Played) -> bool:
    on = slip.taken_up_at
    return on is not None and abs(float(on) - told.on) <= one.bar(told.on)


if __name__ == "__main__":
    main()
