"""A piece of two hands made for these tests, and ways to play it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from msgspec.structs import replace

from tests.pieces import piece_of
from trainer.deck.model import Piece
from trainer.listen.match import Listener
from trainer.listen.model import Cluster, Heard, Policy, Verdict, Waiting
from trainer.listen.score import waiting
from trainer.score.model import Bar, Meter, Note, Score, Staff

RIGHT = (
    (72, 76, 79, 76), (77, 74, 71, 74), (72, 71, 72, 74), (76, 74, 72, 67),  # start 1
    (69, 72, 77, 81), (79, 77, 76, 74), (73, 76, 79, 82), (81, 79, 77, 76),  # start 2
    (72, 76, 79, 76), (77, 74, 71, 74), (75, 72, 68, 72), (70, 74, 77, 80),  # start 3: like 1
    (83, 79, 74, 71), (72, 69, 66, 69), (74, 70, 67, 70), (71, 67, 74, 72),  # start 4
)  # fmt: skip
LEFT = (
    (48, 55), (43, 50), (45, 52), (41, 48), (53, 57), (50, 53), (45, 49), (52, 57),
    (48, 55), (43, 50), (44, 51), (46, 53), (43, 55), (50, 54), (46, 58), (43, 48),
)  # fmt: skip
STARTS = (0, 16, 32, 48)
PART = 40  # the quarter at which starts 1 and 3 go different ways, along start 3


def spelled(pitch: int) -> tuple[str, int, int]:
    """Step, alter and octave of a pitch; black keys as sharps."""
    step = "CCDDEFFGGAAB"[pitch % 12]
    return step, int(pitch % 12 in (1, 3, 6, 8, 10)), pitch // 12 - 1


def score() -> Score:
    """Sixteen bars of 4/4: quarters in the right hand, halves in the left. The first two bars
    of start 3 are those of start 1."""
    meter = Meter(4, 4)
    bars = tuple(Bar(i, str(i + 1), Fraction(4 * i), Fraction(4), meter) for i in range(len(RIGHT)))
    notes = [
        Note(Fraction(4 * bar + beat), Fraction(1), pitch, *spelled(pitch), 0)
        for bar, pitches in enumerate(RIGHT)
        for beat, pitch in enumerate(pitches)
    ] + [
        Note(Fraction(4 * bar + 2 * half), Fraction(2), pitch, *spelled(pitch), 1)
        for bar, pitches in enumerate(LEFT)
        for half, pitch in enumerate(pitches)
    ]
    staves = (Staff(0, "piano", "right hand"), Staff(1, "piano", "left hand"))
    ordered = tuple(sorted(notes, key=lambda note: (note.onset, note.staff)))
    return Score("Two Boats", staves, bars, ordered)


PIECE: Piece = piece_of(score(), STARTS)
WAITING: Waiting = waiting(PIECE)


def start(number: int) -> str:
    return PIECE.deck.starts[number - 1].id


def chords(first: int, last: int) -> tuple[Cluster, ...]:
    """The chords from one quarter up to another."""
    return tuple(c for c in WAITING.clusters if first <= c.onset < last)


def played(
    some: Iterable[Cluster], *, at: float = 1.0, pace: float = 0.5, hands: str = "both"
) -> list[Heard]:
    """These chords played at a steady pace, in seconds a quarter, the first at `at` seconds."""
    kept = list(some)
    notes = []
    for chord in kept:
        time = at + pace * (chord.onset - kept[0].onset)
        pitches = chord.of("both") if hands == "both" else getattr(chord, hands)
        notes += [Heard(pitch, time + 0.005 * i) for i, pitch in enumerate(pitches)]
    return notes


def after(notes: Sequence[Heard], more: Iterable[Heard], gap: float) -> list[Heard]:
    """More notes after some, the first of them `gap` seconds after the last."""
    added = list(more)
    shift = notes[-1].time + gap - added[0].time
    return [*notes, *(replace(note, time=note.time + shift) for note in added)]


def heard(
    notes: Iterable[Heard], asked: int, *, until: float | None = None, policy: Policy | None = None
) -> Verdict:
    listener = Listener(WAITING, start(asked), policy or Policy())
    for note in notes:
        listener.hear(note)
    return listener.end(until)
