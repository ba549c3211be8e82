"""Real scores from music21's own corpus: read at all, and read rightly.

The second reading is tests/score/direct.py, straight from the XML (MusicXML 4.0 specification).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.score.direct import direct
from tests.score.reading import read
from trainer.score.files import load
from trainer.score.model import Score
from trainer.score.read import read_score
from trainer.score.route import bar_route

CHECKED = [
    "bach/bwv66.6.mxl",
    "bach/bwv305.mxl",
    "beach/prayer_of_a_tired_child.musicxml",
    "haydn/opus1no1/movement2.mxl",
    "haydn/opus1no1/movement4.mxl",
    "joplin/maple_leaf_rag.mxl",
    "mozart/k156/movement4.mxl",
    "mozart/k545/movement1_exposition.mxl",
    "mozart/k80/movement3.mxl",
    "schoenberg/opus19/movement6.mxl",
    "schubert/Lindenbaum.xml",
    "verdi/laDonnaEMobile.mxl",
    "lusitano/allor_che_ignuda.mxl",
    "leadSheet/fosterBrownHair.mxl",
]

OTHERS = [
    "bach/bwv1.6.mxl",
    "bach/bwv277.krn",
    "bach/bwv10.7.mxl",
    "schumann_robert/dichterliebe_no2.xml",
    "airdsAirs/book1.abc",
    "chopin/mazurka06-2.krn",
    "cpebach/h186.mxl",
    "demos/multiple-verses.xml",
    "demos/two-voices.xml",
    "demos/nested_tuplet_finale_test.xml",
    "demos/voices_with_chords.xml",
    "demos/incorrect_time_signature_pv.mxl",
    "essenFolksong/test0.abc",
    "handel/rinaldo/Lascia_chio_pianga.mxl",
    "johnson_j_r/lift_every_voice.mxl",
    "josquin/milleRegrets.abc",
    "josquin/oVenusBant.abc",
    "leadSheet/berlinAlexandersRagtime.mxl",
    "liliuokalani/aloha_oe.mxl",
    "miscFolk/americanfifeopus.abc",
    "monteverdi/madrigal.3.1.mxl",
    "nottingham-dataset/reelsa-c.abc",
    "palestrina/Agnus_00.krn",
    "palestrina/Kyrie_a.krn",
    "ryansMammoth/ChampionHornpipe.abc",
    "ryansMammoth/GoodGirlThe.abc",
    "schoenberg/opus19/movement2.mxl",
    "schumann_clara/polonaise_op1n1.mxl",
    "webern/webern_dormi_jesu_op_16_no_2.mxl",
]


def corpus() -> Path:
    import music21

    return Path(music21.__file__).parent / "corpus"


def check(score: Score) -> None:
    """What holds for every score that was read."""
    assert score.title
    assert score.notes
    assert all(
        here.end == after.start for here, after in zip(score.bars, score.bars[1:], strict=False)
    )
    assert all(bar.length > 0 and bar.label for bar in score.bars)
    assert score.notes[0].onset >= 0
    assert all(note.end <= score.end for note in score.notes)
    assert all(note.end <= score.bar_at(note.onset).end for note in score.notes if note.length)
    assert all(0 <= mark.onset <= score.end for mark in score.marks)
    assert bar_route(score)[0].bar == 0


@pytest.mark.parametrize("name", CHECKED)
def test_a_score_agrees_with_a_direct_reading(name: str) -> None:
    file = load(corpus() / name)
    score, other = read(file.data, file.kind), direct(file)
    check(score)
    assert len(score.notes) == other.heads
    assert sum(note.grace for note in score.notes) == other.grace
    assert [bar.fifths for bar in score.bars] == other.fifths
    assert [str(bar.meter) for bar in score.bars] == other.metres
    assert len(score.marks_of("slur")) == other.slurs
    assert sum(bar.repeat_times > 0 for bar in score.bars) == other.backward
    for bar, number, length in zip(score.bars, other.numbers, other.lengths, strict=True):
        assert bar.length == length or length < bar.length == bar.meter.length
        half = bar.continues or bar.upbeat
        assert bar.label == number or (half and not re.fullmatch(r"\d+", number))
    starts = [bar.start for bar in score.bars]
    expected = {(starts[index] + onset, pitch, grace) for index, onset, pitch, grace in other.notes}
    assert {(note.onset, note.pitch, note.grace) for note in score.notes} == expected


@pytest.mark.parametrize("name", OTHERS)
def test_a_score_of_another_kind_is_read(name: str) -> None:
    file = load(corpus() / name)
    check(read(file.data, file.kind))


def test_a_score_of_the_corpus_through_the_process() -> None:
    score = read_score(corpus() / "demos/two-voices.xml")
    check(score)
    assert len({note.voice for note in score.notes if note.staff == 0}) == 2


def test_percussion_alone_is_refused() -> None:
    from trainer.errors import TrainerError

    with pytest.raises(TrainerError, match="only unpitched"):
        read_score(corpus() / "demos/drum_sample.xml")
