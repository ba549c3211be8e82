"""A sonatina movement of 64 bars, composed for these tests: a pickup, first and second endings, an
exposition whose opening comes back in the recapitulation and goes on differently, a page turn."""

from __future__ import annotations

from random import Random

from tests.score.written import bar, ending, repeat, score

TITLE = "Sonatina, first movement"
SCALE = ("C4", "D4", "E4", "F#4", "G4", "A4", "B4", "C5", "D5", "E5", "F#5", "G5")
RHYTHMS = ((1, 0.5, 0.5), (0.5, 0.5, 1), (0.5, 0.5, 0.5, 0.5), (1.5, 0.5), (0.75, 0.25, 1))
TURN = 29  # the first bar of the second page
PARTS = 45  # the bar of the recapitulation that the exposition does not have


def movement() -> str:
    """The text of its MusicXML file."""
    rng = Random(64)
    lines = {number: _line(rng) for number in range(1, 65)}
    for number in range(41, PARTS):  # the recapitulation begins as the exposition did
        lines[number] = lines[number - 40]
    for number in (8, 16, 24, 25, 32, 40, 48, 56, 64):
        lines[number] = "G4/1 r/0.5 D5/0.5"  # a close, a rest, and the upbeat to what comes
    lines[64] = "G4/2"
    measures = [bar("D5/0.5", 0, time="2/4", key=1, implicit=True)]
    for number, notes in lines.items():
        before = {24: ending("1"), 25: ending("2"), TURN: '<print new-page="yes"/>'}.get(number, "")
        after = {24: ending("1", stop=True, back=True), 25: ending("2", stop=True)}.get(number, "")
        if number == 1:
            before = repeat("forward")
        measures.append(bar(notes, number, before=before, after=after))
    return score(measures, title=TITLE, names=["Piano"])


def _line(rng: Random) -> str:
    """A bar of its own rhythm, no two of its notes alike."""
    at = rng.randrange(2, 10)
    made = []
    for length in rng.choice(RHYTHMS):
        made.append(f"{SCALE[at]}/{length}")
        at = min(11, max(0, at + rng.choice((-2, -1, 1, 2, 3))))
    return " ".join(made)
