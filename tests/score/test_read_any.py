"""Any small score: what is read is consistent, and nothing that sounds is lost."""

from __future__ import annotations

import unicodedata

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.score.reading import read
from tests.score.written import bar, repeat, score
from trainer.score.model import Score
from trainer.score.text import LONGEST, clean
from trainer.values import decode, encode

LENGTHS = ["0.25", "0.5", "1", "2", "1/3", "2/3", "1/5", "1.5", "g", "0"]
PITCHES = ["C4", "F#5", "Bb3", "E4+G4", "r", "C4~", "~C4"]
NOTES = st.tuples(st.sampled_from(PITCHES), st.sampled_from(LENGTHS)).filter(
    lambda pair: not (pair[0] == "r" and pair[1] in "g0")
)
VOICE = st.lists(NOTES, max_size=6).map(lambda notes: " ".join(f"{p}/{n}" for p, n in notes))
BAR = st.fixed_dictionaries(
    {
        "notes": st.lists(VOICE, min_size=1, max_size=2).map("|".join),
        "number": st.sampled_from(["", "0", "1", "2", "3", "7", "X1", "2a", "-1", "[b]"]),
        "time": st.sampled_from(["", "", "", "4/4", "3/8", "5/4"]),
        "implicit": st.booleans(),
        "after": st.sampled_from(["", "", repeat("backward")]),
        "before": st.sampled_from(["", "", repeat("forward")]),
    }
)
PART = st.lists(BAR, min_size=1, max_size=5)


def heads(parts: list[list[dict[str, str]]]) -> int:
    texts = (one for part in parts for made in part for one in made["notes"].split())
    pitches = (pitch.split("/")[0] for text in texts for pitch in text.split("|") if pitch)
    return sum(len(pitch.split("+")) for pitch in pitches if pitch != "r")


def consistent(found: Score) -> None:
    assert found.bars[0].start == 0
    for here, after in zip(found.bars, found.bars[1:], strict=False):
        assert after.start == here.end
        assert after.index == here.index + 1
    for made in found.bars:
        assert made.length > 0
        assert made.lead >= 0
        assert made.lead + made.length <= max(made.meter.length, made.length)
    onsets = [note.onset for note in found.notes]
    assert onsets == sorted(onsets)
    for note in found.notes:
        assert note.onset >= 0
        assert note.end <= found.bar_at(note.onset).end
        assert note.grace == (note.length == 0)
    for rest in found.rests:
        assert rest.length > 0
        assert rest.onset + rest.length <= found.bar_at(rest.onset).end


# The first bar has a metre: without any, music21 10.5 divides by zero at a bar that holds grace
# notes alone. Such a file ends in the reader's one sentence (tests/score/test_bad_input.py).
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(PART, min_size=1, max_size=3))
def test_any_small_score_reads_to_consistent_values(parts: list[list[dict[str, str]]]) -> None:
    parts = [[{"notes": "C4/1", "number": "1", "time": "2/4"}, *part] for part in parts]
    found = read(score(*([bar(**made) for made in part] for part in parts)))  # type: ignore[arg-type]
    consistent(found)
    assert len(found.notes) == heads(parts)
    assert len(found.bars) == max(len(part) for part in parts)
    assert decode(encode(found), Score, "it") == found


@given(st.text())
def test_any_text_becomes_one_clean_line(text: str) -> None:
    line = clean(text)
    assert len(line) <= LONGEST
    assert clean(line) == line
    assert not [c for c in line if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp")]
    if text.isprintable() and text.isascii() and len(text) <= LONGEST:
        assert line == " ".join(text.split())
