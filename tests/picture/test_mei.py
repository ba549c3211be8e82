"""Bars as MEI: read back by a second reader and by music21, they are the bars of the score."""

from __future__ import annotations

import warnings
from collections import Counter
from fractions import Fraction as F
from functools import cache
from pathlib import Path

import music21
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.draw.scores import note, passages, score
from tests.picture.read_back import ID, NS, Held, Text, held, written, written_pitch
from tests.score.reading import read
from trainer.deck.file import read_deck
from trainer.deck.model import Piece, Start
from trainer.deck.page import page_span
from trainer.errors import TrainerError
from trainer.picture.mei import GREY, MOST_BARS, mei
from trainer.score.files import load
from trainer.score.model import Bar, Mark, Meter, Note, Rest, Score

DECKS = sorted((Path(__file__).parents[2] / "decks").glob("*.deck.json"))
CORPUS = Path(music21.__file__).parent / "corpus"


@cache
def piece(path: Path) -> Piece:
    return read_deck(path)


@cache
def corpus(name: str) -> Score:
    file = load(CORPUS / name)
    return read(file.data, file.kind)


STARTS = [(path, start) for path in DECKS for start in piece(path).deck.starts]
slow = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
names = pytest.mark.parametrize(
    ("path", "start"), STARTS, ids=lambda v: v.name[:8] if isinstance(v, Path) else str(v.number)
)


def text_of(music: Score, begin: F, end: F) -> Text:
    return Text(mei(music, begin, end), music.bar_at(begin).start)


# What stands there


@names
def test_the_bars_of_a_demo_start_are_those_of_the_score(path: Path, start: Start) -> None:
    music = piece(path).score
    begin, end = page_span(piece(path), start)
    text = text_of(music, begin, end)
    assert text.held() == held(music, begin, end)
    assert text.written() == written(music, begin, end)
    first, last = music.bar_at(begin), music.bar_at(end - F(1, 64))
    assert text.bars == [bar.label for bar in music.bars[first.index : last.index + 1]]
    lengths = {bar.start: bar.length for bar in music.bars}
    assert text.fills
    assert all(filled == lengths[at] for at, filled in text.fills)


@names
def test_rests_fingers_and_marks_of_a_demo_start_are_all_there(path: Path, start: Start) -> None:
    music = piece(path).score
    begin, end = page_span(piece(path), start)
    first = music.bar_at(begin).start
    text = text_of(music, begin, end)
    shown: Counter[int] = Counter()
    for staff, _, length in text.rests:
        shown[staff] += length  # type: ignore[assignment]
    wanted: Counter[int] = Counter()
    for rest in music.rests:
        if first <= rest.onset < end:
            wanted[rest.staff] += rest.length  # type: ignore[assignment]
    assert shown == wanted
    notes = music.notes_between(first, end)
    fingers = Counter(finger for one in notes if not one.grace for finger in one.fingers)
    assert Counter(fing.text for fing in text.all("fing")) == fingers
    marks = [mark for mark in music.marks if first <= mark.onset < end]
    dynamics = [m.text for m in marks if m.kind == "dynamic" and m.end is None]
    assert Counter(one.text for one in text.all("dynam")) == Counter(dynamics)
    hairpins = [m for m in marks if m.kind == "dynamic" and m.end is not None]
    assert len(text.all("hairpin")) == len(hairpins)
    assert len(text.all("syl")) == sum(m.kind == "lyric" for m in marks)
    assert len(text.all("slur")) == sum(m.kind == "slur" and (m.end or 0) <= end for m in marks)


@names
def test_the_entry_and_what_is_before_it_are_told_apart(path: Path, start: Start) -> None:
    music = piece(path).score
    begin, end = page_span(piece(path), start)
    text = text_of(music, begin, end)
    signs = [one.text for one in text.all("dir") if one.text == "▼"]
    assert len(signs) == (begin > music.bar_at(begin).start)
    grey = {
        inner.attrib[ID]
        for one in text.root.iter()
        if one.get("color") == GREY
        for inner in one.iter(NS + "note")
    }
    early = {id_ for id_, head in text.heads.items() if head.held.onset < begin}
    assert {id_ for id_ in grey if id_ in text.heads} == early


@pytest.mark.parametrize(
    "name",
    [
        "beach/prayer_of_a_tired_child.musicxml",
        "chopin/mazurka06-2.krn",
        "joplin/maple_leaf_rag.mxl",
        "monteverdi/madrigal.3.1.mxl",
        "schubert/Lindenbaum.xml",
        "schumann_clara/polonaise_op1n1.mxl",
        "schumann_robert/dichterliebe_no2.xml",
    ],
)
def test_eight_bars_at_a_time_are_those_of_the_score(name: str) -> None:
    music = corpus(name)
    for place in range(0, len(music.bars), 8):
        bars = music.bars[place : place + 8]
        text = text_of(music, bars[0].start, bars[-1].end)
        assert text.written() == written(music, bars[0].start, bars[-1].end)
        lengths = {bar.start: bar.length for bar in bars}
        assert all(filled == lengths[at] for at, filled in text.fills)


@pytest.mark.parametrize(
    ("name", "first", "last"),
    [
        ("mozart/k545/movement1_exposition.mxl", 0, 12),
        ("chopin/mazurka06-2.krn", 0, 20),
        ("haydn/opus1no1/movement2.mxl", 0, 20),
        ("joplin/maple_leaf_rag.mxl", 0, 15),
    ],
)
def test_another_programs_reader_finds_the_same(name: str, first: int, last: int) -> None:
    """music21's own reader of MEI, which places a bar by the bars before it."""
    from music21 import converter

    music = corpus(name)
    begin, end = music.bars[first].start, music.bars[last - 1].end
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        parsed = converter.parse(mei(music, begin, end), format="mei")
    found = []
    for staff, part in enumerate(parsed.getElementsByClass("Part")):
        for one in part.stripTies().flatten().notes:
            if not one.duration.isGrace:
                at = F(one.offset).limit_denominator(1000) + begin
                length = F(one.quarterLength).limit_denominator(1000)
                found += [Held(staff, at, length, pitch.midi) for pitch in one.pitches]
    assert sorted(found) == held(music, begin, end)


@slow
@given(passages())
def test_any_passage_is_written_as_it_stands(passage: tuple[Score, F, F]) -> None:
    music, begin, end = passage
    text = text_of(music, begin, end)
    assert text.written() == written(music, begin, end)
    lengths = {bar.start: bar.length for bar in music.bars}
    assert all(filled == lengths[at] for at, filled in text.fills)
    for one, other in text.ties:
        if one.split(".")[0] != other.split(".")[0]:
            before, after = text.heads[one].held, text.heads[other].held
            assert before.onset + before.length == after.onset
            assert (before.staff, before.pitch) == (after.staff, after.pitch)
    graces = [n for n in music.notes if n.grace and music.bar_at(begin).start <= n.onset < end]
    places = Counter((n.staff, n.voice, n.onset, n.order) for n in graces)
    assert len(text.grace) == sum(count == 1 for count in places.values())
    tildes = {(n.staff, n.onset) for n in graces if places[n.staff, n.voice, n.onset, n.order] > 1}
    assert sum(one.text == "~" for one in text.all("dir")) == len(tildes)


@slow
@given(passages())
def test_nothing_from_the_end_on_is_told(passage: tuple[Score, F, F]) -> None:
    """Without what is played later the text is the same. (The clef of a staff that has none is
    chosen by all its notes.)"""
    music, begin, end = passage
    clefs = tuple(Mark("clef", F(0), "G2", staff.number) for staff in music.staves)
    music = replace(music, marks=(*clefs, *music.marks))
    shorter = replace(
        music,
        notes=tuple(n for n in music.notes if n.onset < end),
        rests=tuple(r for r in music.rests if r.onset < end),
        marks=tuple(m for m in music.marks if m.onset < end),
    )
    if shorter.notes:
        assert mei(shorter, begin, end) == mei(music, begin, end)


# Signs


def one_bar(*notes: Note, **more: object) -> Text:
    music = score(notes, bars=1, staves=1, **more)  # type: ignore[arg-type]
    return text_of(music, F(0), music.end)


def signs(text: Text) -> list[str]:
    return [n.get("accid", "") for n in text.all("note")]


def test_accidentals_hold_for_their_line_to_the_end_of_the_bar() -> None:
    names = ["F#5", "F#5", "F5", "F#4", "F#5", "F5", "F5", "F#4"]
    text = one_bar(*(note(F(n, 2), F(1, 2), name) for n, name in enumerate(names)), fifths=1)
    assert signs(text) == ["", "", "n", "", "s", "n", "", ""]


def test_accidentals_begin_anew_after_a_bar_line_and_not_over_a_tie() -> None:
    tied = [
        replace(note(3, 1, "C#5"), tie="start"),
        replace(note(4, 1, "C#5"), tie="stop"),
        note(5, 1, "C#5"),
        note(6, 1, "C5"),
    ]
    text = text_of(score(tied, staves=1), F(0), F(8))
    assert signs(text) == ["s", "", "s", "n"]
    text = text_of(score(tied, staves=1), F(4), F(8))
    assert signs(text) == ["s", "", "n"]
    assert [n.get("head.mod") for n in text.all("note")] == ["paren", None, None]
    assert text.ties == []


def test_two_voices_with_two_signs_have_both_printed() -> None:
    upper = [note(0, 1, "D5"), note(1, 1, "D5")]
    lower = [replace(note(0, 1, "Db5"), voice="2"), replace(note(1, 1, "D5"), voice="2")]
    text = one_bar(*upper, *lower)
    assert signs(text).count("n") == 2
    assert signs(text).count("f") == 1


def test_a_key_beyond_seven_signs_is_not_printed_but_played() -> None:
    text = one_bar(note(0, 4, "F#5"), fifths=9)
    assert [one.get("keysig") for one in text.all("scoreDef")] == ["0"]
    assert signs(text) == ["s"]


def test_key_and_metre_change_between_bars_only_where_they_do() -> None:
    three, four = Meter(3, 4), Meter(4, 4)
    bars = (
        Bar(0, "1", F(0), F(4), four, 2),
        Bar(1, "2", F(4), F(3), three, 2),
        Bar(2, "3", F(7), F(3), three, -1),
        Bar(3, "4", F(10), F(3), three, -1),
    )
    music = replace(score([note(n, 1, "A4") for n in range(13)], staves=1), bars=bars)
    text = text_of(music, F(0), F(13))
    told = [(d.get("keysig"), d.get("meter.count"), d.get("meter.unit"))
            for d in text.all("scoreDef")]  # fmt: skip
    assert told == [("2s", "4", "4"), (None, "3", "4"), ("1f", None, None)]
    assert [d.get("meter.count") for d in text_of(music, F(8), F(13)).all("scoreDef")] == ["3"]


def test_the_clef_in_force_and_its_changes() -> None:
    marks = [
        Mark("clef", F(0), "F4", 0),
        Mark("clef", F(2), "G2", 0),
        Mark("clef", F(3), "G2", 0),
        Mark("clef", F(8), "G2-8", 0),
        Mark("clef", F(11), "C9", 0),
    ]
    notes = [note(n, 1, "C4") for n in range(16)]
    lower = [replace(note(n, 4, "C3"), voice="2") for n in (0, 4, 8, 12)]
    music = score([*notes, *lower], bars=4, staves=1, marks=marks)
    text = text_of(music, F(0), F(16))
    (staff,) = text.all("staffDef")
    assert (staff.get("clef.shape"), staff.get("clef.line")) == ("F", "4")
    real = [c for c in text.all("clef") if c.get("shape")]
    assert [(c.get("shape"), c.get("dis"), c.get("dis.place")) for c in real] == [
        ("G", None, None),
        ("G", "8", "below"),
    ]
    assert [c.get("sameas") for c in text.all("clef") if not c.get("shape")] == [
        f"#{c.attrib[ID]}" for c in real
    ]
    measures = text.all("measure")
    assert len(list(measures[1].iter(NS + "clef"))) == 2, "it stands before the bar line"
    later = text_of(music, F(9), F(16))
    assert later.all("staffDef")[0].get("clef.dis") == "8"
    assert later.all("clef") == []


def test_the_clef_of_a_bar_to_come_is_not_told() -> None:
    music = score(
        [note(n, 1, "C4") for n in range(8)], staves=1,
        marks=[Mark("clef", F(0), "G2", 0), Mark("clef", F(4), "F4", 0)],
    )  # fmt: skip
    assert text_of(music, F(0), F(4)).all("clef") == []


def test_a_staff_without_a_clef_has_one_that_suits() -> None:
    text = text_of(score([note(0, 4, "C6", 0), note(0, 4, "C2", 1)]), F(0), F(4))
    assert [one.get("clef.shape") for one in text.all("staffDef")] == ["G", "F"]


def test_beams_join_what_lies_in_one_beat() -> None:
    def beams(meter: tuple[int, int], *lengths: F) -> list[int]:
        at, notes = F(0), []
        for length in lengths:
            notes.append(note(at, length, "A4"))
            at += length
        text = one_bar(*notes, meter=meter)
        return [len(list(beam.iter(NS + "note"))) for beam in text.all("beam")]

    eighth, triplet = F(1, 2), F(1, 3)
    assert beams((4, 4), *[eighth] * 8) == [2, 2, 2, 2]
    assert beams((6, 8), *[eighth] * 6) == [3, 3]
    assert beams((3, 8), *[eighth] * 3) == [3]
    assert beams((2, 2), *[eighth] * 8) == [4, 4]
    assert beams((2, 4), eighth, F(1), eighth) == []
    assert beams((2, 4), *[triplet] * 3, F(1)) == [3]
    assert beams((2, 4), triplet, F(2, 3), F(1)) == []
    assert beams((2, 4), F(2, 3), F(1, 6), F(1, 6), F(1)) == [2]


def test_tuplets_are_told_with_their_numbers() -> None:
    text = one_bar(*(note(F(n, 5), F(1, 5), "A4") for n in range(5)), note(1, 3, "A4"))
    (tuplet,) = text.all("tuplet")
    assert (tuplet.get("num"), tuplet.get("numbase")) == ("5", "4")
    assert tuplet.get("num.visible") is None


def test_a_tuplet_of_nothing_is_not_shown() -> None:
    text = one_bar(note(F(2, 3), F(1, 3), "A4"), replace(note(0, 4, "A3"), voice="2"))
    (tuplet,) = text.all("tuplet")
    assert tuplet.get("num.visible") is None, "it holds a note"
    assert len(text.all("space")) == 2


def test_a_whole_bars_rest_and_an_empty_staff() -> None:
    music = score([note(0, 4, "A4", 0)], rests=[Rest(F(4), F(4), 0)])
    text = text_of(music, F(0), F(8))
    assert len(text.all("mRest")) == 1
    assert len(text.all("mSpace")) == 2


def test_fingers_stand_outside_their_hand() -> None:
    hands = [
        replace(note(0, 4, "A4", 0), fingers=("2",)),
        replace(note(0, 4, "A3", 1), fingers=("4", "5")),
    ]
    text = text_of(score(hands), F(0), F(4))
    assert [(f.text, f.get("place")) for f in text.all("fing")] == [
        ("2", "above"), ("4", "below"), ("5", "below"),
    ]  # fmt: skip
    upper = [replace(note(0, 4, "A5"), fingers=("5",)),
             replace(note(0, 4, "C5"), fingers=("1",), voice="2")]  # fmt: skip
    assert {(f.text, f.get("place")) for f in one_bar(*upper).all("fing")} == {
        ("5", "above"), ("1", "below"),
    }  # fmt: skip


def test_bar_lines_repeats_and_endings() -> None:
    def bar(index: int, **more: object) -> Bar:
        return Bar(index, str(index + 1), F(4 * index), F(4), Meter(4, 4), **more)  # type: ignore[arg-type]

    bars = (
        bar(0, repeat_start=True),
        bar(1, endings=(1,), repeat_times=2),
        bar(2, endings=(2, 3), double=True),
        bar(3, final=True),
    )
    music = replace(score([note(4 * n, 4, "A4") for n in range(4)], staves=1), bars=bars)
    text = text_of(music, F(0), F(16))
    lines = [(m.get("left"), m.get("right")) for m in text.all("measure")]
    assert lines == [("rptstart", None), (None, "rptend"), (None, "dbl"), (None, "end")]
    assert [e.get("n") for e in text.all("ending")] == ["1.", "2., 3."]


def test_a_hairpin_ends_on_the_page() -> None:
    marks = [Mark("dynamic", F(2), "crescendo", 0, end=F(12))]
    music = score([note(n, 1, "A4") for n in range(16)], bars=4, staves=1, marks=marks)
    ends = [text_of(music, F(0), F(end)).all("hairpin")[0].get("tstamp2") for end in (6, 8, 16)]
    assert ends == ["1m+3", "1m+5", "2m+5"]


def test_a_slur_is_drawn_in_the_voice_that_has_both_ends() -> None:
    upper = [note(0, 2, "A5"), note(2, 2, "B5")]
    lower = [replace(note(0, 1, "A4"), voice="2"), replace(note(1, 3, "B4"), voice="2")]
    marks = [Mark("slur", F(0), "", 0, end=F(4)), Mark("slur", F(1), "", 0, end=F(4)),
             Mark("slur", F(0), "", 0, end=F(9))]  # fmt: skip
    text = one_bar(*upper, *lower, marks=marks)
    ids = {id_: head.held.onset for id_, head in text.heads.items()}
    ends = [(s.attrib["startid"], s.attrib["endid"]) for s in text.all("slur")]
    drawn = [(int(ids[one[1:]]), int(ids[other[1:]])) for one, other in ends]
    assert drawn == [(0, 2)], "one from a single note to itself is none"


@pytest.mark.parametrize(
    ("meter", "pace"), [(Meter(3, 4), "♩ = 90"), (Meter(9, 8), "♩. = 60"), (Meter(2, 2), "♩ = 90")]
)
def test_a_pace_is_told_in_its_beat(meter: Meter, pace: str) -> None:
    text = one_bar(
        note(0, 1, "A4"),
        meter=(meter.count, meter.unit),
        marks=[Mark("tempo", F(0), "Calmly", value=90.0)],
    )
    assert [one.text for one in text.all("tempo")] == [f"Calmly ({pace})"]


def test_words_stay_words() -> None:
    wild = "<b>&\"'\x1b[31m ]]> \u202e\x00"
    music = replace(
        score([replace(note(0, 4, "A4"), fingers=(wild,))], bars=1, staves=1,
              marks=[Mark("text", F(0), wild, 0), Mark("dynamic", F(0), wild, 0),
                     Mark("lyric", F(0), wild, 0), Mark("tempo", F(0), wild)]),
        title=wild,
    )  # fmt: skip
    bars = (replace(music.bars[0], label=wild[:9]),)
    text = mei(replace(music, bars=bars), F(0), F(4))
    assert text.isprintable()
    again = Text(text, F(0))
    assert [d.text for d in again.all("dir")] == ["<b>&\"' [31m ]]>".replace("' [", "'[")]
    assert again.bars == ["<b>&\"'"[:9] + "[3"]


# What cannot be


@pytest.mark.parametrize(("begin", "end"), [(0, 0), (3, 2), (-1, 2), (0, 99)])
def test_a_span_that_is_none_is_refused(begin: int, end: int) -> None:
    with pytest.raises(TrainerError, match="Nothing to engrave"):
        mei(score([note(0, 4, "A4")]), F(begin), F(end))


def test_without_notes_there_is_no_picture() -> None:
    with pytest.raises(TrainerError, match="not in this deck"):
        mei(score([]), F(0), F(4))


@pytest.mark.parametrize("odd", [{"alter": 4}, {"alter": -4}, {"octave": 12}, {"octave": -1}])
def test_notes_that_no_sign_can_write_are_refused(odd: dict[str, int]) -> None:
    with pytest.raises(TrainerError, match="no sign can write"):
        mei(score([replace(note(0, 4, "A4"), **odd)]), F(0), F(4))


def test_more_than_a_picture_holds_is_refused() -> None:
    music = score([note(0, 4, "A4")], bars=MOST_BARS + 1)
    with pytest.raises(TrainerError, match="at most"):
        mei(music, F(0), music.end)


def test_a_note_over_the_bar_line_is_cut_at_it() -> None:
    """Only a stranger's deck has one."""
    music = score([note(3, 9, "A4"), note(4, 4, "B4")], staves=1)
    text = text_of(music, F(0), F(8))
    assert [h.length for h in text.written()] == [1, 4]


@given(st.integers(-3, 3), st.sampled_from("CDEFGAB"), st.integers(-7, 7))
def test_every_sign_is_read_as_it_was_meant(alter: int, step: str, fifths: int) -> None:
    one = replace(note(0, 4, f"{step}4"), alter=alter)
    text = one_bar(one, fifths=fifths)
    assert [h.pitch for h in text.written()] == [written_pitch(one)]
