"""The signs beside the notes: on the lettered staff, in the table, in the legend, and in words."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.draw.scores import F, note, score
from trainer.draw.layout import Style
from trainer.draw.names import NAMINGS, written
from trainer.draw.page import FORMS, Form, drawing, page
from trainer.draw.signs import LINES, SIGNS
from trainer.draw.speech import spoken
from trainer.score.model import Mark, MarkKind, Note, Score, Sign, SignKind

WORDS = {
    Sign("trill"): ("tr", "trill"),
    Sign("trill", above=-1): ("tr♭", "trill with flat above"),
    Sign("turn", above=1, below=0): ("tu♯♮", "turn with sharp above and natural below"),
    Sign("inverted turn"): ("iu", "inverted turn"),
    Sign("delayed turn"): ("du", "turn after the note"),
    Sign("delayed inverted turn"): ("di", "inverted turn after the note"),
    Sign("mordent", below=1): ("mo♯", "mordent with sharp below"),
    Sign("short trill"): ("st", "short trill"),
    Sign("slide"): ("sl", "slide"),
    Sign("tremolo", strokes=3): ("tm", "tremolo"),
    Sign("arpeggio"): ("ar", "arpeggio"),
    Sign("arpeggio up"): ("a^", "arpeggio upwards"),
    Sign("arpeggio down"): ("av", "arpeggio downwards"),
    Sign("not arpeggiated"): ("[", "struck together"),
    Sign("staccato"): (".", "staccato"),
    Sign("staccatissimo"): ("'", "staccatissimo"),
    Sign("tenuto"): ("_", "tenuto"),
    Sign("accent"): (">", "accent"),
    Sign("marcato"): ("^", "marcato"),
    Sign("portato"): ("-.", "portato"),
}
MARKS = {
    Mark("pedal", F(0), staff=0, end=F(2)): ("Ped", "pedal"),
    Mark("octave", F(0), "8vb", 0, F(2)): ("8vb", "8vb octave line, named as it sounds"),
    Mark("glissando", F(0), staff=0, end=F(2)): ("gl", "glissando"),
    Mark("trill line", F(0), staff=0, end=F(2)): ("tr~", "trill line"),
    Mark("tremolo", F(0), staff=0, end=F(2), value=3): ("tm-", "tremolo with the next note"),
    Mark("breath", F(0), staff=0, end=F(1)): (",", "breath after the note"),
    Mark("fermata", F(0), end=F(1)): ("(.)", "fermata"),
    Mark("dynamic", F(0), "crescendo", 0, F(2)): ("<", "getting louder"),
    Mark("dynamic", F(0), "diminuendo", 0, F(2)): (">>", "getting softer"),
    Mark("dynamic", F(0), "sfz", 0): ("sfz", "sforzando"),
}
OVER_ALL = {
    Mark("tempo", F(0), "Lento", value=50): "Lento, 50 quarters a minute",
    Mark("text", F(0), "dolce", 0): "dolce",
    Mark("rehearsal", F(0), "B"): "B",
}


def with_sign(*signs: Sign, marks: tuple[Mark, ...] = ()) -> Score:
    first = replace(note(0, 2, "C5"), signs=signs)
    return score([first, note(2, 2, "E5"), note(0, 4, "C3", 1)], marks=marks, bars=1)


def test_every_kind_has_a_text_of_its_own_that_is_no_note() -> None:
    assert set(SIGNS) == set(get_args(SignKind)) == {s.kind for s in WORDS} | {"slashed"}
    texts = [text for text, _ in (*SIGNS.values(), *LINES.values()) if text]
    assert len(set(texts)) == len(texts)
    heads = {
        written(step, alter, names=names)
        for step in "CDEFGAB"
        for alter in range(-3, 4)
        for names in NAMINGS
    }
    assert not heads & set(texts)


def test_every_mark_that_is_done_is_shown_here() -> None:
    """Slurs, chord symbols, verses, clefs, pages and jumps are told in other places."""
    elsewhere = {"slur", "chord", "lyric", "clef", "page", "jump", "transposition"}
    shown = {mark.kind for mark in (*MARKS, *OVER_ALL)}
    assert shown == set(get_args(MarkKind)) - elsewhere


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("sign", WORDS, ids=lambda sign: sign.kind)
def test_a_sign_stands_beside_its_note_with_a_legend_and_in_words(sign: Sign, form: Form) -> None:
    text, words = WORDS[sign]
    music = with_sign(sign)
    lines = page(music, F(0), F(4), form=form)
    assert any(line.split() == [text] for line in lines) or any(text in x.split() for x in lines)
    assert lines[-1] == f"{SIGNS[sign.kind][0]} {SIGNS[sign.kind][1]}"
    assert spoken(music, F(0), F(4))[0].startswith(
        f"Bar 1, beat 1. Right hand C 5, held, {words}; left hand"
    )


@pytest.mark.parametrize("mark", MARKS, ids=lambda mark: mark.kind + mark.text)
def test_a_line_stands_where_it_begins(mark: Mark) -> None:
    text, words = MARKS[mark]
    music = with_sign(marks=(mark,))
    lines = page(music, F(0), F(4))
    assert any(text in line.split() for line in lines[:-2])
    if mark.text != "sfz":  # letters that are music's own need no legend
        assert lines[-1].startswith(f"{text} ")
    assert f", {words}" in spoken(music, F(0), F(4))[0]


def test_the_pedal_is_released() -> None:
    music = with_sign(marks=(Mark("pedal", F(0), staff=1, end=F(2)),))
    assert page(music, F(0), F(4))[-1] == "Ped pedal; * pedal up"
    assert "pedal up" in spoken(music, F(0), F(4))[1]


@pytest.mark.parametrize("mark", OVER_ALL, ids=lambda mark: mark.kind)
def test_words_stand_under_the_page_with_their_place(mark: Mark) -> None:
    music = with_sign(marks=(mark,))
    assert page(music, F(0), F(4))[-1] == f"b. 1: {OVER_ALL[mark]}"
    assert OVER_ALL[mark] in spoken(music, F(0), F(4))[0]


def test_grace_notes_are_named_in_their_order() -> None:
    graces = [replace(note(2, 0, name), grace=True, order=n) for n, name in enumerate(["D5", "B4"])]
    slashed = replace(note(0, 0, "F5"), grace=True, signs=(Sign("slashed"),))
    music = score([slashed, note(0, 2, "E5"), *graces, note(2, 2, "C5")], staves=1, bars=1)
    music = replace(
        music, notes=tuple(sorted(music.notes, key=lambda n: (n.onset, not n.grace, n.order)))
    )
    assert page(music, F(0), F(4))[-2:] == ["~ b. 1: F5 (slashed)", "~ b. 1, beat 3: D5, B4"]
    assert spoken(music, F(0), F(4)) == [
        "Bar 1, beat 1. Part 1 E 5, held, after the slashed grace note F 5.",
        "Beat 3. Part 1 C 5, held, after the grace notes D 5 and B 4.",
    ]


def test_an_arpeggio_is_told_once() -> None:
    chord = [replace(note(0, 4, name), signs=(Sign("arpeggio"),)) for name in ("C4", "E4", "G4")]
    lines = page(score(chord, staves=1, bars=1), F(0), F(4))
    assert sum(line.split() == ["ar"] for line in lines) == 1


def test_in_ascii_too() -> None:
    lines = page(with_sign(Sign("turn", above=-1)), F(0), F(4), ascii=True)
    assert all(line.isascii() for line in lines)
    assert any(line.split() == ["tub"] for line in lines)


SIGN = st.builds(Sign, st.sampled_from([kind for kind in SIGNS if kind != "slashed"]))


@given(
    st.lists(st.lists(SIGN, max_size=3, unique=True), min_size=8, max_size=8),
    st.lists(st.sampled_from(list(MARKS)), max_size=4),
    st.integers(24, 130),
    st.sampled_from(FORMS),
)
def test_signs_lose_no_note_and_keep_to_the_width(
    signs: list[list[Sign]], marks: list[Mark], width: int, form: Form
) -> None:
    names = ["C5", "D5", "E5", "F5", "C3", "D3", "E3", "F3"]
    notes: list[Note] = [
        replace(note(F(n % 4, 2), F(1, 2), name, n // 4), signs=tuple(signs[n]))
        for n, name in enumerate(names)
    ]
    music = score(notes, bars=1, marks=marks)
    found = [
        drawing(music, F(0), F(4), Style(width, signs=shown), form=form) for shown in (True, False)
    ]
    heads = [{(one.head.onset, one.head.pitch) for one in each.placed} for each in found]
    assert heads[0] == heads[1]
    assert all(len(line) <= width for line in found[0].lines)
