"""The values of listening: what is waited for, what may pass, and what was heard."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from msgspec import field

from trainer.values import Frozen

Hands = Literal["both", "right", "left"]
Answer = Literal["yes", "no", "unsure"]
SURE = 0.5  # the chance of a note from which on it can begin, break off and end something
FINE = 960  # places are told to this part of a quarter

Passes = Literal["accept", "reject"]


class Heard(Frozen, frozen=True):
    """A key that went down: `pitch` a MIDI note number, `time` in seconds since the call on a
    clock that never goes back, `velocity` 1 to 127. `chance`, 0 to 1, is how likely it is that it
    went down at all: less than 1 where a microphone heard it."""

    pitch: int
    time: float
    velocity: int = 64
    chance: float = 1.0


class Cluster(Frozen, frozen=True):
    """What is struck at one onset (in quarter notes from the beginning), hand by hand, each pitch
    once. `free` notes may come and are not missed: grace notes that lead to it."""

    onset: float
    right: tuple[int, ...]
    left: tuple[int, ...]
    free: tuple[int, ...] = ()

    def of(self, hands: Hands) -> tuple[int, ...]:
        """The pitches that these hands strike, in order, each once."""
        if hands == "both":
            return tuple(sorted({*self.right, *self.left}))
        return self.right if hands == "right" else self.left


class Entry(Frozen, frozen=True):
    """A start: its id, the index of the cluster where it begins, and that of the cluster where
    the next one begins, or the count of clusters where none does."""

    id: str
    at: int
    join: int


class Waiting(Frozen, frozen=True):
    """The chords of a piece in order, and its starts in order of place."""

    clusters: tuple[Cluster, ...]
    entries: tuple[Entry, ...]


class Costs(Frozen, frozen=True):
    """What each thing that goes wrong costs in the comparison; a unit is about one natural
    logarithm of its chance. `_gap` stands for the same after a pause. Chosen on recorded
    attempts with invented errors; the same for all pieces."""

    extra: float = 3.0  # one note too many
    ornament: float = 1.5  # one beside the note before, quickly after it
    free: float = 0.3  # a grace note
    again: float = 2.5  # a note of the chord once more
    miss: float = 2.0  # a note left out
    skip: float = 0.5  # each chord passed over, besides its notes
    late: float = 0.5  # a note of the chord before, after one of this
    lag: float = 2.5  # if that is not soon
    back: float = 3.0
    back_gap: float = 2.0
    back_step: float = 0.5
    restart: float = 8.0
    restart_gap: float = 3.0
    jump: float = 9.0
    jump_gap: float = 7.0
    pre: float = 3.0  # a note before the story begins
    pre_gap: float = 3.5  # a false start, then a pause
    pre_note: float = 1.0
    skip_start: float = 1.0  # to begin a few notes late
    upbeat: float = 1.0  # to begin a little before
    hand: float = 5.0  # one hand alone
    end_miss: float = 0.5  # a note that lacks in the last chord


class Policy(Frozen, frozen=True):
    """What passes as begun where it was asked, and when it is said.

    The first four are for a teacher to choose. By default an upbeat of at most `upbeat_ql`
    quarter notes may be played first, and one hand alone is heard as that start; an octave off
    or transposed is told, and does not pass.
    """

    upbeat: Passes = "accept"
    octave: Passes = "reject"
    transposed: Passes = "reject"
    one_hand: Passes = "accept"
    upbeat_ql: float = 2.0
    margin: float = 1.0  # how much dearer than the best other story the asked one may be
    doubt: float = 1.36  # above it what was heard is no more like the piece than its shuffled notes
    first: int = 4  # notes before something is said
    silence: float = 2.5  # seconds after the last note that count as a stop
    hesitation: float = 1.2  # seconds beyond what the notes ask for
    most: int = 2000  # notes of one attempt that are listened to
    costs: Costs = Costs()


class Provisional(Frozen, frozen=True):
    """What can be said after a note. `leading` is the start that explains it best; `lead` by how
    much the asked start is ahead of all others, negative where it is behind. `final`: the
    note that tells the asked start from its look-alikes has come, or the answer is plain."""

    notes: int
    answer: Answer
    leading: str
    lead: float
    final: bool


class Jump(Frozen, frozen=True):
    """Went on from another start: the seconds, the start, and all that sound the same so far."""

    time: float
    to: str
    same: tuple[str, ...]


class Pause(Frozen, frozen=True):
    """A hole: when it began, how many seconds it lasted beyond the written, and the position
    (ql) of the chord before which it was."""

    time: float
    seconds: float
    onset: float


MarkKind = Literal["right", "wrong", "missed", "extra"]


class Mark(Frozen, frozen=True):
    """What became of one written note, or of a played one that stands in nobody's place.

    `pitch` is the written one, of an extra note the played one. `onset` is the position (ql) of
    its chord; of an extra note, that of the chord beside which it came, None before the beginning.
    `time` is when it was played, or what was played `instead` of it; None where nothing was.
    `earlier`: an extra note of a playing that was left, and its place gone over again.
    """

    kind: MarkKind
    pitch: int
    onset: float | None
    time: float | None = None
    instead: int | None = None
    earlier: bool = False


class Verdict(Frozen, frozen=True):
    """What was heard in one attempt.

    `played` is the start that explains it best, empty where nothing of the piece was
    recognised; `same` all starts note-identical over what was played. `latency` is the seconds
    from the call to the first note that belongs, None where none did. `wrong` notes stand in
    the place of a missed one, `extra` in nobody's; foreign notes before a false start are
    extra. `broke_at` is the position (ql) where the playing stopped, jumped, or hesitated
    most. `tempo` is in quarter notes a minute, `steadiness` from 0 to 1 (the share of an even
    beat that is kept). `parts` is the position, counted along the asked start, where it and
    the played one go different ways. `shift` is in semitones. `sure` gives 0 to 1 for each
    finding, by its name. The join of the last start is the last chord; `joined` is the seconds
    at which the join was come to, None where it was not or by a jump. `marks` has each written
    note of all chords that were gone through, in order of place, and each extra one; as many are
    wrong, missed and extra as the counts say. Where `shift` is not 0 their pitches are those that
    would have been played without it. Where a microphone heard it, not `counted`: single notes
    are not sure enough to be told as wrong, and there are no counts and no marks.
    """

    asked: str
    answer: Answer
    accepted: bool
    played: str
    same: tuple[str, ...] = ()
    notes: int = 0
    latency: float | None = None
    upbeat: bool = False
    wrong: int = 0
    missed: int = 0
    extra: int = 0
    restarts: tuple[float, ...] = ()  # the seconds at which it was begun again
    left: tuple[float | None, ...] = ()  # and the position (ql) left, None before it
    stopped: bool = False
    pauses: tuple[Pause, ...] = ()
    jump: Jump | None = None
    broke_at: float | None = None
    reached: float | None = None  # the position (ql) of the last chord that was played
    join_reached: bool = False
    joined: float | None = None
    tempo: float | None = None
    steadiness: float | None = None
    hands: Hands = "both"
    parts: float | None = None
    shift: int = 0
    marks: tuple[Mark, ...] = ()
    counted: bool = True
    sure: dict[str, float] = field(default_factory=dict)


def exact(onset: float) -> Fraction:
    """A position (ql) as the score has it."""
    return Fraction(onset).limit_denominator(FINE)
