"""What is waited for, made from a score."""

from __future__ import annotations

from fractions import Fraction

from tests.listen.build import PIECE, WAITING
from trainer.listen.score import clusters, waiting_at
from trainer.score.model import Bar, Meter, Note, Score, Staff

BAR = Bar(0, "1", Fraction(0), Fraction(4), Meter(4, 4))


def written(*notes: Note, staves: tuple[Staff, ...] = (Staff(0, "a"), Staff(1, "b"))) -> Score:
    return Score("t", staves, (BAR,), notes)


def note(
    onset: int, pitch: int, staff: int = 0, *, tie: str = "", grace: bool = False, cue: bool = False
) -> Note:
    length = Fraction(0 if grace else 1)
    return Note(
        Fraction(onset), length, pitch, "C", 0, 4, staff, tie=tie, grace=grace, cue=cue  # type: ignore[arg-type]
    )  # fmt: skip


def test_a_tie_is_struck_once_a_unison_counts_once_and_a_cue_not_at_all() -> None:
    made = clusters(
        written(
            note(0, 60, tie="start"),
            note(0, 60, 1),
            note(0, 48, 1),
            note(1, 60, tie="stop"),
            note(1, 64),
            note(2, 50, cue=True),
            note(2, 52, 1),
        )
    )
    assert [(c.onset, c.right, c.left) for c in made] == [
        (0, (60,), (48, 60)),
        (1, (64,), ()),
        (2, (), (52,)),
    ]
    assert made[0].of("both") == (48, 60)


def test_a_grace_note_is_free_and_asks_for_nothing() -> None:
    made = clusters(written(note(0, 62, grace=True), note(0, 60), note(1, 64)))
    assert (made[0].of("both"), made[0].free) == ((60,), (62,))


def test_a_single_staff_has_no_left_hand() -> None:
    made = clusters(written(note(0, 40), staves=(Staff(0, "a"),)))
    assert (made[0].right, made[0].left) == ((40,), ())


def test_starts_stand_at_their_chords_and_know_the_next() -> None:
    assert [entry.id for entry in WAITING.entries] == [s.id for s in PIECE.deck.starts]
    onsets = [WAITING.clusters[entry.at].onset for entry in WAITING.entries]
    assert onsets == [float(s.onset) for s in PIECE.deck.starts]
    assert [entry.join for entry in WAITING.entries] == [
        *(entry.at for entry in WAITING.entries[1:]),
        len(WAITING.clusters),
    ]


def test_a_start_on_a_rest_stands_at_the_next_chord_and_one_at_the_end_is_left_out() -> None:
    score = written(note(0, 60), note(2, 62))
    made = waiting_at(score, [("a", Fraction(1)), ("b", Fraction(3))])
    assert [(entry.id, entry.at) for entry in made.entries] == [("a", 1)]
