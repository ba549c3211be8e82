"""Whole drawings as text, each looked at and found readable."""

from __future__ import annotations

from msgspec.structs import replace

from tests.draw.scores import F, note, score
from trainer.draw.page import page, spoken
from trainer.score.cite import AMERICAN
from trainer.score.model import Mark, Rest, Score


def waltz() -> Score:
    """Two bars in D major: fingers, a rest, a tie over the bar line, seconds, a natural."""
    right = [
        replace(note(0, F(1, 2), "G#5"), fingers=("5",)),
        note(F(3, 4), F(1, 4), "A5"),
        note(1, 1, "F#5"),
        note(2, F(1, 2), "G#5"),
        note(F(5, 2), F(1, 2), "F5"),
        note(3, F(1, 2), "E5"),
        note(F(7, 2), F(1, 4), "C#5"),
        note(F(15, 4), F(1, 4), "D5"),
        note(4, 2, "C#5"),
        note(4, 2, "D5"),
    ]
    left = [
        note(0, 1, "B2", 1),
        replace(note(1, 1, "F#3", 1), fingers=("2",)),
        replace(note(1, 1, "D#4", 1), fingers=("1",)),
        replace(note(2, 1, "F#3", 1), tie="start"),
        replace(note(3, 1, "F#3", 1), tie="stop"),
        note(3, 1, "C#3", 1),
        note(4, 2, "E4", 1),
        note(4, 2, "C4", 1),
    ]
    clefs = [Mark("clef", F(0), "G2", 0), Mark("clef", F(0), "F4", 1)]
    rests = [Rest(F(1, 2), F(1, 4), 0)]
    return score([*right, *left], meter=(3, 4), fifths=2, label=9, rests=rests, marks=clefs)


def drawn(text: str) -> list[str]:
    return text.strip("\n").splitlines()


def test_two_staves_with_the_entry_in_mid_bar() -> None:
    assert page(waltz(), F(1), F(6)) == drawn("""
      9               ▼                     10
      5
                ─A─
 ┃─── G♯ ─────────────F♯═════ G♯ ───F♮────┬─────────────────────────────────┐
 ┃────────────────────────────────────────┼ E ─────────D────D══════════════─┤
R┃───────── – ────────────────────────────┼────── C♯ ────── C♯═════════════─┤
 ┃G───────────────────────────────────────┼─────────────────────────────────┤
 ┃────────────────────────────────────────┴─────────────────────────────────┘
      1     &    a    2       3     &       1     &    a    2       3
                                                           ─E══════════════─
                      D♯═════                              ─C♮═════════════─
 ┃────────────────────────────────────────┬─────────────────────────────────┐
 ┃F───────────────────F♯═════─F♯═════════─┼─(F♯)═══════════─────────────────┤
L┃────────────────────────────────────────┼─────────────────────────────────┤
 ┃────B══════════════─────────────────────┼ C♯═════════════─────────────────┤
 ┃────────────────────────────────────────┴─────────────────────────────────┘
                      1
                      2
""")


def test_one_bar_a_block_where_two_do_not_fit_in_ascii_and_german() -> None:
    assert page(waltz(), F(0), F(6), width=40, ascii=True, names="german") == drawn("""
      9
      5
             -A-
 |--- Gis --------Fis= Gis -F---|
 |------------------------------|
R|------- r --------------------|
 |G-----------------------------|
 |------------------------------|
      1   &   a   2    3    &
                  Dis=
 |------------------------------|
 |F---------------Fis=-Fis=====-|
L|------------------------------|
 |----H==========---------------|
 |------------------------------|
                  1
                  2

      10
 |-------------------------------------|
 |--- E ----------D----D==============-|
R|---------- Cis ----- Cis============-|
 |G------------------------------------|
 |-------------------------------------|
      1      &    a    2       3
                      -E==============-
                      -C==============-
 |-------------------------------------|
 |F---(Fis)===========-----------------|
L|-------------------------------------|
 |--- Cis=============-----------------|
 |-------------------------------------|
""")


def test_the_table() -> None:
    assert page(waltz(), F(1), F(6), form="table") == drawn("""
   bar 9         ▼                 bar 10
RH G♯5:5 –   A5  F♯5─── G♯5  F♮5 │ E5     C♯5 D5  D5──────
                                 │                C♯5─────
   1     &   a   2      3    &   │ 1      &   a   2    3
LH B2─────────── D♯4:1─ F♯3───── │ (F♯3)───────── E4──────
                 F♯3:2─          │ C♯3─────────── C♮4─────
""")


def test_one_staff_with_ledger_lines_and_a_clef_that_changes() -> None:
    music = score(
        [
            note(0, 1, "E4"),
            note(1, 1, "C6"),
            note(2, 1, "F6"),
            note(3, 1, "E7"),
            note(4, F(1, 2), "B2"),
            note(F(9, 2), F(1, 2), "A3"),
            note(5, 1, "A3"),
            note(6, 2, "C3"),
            replace(note(7, 0, "D3"), grace=True),
        ],
        staves=1,
        marks=[Mark("clef", F(0), "G2", 0), Mark("clef", F(5), "F4", 0)],
    )
    found = page(music, F(0), F(8))
    assert found[-2:] == ["", "~ b. 2, beat 4: D3"]
    assert found[:-2] == drawn(
        """
     1                                 2
                             E7═════
                     F══════
            ─C══════─
 """
        + """
┃────────────────────────────────────┬─────────────────A══════─────────────────┐
┃────────────────────────────────────┼─────────────[F]─────────────────────────┤
┃────────────────────────────────────┼─────────────────────────────────~───────┤
┃G───────────────────────────────────┼──────────────────────── C══════════════─┤
┃────E══════─────────────────────────┴─────────────────────────────────────────┘
 """
        + """
                                            ─A─
 """
        + """
                                       B2
     1       2       3       4         1     &         2       3       4
"""
    )


def test_spoken() -> None:
    assert spoken(waltz(), F(1), F(6)) == [
        "Bar 9, beat 2. Right hand F sharp 5, held; "
        "left hand F sharp 3 finger 2 and D sharp 4 finger 1, held.",
        "Beat 3. Right hand G sharp 5; left hand F sharp 3, held.",
        "Beat 3 and a half. Right hand F 5.",
        "Bar 10, beat 1. Right hand E 5; left hand C sharp 3, held, F sharp 3 sounds on.",
        "Beat 1 and a half. Right hand C sharp 5.",
        "Beat 1 and three quarters. Right hand D 5.",
        "Beat 2. Right hand C sharp 5 and D 5, held; left hand C 4 and E 4, held.",
    ]


def test_spoken_in_german_names_begins_with_what_sounds_on() -> None:
    lines = spoken(waltz(), F(3, 2), F(2), "german")
    assert lines == []
    lines = spoken(waltz(), F(3), F(4), "german", staves=[1])
    assert lines[0] == "Bar 10, beat 1. Left hand Cis 3, held, Fis 3 sounds on."
    lines = spoken(waltz(), F(3), F(4), staves=[1], words=AMERICAN)
    assert lines[0].startswith("Measure 10, beat 1. Left hand")
