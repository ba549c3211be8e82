"""What became of each note: the marks of a verdict."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.listen.build import WAITING, after, chords, heard, played
from trainer.listen.marks import REACH
from trainer.listen.model import Heard, Mark, Verdict

WRITTEN = {pitch for chord in WAITING.clusters for pitch in chord.of("both")}
FOREIGN = sorted(set(range(36, 96)) - WRITTEN)
quick = settings(deadline=None, max_examples=100)


def of_kind(verdict: Verdict, kind: str) -> list[Mark]:
    return [mark for mark in verdict.marks if mark.kind == kind]


def sums(verdict: Verdict, notes: Sequence[Heard]) -> None:
    """All that has to agree, whatever was played."""
    counted = Counter(mark.kind for mark in verdict.marks)
    assert counted["wrong"] == verdict.wrong
    assert counted["missed"] == verdict.missed
    assert counted["extra"] == verdict.extra
    written = [(mark.onset, mark.pitch) for mark in verdict.marks if mark.kind != "extra"]
    assert len(set(written)) == len(written)
    asked = {c.onset: set(c.of(verdict.hands)) for c in WAITING.clusters}
    for onset, pitch in written:
        assert onset is not None
        assert pitch in asked[onset]
    # every note that was marked was played, and no note was marked twice
    heard = Counter((note.pitch - verdict.shift, note.time) for note in notes)
    marked = Counter(
        (mark.pitch if mark.instead is None else mark.instead, mark.time)
        for mark in verdict.marks
        if mark.time is not None
    )
    assert marked <= heard
    assert all((mark.time is None) == (mark.kind == "missed") for mark in verdict.marks)
    assert all((mark.instead is None) == (mark.kind != "wrong") for mark in verdict.marks)
    places = [-1.0 if mark.onset is None else mark.onset for mark in verdict.marks]
    assert places == sorted(places)


@st.composite
def attempts(draw: st.DrawFn) -> list[Heard]:
    """Parts of the piece one after the other, with notes left out, put in and changed."""
    notes: list[Heard] = []
    for _ in range(draw(st.integers(1, 3))):
        first = draw(st.integers(0, 60))
        part = played(
            chords(first, first + draw(st.integers(1, 16))),
            hands=draw(st.sampled_from(("both", "right", "left"))),
        )
        if part:
            notes = after(notes, part, draw(st.sampled_from((0.1, 0.5, 2.0)))) if notes else part
    found = []
    for note in notes:
        fate = draw(st.sampled_from(("right", "right", "right", "left out", "changed", "added")))
        if fate != "left out":
            move = draw(st.integers(-3, 3)) if fate == "changed" else 0
            found.append(replace(note, pitch=note.pitch + move))
        if fate == "added":
            found.append(Heard(draw(st.integers(30, 100)), note.time + 0.05))
    return sorted(found, key=lambda note: note.time)


@given(attempts(), st.sampled_from((1, 2, 3, 4)))
@quick
def test_the_marks_agree_with_the_counts_whatever_is_played(notes: list[Heard], asked: int) -> None:
    sums(heard(notes, asked), notes)


@given(
    st.lists(st.tuples(st.integers(21, 108), st.floats(0, 3)), max_size=40),
    st.sampled_from((1, 2, 3, 4)),
)
@quick
def test_any_keys_at_all_are_marked_within_reason(
    keys: list[tuple[int, float]], asked: int
) -> None:
    time, notes = 0.0, []
    for pitch, step in keys:
        time += step
        notes.append(Heard(pitch, time))
    sums(heard(notes, asked), notes)


@given(st.integers(17, 32), st.data())
@quick
def test_what_is_played_as_written_is_all_right(until: int, data: st.DataObject) -> None:
    part = chords(16, until)
    verdict = heard(shuffled(played(part), data.draw(st.integers(0, 99)), 0.0), 2)
    if verdict.answer == "unsure":  # too few notes
        return
    assert {mark.kind for mark in verdict.marks} == {"right"}
    assert [(mark.onset, mark.pitch) for mark in verdict.marks] == [
        (chord.onset, pitch) for chord in part for pitch in chord.of("both")
    ]


def shuffled(notes: Sequence[Heard], seed: int, spread: float) -> list[Heard]:
    """The notes of each chord in another order, so many seconds apart. Foreign notes too."""
    chance = Random(seed)
    chords: dict[int, list[Heard]] = {}
    for note in notes:
        chords.setdefault(round(2 * note.time), []).append(note)
    found = []
    for half in sorted(chords):
        some = sorted(chords[half], key=lambda note: note.pitch)
        chance.shuffle(some)
        found += [replace(n, time=half / 2 + max(spread, 0.001) * i) for i, n in enumerate(some)]
    return found


@st.composite
def flawed(draw: st.DrawFn) -> tuple[list[Heard], Counter[tuple[str, int, float | None]]]:
    """Start 2 with a flaw at every fourth chord (all of two notes), from the first on: a note
    left out, changed or put in; and the marks that this makes. Foreign are only notes that the
    piece has not."""
    part = chords(16, 33)
    notes: list[Heard] = []
    expected: Counter[tuple[str, int, float | None]] = Counter()
    last = part[-1].onset
    for number, chord in enumerate(part):
        time = 1 + (chord.onset - 16) / 2
        pitches = list(chord.of("both"))
        fate = "right"
        if number % 4 == 0 and chord.onset < last:
            fate = draw(st.sampled_from(("right", "missed", "wrong", "extra")))
        gone = draw(st.sampled_from(pitches))
        foreign = draw(st.sampled_from([p for p in FOREIGN if abs(p - gone) <= REACH]))
        if fate in ("missed", "wrong"):
            pitches.remove(gone)
            expected[fate, gone, chord.onset] += 1
        elif fate == "extra":
            expected[fate, foreign, chord.onset] += 1
        expected.update(("right", pitch, chord.onset) for pitch in pitches)
        if fate in ("wrong", "extra"):
            pitches.append(foreign)
        notes += [Heard(pitch, time) for pitch in pitches]
    return notes, expected


@given(flawed(), st.integers(0, 99), st.sampled_from((0.001, 0.02, 0.04)))
@quick
def test_shuffled_and_spread_chords_change_nothing(
    attempt: tuple[list[Heard], Counter[tuple[str, int, float | None]]], seed: int, spread: float
) -> None:
    notes, expected = attempt
    verdict = heard(shuffled(notes, seed, spread), 2)
    found = Counter((mark.kind, mark.pitch, mark.onset) for mark in verdict.marks)
    assert found == expected


def test_what_was_put_right_by_beginning_again_is_right_and_kept() -> None:
    first = [replace(n, pitch=64) if n.pitch == 77 else n for n in played(chords(16, 20))]
    notes = after(first, played(chords(16, 28)), 1.5)
    verdict = heard(notes, 2)
    assert (len(verdict.restarts), verdict.wrong, verdict.missed, verdict.extra) == (1, 0, 0, 1)
    time = next(note.time for note in first if note.pitch == 64)
    assert of_kind(verdict, "extra") == [Mark("extra", 64, 18.0, time, earlier=True)]


def test_what_was_wrong_both_times_is_wrong_the_last_time() -> None:
    first = [replace(n, pitch=64) if n.pitch == 77 else n for n in played(chords(16, 20))]
    second = [replace(n, pitch=65) if n.pitch == 77 else n for n in played(chords(16, 28))]
    notes = after(first, second, 1.5)
    verdict = heard(notes, 2)
    times = [note.time for note in notes if note.pitch in (64, 65)]
    assert of_kind(verdict, "wrong")[0] == Mark("wrong", 77, 18.0, times[1], 65)
    assert of_kind(verdict, "extra") == [Mark("extra", 64, 18.0, times[0], earlier=True)]


def test_the_nearest_note_of_the_chord_is_the_one_that_was_meant() -> None:
    part = [note for note in played(chords(16, 28)) if note.pitch not in (50, 79)]
    part += [Heard(78, 3.0), Heard(51, 3.01)]  # for 79 and 50 at the fifth quarter
    verdict = heard(sorted(part, key=lambda note: note.time), 2)
    assert [(m.pitch, m.instead) for m in of_kind(verdict, "wrong") if m.onset == 20] == [
        (50, 51),
        (79, 78),
    ]


def test_a_note_too_far_away_stands_for_none() -> None:
    notes = [replace(n, pitch=96) if n.pitch == 50 else n for n in played(chords(16, 28))]
    verdict = heard(notes, 2)
    far = [mark.pitch for mark in verdict.marks if mark.onset == 20 and mark.kind != "right"]
    assert (far, verdict.wrong, verdict.missed, verdict.extra) == ([50, 96], 0, 1, 1)


def test_a_false_start_belongs_to_no_place() -> None:
    astray = [Heard(60, 0.5), Heard(64, 0.9), Heard(61, 1.3)]
    verdict = heard(after(astray, played(chords(16, 28)), 1.5), 2)
    assert of_kind(verdict, "extra") == [
        Mark("extra", note.pitch, None, note.time) for note in astray
    ]


def test_one_hand_alone_is_asked_for_its_own_notes_only() -> None:
    verdict = heard(played(chords(16, 32), hands="left"), 2)
    assert verdict.hands == "left"
    assert {mark.pitch for mark in verdict.marks} == {
        pitch for chord in chords(16, 32) for pitch in chord.left
    }
    assert not of_kind(verdict, "missed")


def test_what_did_not_come_any_more_is_not_missed() -> None:
    notes = [note for note in played(chords(16, 25)) if (note.time, note.pitch) != (5.0, 45)]
    verdict = heard(notes, 2)
    assert not of_kind(verdict, "missed")
    assert max(mark.onset or 0 for mark in verdict.marks) == 24
    assert all(mark.pitch != 45 or mark.onset != 24 for mark in verdict.marks)
