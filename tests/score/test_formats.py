"""The same music in every format, and what is particular to each."""

from __future__ import annotations

import random
import struct
from fractions import Fraction
from pathlib import Path

import pytest

from tests.pieces import piece_of
from tests.score.reading import read, table
from tests.score.written import bar, score
from trainer.deck.file import parse_deck, write_deck
from trainer.errors import TrainerError
from trainer.score.files import Kind, load
from trainer.values import encode

# An upbeat in 3/4, two full bars: G4 | C5 D5 E5 | F5-F5
XML = score(
    [bar("G4/1", 0, time="3/4", key=0), bar("C5/1 D5/1 E5/1", 1), bar("F5/2", 2)], title="Minuet"
)
ABC = "X:1\nT:Minuet\nM:3/4\nL:1/4\nK:C\nG|c d e|f2|]\n"
KERN = "!!!OTL: Minuet\n**kern\n*clefG2\n*k[]\n*M3/4\n=0\n4g\n=1\n4cc\n4dd\n4ee\n=2\n2ff\n==\n*-\n"
MEI = """<?xml version="1.0"?><mei xmlns="http://www.music-encoding.org/ns/mei"><meiHead><fileDesc>
<titleStmt><title>Minuet</title></titleStmt></fileDesc></meiHead><music><body><mdiv><score>
<scoreDef meter.count="3" meter.unit="4" key.sig="0"><staffGrp>
<staffDef n="1" lines="5" clef.shape="G" clef.line="2"/></staffGrp></scoreDef><section>
<measure n="0" metcon="false"><staff n="1"><layer n="1"><note pname="g" oct="4" dur="4"/></layer>
</staff></measure>
<measure n="1"><staff n="1"><layer n="1"><note pname="c" oct="5" dur="4"/>
<note pname="d" oct="5" dur="4"/><note pname="e" oct="5" dur="4"/></layer></staff></measure>
<measure n="2"><staff n="1"><layer n="1"><note pname="f" oct="5" dur="2"/></layer></staff>
</measure></section></score></mdiv></body></music></mei>"""
F = Fraction
PITCHES = [67, 72, 74, 76, 77]


def midi(*tracks: bytes, division: int = 96) -> bytes:
    """A MIDI file of format 1 from the events of its tracks (Standard MIDI Files 1.0)."""
    data = b"MThd" + struct.pack(">IHHH", 6, 1, len(tracks), division)
    for events in tracks:
        whole = events + b"\x00\xff\x2f\x00"
        data += b"MTrk" + struct.pack(">I", len(whole)) + whole
    return data


def midi_notes(*notes: tuple[int, int]) -> bytes:
    """Events for notes one after the other: (pitch, ticks), pitch 0 for a rest of < 128 ticks."""
    events, wait = b"", 0
    for pitch, ticks in notes:
        if not pitch:
            wait = ticks
            continue
        length = bytes([0x80 | ticks >> 7, ticks & 0x7F]) if ticks > 127 else bytes([ticks])
        events += bytes([wait, 0x90, pitch, 80]) + length + bytes([0x80, pitch, 0])
        wait = 0
    return events


def mei_of(staff: str, *bars: str, before: str = "") -> str:
    """MEI of one staff with these attributes; `before` stands before the last bar."""
    written = [
        f'<measure n="{n}"><staff n="1"><layer n="1">{notes}</layer></staff></measure>'
        for n, notes in enumerate(bars, 1)
    ]
    music = "".join((*written[:-1], before, written[-1]))
    return MEI[: MEI.index("<staffDef")] + (
        f'<staffDef n="1" lines="5" clef.shape="G" clef.line="2" {staff}/></staffGrp></scoreDef>'
        f"<section>{music}</section></score></mdiv></body></music></mei>"
    )


D5 = '<note pname="d" oct="5" dur="2" dots="1"/>'


@pytest.mark.parametrize(
    ("staff", "sounds"),
    [
        ('label="Clarinet" trans.semi="-2" trans.diat="-1"', 72),
        ('label="Clarinet" trans.semi="-2"', 72),
        ("label='>' trans.semi = '-3'", 71),
        ('trans.semi="12" trans.diat="7"', 86),
        ('label="Clarinet"', 74),  # an instrument that is usually written elsewhere
        ('label="Horn" trans.semi="0" trans.diat="0"', 74),
    ],
)
def test_mei_tells_how_a_staff_sounds(staff: str, sounds: int) -> None:
    found = read(mei_of(staff, D5, D5), "MEI")
    assert [(note.step, note.octave, note.pitch) for note in found.notes] == [("D", 5, sounds)] * 2
    assert found.staves[0].transposition == sounds - 74
    assert parse_deck(write_deck(piece_of(found, [0])).encode(), "x").score == found


def test_mei_changes_the_instrument() -> None:
    change = '<staffDef n="1" label="Clarinet in A" trans.semi="-3" trans.diat="-2"/>'
    found = read(mei_of('label="Clarinet" trans.semi="-2"', D5, D5, before=change), "MEI")
    assert [note.pitch for note in found.notes] == [72, 71]
    assert [(float(mark.onset), mark.value) for mark in found.marks_of("transposition")] == [
        (3.0, -3.0)
    ]


@pytest.mark.parametrize("name", ["key.sig", "keysig"])
def test_mei_tells_the_key_under_either_name(name: str) -> None:
    text = MEI.replace('key.sig="0"', f'{name}="2s"')
    assert [bar.fifths for bar in read(text, "MEI").bars] == [2, 2, 2]


G5, A5, B5 = (f'<note pname="{step}" oct="5" dur="4"/>' for step in "gab")


@pytest.mark.parametrize(
    ("written", "lasts"),
    [
        (G5, [1]),
        (G5.replace("/>", '><verse><syl wordpos="s">la</syl></verse></note>'), [1]),
        (f'<clef xml:id="a" shape="G" line="2"/><clef sameas="#a"/><clef/>{G5}', [1]),
        (f'<tuplet num="3" numbase="2"><rest dur="4"/><rest dur="4"/>{G5}</tuplet>', [F(2, 3)]),
        ('<tuplet num="1" numbase="1"><rest dur="4"/></tuplet>' + G5, [1]),
        (f"<bTrem>{G5}</bTrem>", [1]),
        (f"<beam><bTrem>{G5}</bTrem></beam>", [1]),
        (f"<fTrem>{G5}{A5}</fTrem>", [F(1, 2), F(1, 2)]),
        (f"<graceGrp>{A5}</graceGrp>{G5}", [0, 1]),
        (f"<supplied><corr>{G5}</corr></supplied>", [1]),
        (f"<app><lem>{G5}</lem><rdg>{B5}</rdg></app>", [1]),
    ],
)
def test_mei_keeps_all_that_a_layer_holds(written: str, lasts: list[int]) -> None:
    found = read(mei_of("", written, D5), "MEI").notes
    assert [note.length for note in found[:-1]] == lasts
    assert "B" not in [note.step for note in found]  # another reading


@pytest.mark.parametrize(("number", "printed"), [("X1", "1"), ("12a", "12"), ("", "1")])
def test_mei_may_number_a_measure_in_any_way(number: str, printed: str) -> None:
    text = mei_of("", D5, D5).replace('measure n="1"', f'measure n="{number}"')
    assert read(text, "MEI").bars[0].label == printed


@pytest.mark.parametrize(
    ("written", "kind"),
    [
        ("T", "trill"),
        ("!trill!", "trill"),
        ("!turn!", "turn"),
        ("M", "mordent"),
        ("!uppermordent!", "short trill"),
        ("!>!", "accent"),
        ("L", "accent"),
        ("!tenuto!", "tenuto"),
    ],
)
def test_abc_keeps_its_decorations(written: str, kind: str) -> None:
    """ABC 2.1, "Decorations"."""
    text = f'X:1\nT:The Trill\nM:3/4\nL:1/4\nK:C\n"Am"{{a}}c {written}^d [ce]|{written}e2 f|]\n'
    found = read(text, "ABC").notes
    signed = [note.step for note in found if [sign.kind for sign in note.signs] == [kind]]
    assert signed == ["D", "E"]
    assert len(found) == 7


def test_abc_keeps_fermatas_and_fingers() -> None:
    found = read("X:1\nM:3/4\nL:1/4\nK:C\n!3!c d He|!1!f3|]\n", "ABC")
    assert [note.fingers for note in found.notes] == [("3",), (), (), ("1",)]
    assert [mark.onset for mark in found.marks_of("fermata")] == [2]


@pytest.mark.parametrize("name", ["UTF-16", "ISO-8859-1", "no-such-name"])
def test_an_xml_file_may_call_its_encoding_what_it_is_not(name: str) -> None:
    assert table(
        read(f'<?xml version="1.0" encoding="{name}"?>{XML[XML.index("<score") :]}', "MusicXML")
    )


THREE_FOUR = b"\x00\xff\x58\x04\x03\x02\x18\x08"


@pytest.mark.parametrize(
    ("kind", "text"), [("MusicXML", XML), ("ABC", ABC), ("kern", KERN), ("MEI", MEI)]
)
def test_the_same_minuet_from_each_format(kind: Kind, text: str) -> None:
    found = read(text, kind)
    assert table(found, "pitch") == PITCHES
    assert table(found, "onset") == [0, 1, 2, 3, 4]
    assert [str(b.meter) for b in found.bars] == ["3/4"] * 3
    assert [b.upbeat for b in found.bars] == [True, False, False]
    assert [b.label for b in found.bars] == ["0", "1", "2"]
    assert found.title == "Minuet"


def test_midi_has_a_grid_of_bars_and_a_caution() -> None:
    notes = midi_notes(*((pitch, 96) for pitch in PITCHES), (77, 96))
    found = read(midi(THREE_FOUR, notes), "MIDI")
    assert table(found, "pitch") == [*PITCHES, 77]
    assert [(b.start, b.length, b.label) for b in found.bars] == [
        (Fraction(0), Fraction(3), "1"),
        (Fraction(3), Fraction(3), "2"),
    ]
    assert any("may differ from the print" in warning for warning in found.warnings)


@pytest.mark.parametrize("seed", range(5))
def test_a_midi_file_that_was_played_freely_is_refused(seed: int) -> None:
    chance = random.Random(seed)
    free = [(60 + chance.randrange(12), chance.randrange(60, 130)) for _ in range(60)]
    with pytest.raises(TrainerError, match=r"played freely.*give the written score"):
        read(midi(THREE_FOUR, midi_notes(*free)), "MIDI")
    for parts in ((96, 48, 24), (32, 64, 16), (24, 32, 48)):  # triplets among eighths, too
        beat = [(60 + chance.randrange(12), chance.choice(parts)) for _ in range(60)]
        assert read(midi(THREE_FOUR, midi_notes(*beat)), "MIDI").notes


def test_midi_notes_over_a_bar_line_are_tied() -> None:
    found = read(midi(THREE_FOUR, midi_notes((60, 192), (62, 192), (64, 96))), "MIDI")
    assert table(found, "onset", "length", "tie") == [
        (0, 2, ""),
        (2, 1, "start"),
        (3, 1, "stop"),
        (4, 1, ""),
    ]


def test_midi_notes_are_named_by_their_key() -> None:
    """D flat major as its signature says, and A minor, whose raised seventh step is G sharp."""
    flats = b"\x00\xff\x59\x02\xfb\x00"
    scale = [61, 63, 65, 66, 68, 70, 72, 73]
    found = read(midi(THREE_FOUR + flats, midi_notes(*((pitch, 96) for pitch in scale))), "MIDI")
    assert table(found, "step", "alter", "octave") == [
        ("D", -1, 4),
        ("E", -1, 4),
        ("F", 0, 4),
        ("G", -1, 4),
        ("A", -1, 4),
        ("B", -1, 4),
        ("C", 0, 5),
        ("D", -1, 5),
    ]
    minor = [69, 71, 72, 74, 76, 69, 68, 69, 71, 68, 69, 64, 69, 76, 69]
    found = read(midi(THREE_FOUR, midi_notes(*((pitch, 96) for pitch in minor))), "MIDI")
    assert {(note.step, note.alter) for note in found.notes if note.pitch == 68} == {("G", 1)}


def test_abc_with_several_tunes_gives_the_one_asked_for() -> None:
    tunes = ABC + "\nX:2\nT:Second\nM:2/4\nL:1/4\nK:D\nd f|a2|]\n"
    first, second = read(tunes, "ABC"), read(tunes, "ABC", movement=2)
    assert (first.title, second.title) == ("Minuet", "Second")
    assert first.warnings == ("The file holds 2 tunes; this is number 1.",)
    assert second.bars[0].fifths == 2
    with pytest.raises(TrainerError, match="no number 3"):
        read(tunes, "ABC", movement=3)


def test_kern_without_bar_numbers_is_counted() -> None:
    found = read(KERN.replace("=0", "=-").replace("=1", "=").replace("=2", "="), "kern")
    assert [b.label for b in found.bars] == ["0", "1", "2"]
    assert found.bars[0].upbeat
    assert any("bar numbers" in warning for warning in found.warnings)


def test_kern_with_two_staves_has_the_upper_one_first() -> None:
    text = "**kern\t**kern\n*clefF4\t*clefG2\n*M2/4\t*M2/4\n=1\t=1\n2C\t4c\n.\t4d\n==\t==\n*-\t*-\n"
    found = read(text, "kern")
    assert [staff.role for staff in found.staves] == ["right hand", "left hand"]
    assert table(found, "staff", "pitch", "onset") == [(0, 60, 0), (1, 48, 0), (0, 62, 1)]


def test_music_without_bar_lines_gets_bars_of_its_metre() -> None:
    found = read("**kern\n*M3/4\n4c\n4d\n4e\n4f\n4g\n4a\n*-\n", "kern")
    assert [b.length for b in found.bars] == [3, 3]
    assert table(found, "onset") == [0, 1, 2, 3, 4, 5]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (XML, "MusicXML"),
        (XML.encode("utf-16"), "MusicXML"),
        (b"\xef\xbb\xbf" + XML.encode(), "MusicXML"),
        (ABC, "ABC"),
        (KERN, "kern"),
        (MEI, "MEI"),
        (midi(THREE_FOUR), "MIDI"),
    ],
)
def test_the_content_says_the_kind_and_not_the_name(
    text: str | bytes, kind: Kind, tmp_path: Path
) -> None:
    path = tmp_path / "file.txt"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    assert load(path).kind == kind


def test_two_readings_are_equal_to_the_letter() -> None:
    """Voices without a name have one from music21 that differs each time."""
    chord = b"\x00\x90\x3c\x50\x00\x90\x40\x50\x60\x80\x3c\x00\x60\x80\x40\x00"
    data = midi(THREE_FOUR, chord + midi_notes((62, 96)))
    first, second = read(data, "MIDI"), read(data, "MIDI")
    assert encode(first) == encode(second)
    assert {len(note.voice) for note in first.notes} == {1}
    assert len({note.voice for note in first.notes}) == 2
