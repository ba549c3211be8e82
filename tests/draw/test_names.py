"""Names of notes in three languages (common practice, no source)."""

from __future__ import annotations

import pytest

from trainer.draw.names import NAMINGS, Naming, key_name, spoken_name, written


@pytest.mark.parametrize(
    ("step", "alter", "names", "expected"),
    [
        ("G", 1, "english", "G♯5"),
        ("B", -1, "english", "B♭5"),
        ("F", 2, "english", "F♯♯5"),
        ("B", 0, "german", "H5"),
        ("B", -1, "german", "B5"),
        ("B", -2, "german", "Heses5"),
        ("B", 1, "german", "His5"),
        ("F", 1, "german", "Fis5"),
        ("E", -1, "german", "Es5"),
        ("A", -1, "german", "As5"),
        ("A", -2, "german", "Ases5"),
        ("E", -2, "german", "Eses5"),
        ("D", -1, "german", "Des5"),
        ("C", 2, "german", "Cisis5"),
        ("G", 1, "fixed do", "Sol♯5"),
        ("B", -1, "fixed do", "Si♭5"),
    ],
)
def test_written(step: str, alter: int, names: Naming, expected: str) -> None:
    assert written(step, alter, 5, names=names) == expected


def test_ascii_and_natural() -> None:
    assert written("G", 1, 5, ascii=True) == "G#5"
    assert written("B", -1, ascii=True) == "Bb"
    assert written("F", 0, natural=True) == "F♮"
    assert written("F", 0, natural=True, ascii=True) == "Fn"
    assert written("F", 1, natural=True) == "F♯"
    assert written("F", 0, natural=True, names="german") == "F"


def test_spoken() -> None:
    assert spoken_name("G", 1, 5) == "G sharp 5"
    assert spoken_name("B", 0, 4) == "B 4"
    assert spoken_name("B", 0, names="german") == "H"
    assert spoken_name("E", -2, 3, names="fixed do") == "Mi double flat 3"


@pytest.mark.parametrize(
    ("step", "alter", "mode", "names", "expected"),
    [
        ("E", -1, "major", "english", "E♭ major"),
        ("E", 0, "minor", "english", "E minor"),
        ("E", 0, "minor", "german", "e-Moll"),
        ("E", -1, "major", "german", "Es-Dur"),
        ("E", -1, "minor", "german", "es-Moll"),
        ("B", 0, "minor", "german", "h-Moll"),
        ("B", -1, "major", "german", "B-Dur"),
        ("F", 1, "minor", "german", "fis-Moll"),
        ("A", -1, "minor", "german", "as-Moll"),
        ("D", 0, "dorian", "german", "D dorian"),
        ("E", -1, "minor", "fixed do", "Mi♭ minor"),
        ("C", 0, "", "german", "C"),
    ],
)
def test_keys(step: str, alter: int, mode: str, names: Naming, expected: str) -> None:
    """Fixed do keeps the English words of the mode; so the sentence stays in one language."""
    assert key_name(step, alter, mode, names=names) == expected


@pytest.mark.parametrize("names", NAMINGS)
@pytest.mark.parametrize("ascii", [False, True])
def test_every_name_is_its_own(names: Naming, ascii: bool) -> None:
    texts = {
        written(step, alter, 4, names=names, ascii=ascii)
        for step in "CDEFGAB"
        for alter in range(-2, 3)
    }
    assert len(texts) == 35
    assert not ascii or all(text.isascii() for text in texts)
