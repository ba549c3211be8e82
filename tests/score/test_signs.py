"""Each sign that a player must do, from its MusicXML to a note's `signs` or to a mark.

The names and forms are those of the MusicXML 4.0 specification (W3C Music Notation Community
Group, 2021): elements "ornaments", "articulations", "notations", "grace", "direction-type".
"""

from __future__ import annotations

import pytest

from tests.pieces import piece_of
from tests.score.reading import read, table
from tests.score.written import bar, note, score
from trainer.deck.file import parse_deck, write_deck
from trainer.errors import TrainerError
from trainer.score.model import Sign

ORNAMENTS, ARTICULATIONS = "<ornaments>{}</ornaments>", "<articulations>{}</articulations>"
FLAT, SHARP = (
    f'<accidental-mark placement="{side}">{name}</accidental-mark>'
    for side, name in (("above", "flat"), ("below", "sharp"))
)
AT_A_NOTE = {
    ORNAMENTS.format("<trill-mark/>"): Sign("trill"),
    ORNAMENTS.format(f"<trill-mark/>{FLAT}"): Sign("trill", above=-1),
    ORNAMENTS.format("<turn/>"): Sign("turn"),
    ORNAMENTS.format(f"<turn/>{FLAT}{SHARP}"): Sign("turn", above=-1, below=1),
    ORNAMENTS.format("<vertical-turn/>"): Sign("turn"),
    ORNAMENTS.format("<inverted-turn/>"): Sign("inverted turn"),
    ORNAMENTS.format("<delayed-turn/>"): Sign("delayed turn"),
    ORNAMENTS.format("<delayed-inverted-turn/>"): Sign("delayed inverted turn"),
    ORNAMENTS.format("<mordent/>"): Sign("mordent"),
    ORNAMENTS.format(f"<mordent/>{SHARP}"): Sign("mordent", below=1),
    ORNAMENTS.format("<inverted-mordent/>"): Sign("short trill"),
    ORNAMENTS.format("<schleifer/>"): Sign("slide"),
    ORNAMENTS.format('<tremolo type="single">2</tremolo>'): Sign("tremolo", strokes=2),
    "<arpeggiate/>": Sign("arpeggio"),
    '<arpeggiate direction="up"/>': Sign("arpeggio up"),
    '<arpeggiate number="1" direction="down"/>': Sign("arpeggio down"),
    '<non-arpeggiate type="top"/>': Sign("not arpeggiated"),
    ARTICULATIONS.format("<staccato/>"): Sign("staccato"),
    ARTICULATIONS.format("<staccatissimo/>"): Sign("staccatissimo"),
    ARTICULATIONS.format("<spiccato/>"): Sign("staccatissimo"),
    ARTICULATIONS.format("<tenuto/>"): Sign("tenuto"),
    ARTICULATIONS.format("<accent/>"): Sign("accent"),
    ARTICULATIONS.format("<strong-accent/>"): Sign("marcato"),
    ARTICULATIONS.format("<detached-legato/>"): Sign("portato"),
}


def with_notations(*inside: str, pitches: str = "C5/1") -> str:
    """A bar of four notes or chords, each with what is given inside its notations."""
    notes = [
        note(pitches, inner=f"<notations>{text}</notations>" if text else "")
        for text in (*inside, *[""] * (4 - len(inside)))
    ]
    return score([bar("", time="4/4", before="".join(notes))])


def direction(inside: str) -> str:
    return f"<direction><direction-type>{inside}</direction-type></direction>"


@pytest.mark.parametrize("xml", AT_A_NOTE)
def test_a_sign_is_read_at_its_note(xml: str) -> None:
    found = read(with_notations(xml))
    assert table(found, "signs") == [(AT_A_NOTE[xml],), (), (), ()]
    assert not found.warnings


def test_a_chord_has_its_signs_at_the_highest_note_and_an_arpeggio_at_all() -> None:
    text = f"<arpeggiate/>{ARTICULATIONS.format('<staccato/>')}"
    found = read(with_notations(text, pitches="E5+C5+G4/1"))
    broken, short = Sign("arpeggio"), Sign("staccato")
    assert table(found, "step", "signs")[:3] == [
        ("G", (broken,)),
        ("C", (broken,)),
        ("E", (broken, short)),
    ]


@pytest.mark.parametrize(
    ("start", "stop", "kind", "text"),
    [
        ('octave-shift type="down" size="8"', 'octave-shift type="stop"', "octave", "8va"),
        ('octave-shift type="up" size="8"', 'octave-shift type="stop"', "octave", "8vb"),
        ('octave-shift type="up" size="15"', 'octave-shift type="stop"', "octave", "15mb"),
        ('pedal type="start"', 'pedal type="stop"', "pedal", ""),
        ('pedal type="sostenuto"', 'pedal type="stop"', "pedal", "sostenuto"),
    ],
)
def test_a_line_is_read_from_its_first_note_to_its_last(
    start: str, stop: str, kind: str, text: str
) -> None:
    before, after = f"<{start}/>", f"<{stop}/>"
    inside = [note("C5/1"), direction(before), note("D5/1"), note("E5/1"), direction(after)]
    found = read(score([bar("", time="4/4", before="".join([*inside, note("F5/1")]))]))
    rows = table(found, "kind", "text", "onset", "end", of="marks")
    assert (kind, text, 1, 3) in rows


@pytest.mark.parametrize(
    ("start", "stop", "kind", "value"),
    [
        ('<glissando type="start"/>', '<glissando type="stop"/>', "glissando", None),
        ('<slide type="start"/>', '<slide type="stop"/>', "glissando", None),
        (
            ORNAMENTS.format('<tremolo type="start">3</tremolo>'),
            ORNAMENTS.format('<tremolo type="stop">3</tremolo>'),
            "tremolo",
            3,
        ),
        (
            ORNAMENTS.format('<trill-mark/><wavy-line type="start"/>'),
            ORNAMENTS.format('<wavy-line type="stop"/>'),
            "trill line",
            None,
        ),
    ],
)
def test_a_line_between_two_notes(start: str, stop: str, kind: str, value: float | None) -> None:
    found = read(with_notations(start, stop))
    rows = table(found, "kind", "value", "onset", "end", of="marks")
    assert (kind, value, 0, 2) in rows


def test_the_pedal_is_changed_on_the_way() -> None:
    inside = [
        direction('<pedal type="start"/>'),
        note("C5/1"),
        note("D5/1"),
        direction('<pedal type="change"/>'),
        note("E5/2"),
        direction('<pedal type="stop"/>'),
    ]
    found = read(score([bar("", time="4/4", before="".join(inside))]))
    rows = table(found, "kind", "onset", "end", of="marks")
    assert [row for row in rows if row[0] == "pedal"] == [("pedal", 0, 2), ("pedal", 2, 4)]


def test_grace_notes_keep_their_order_and_their_stroke() -> None:
    graces = note("D5/g") + note("B4/g").replace("<grace/>", '<grace slash="yes"/>')
    found = read(score([bar("", time="4/4", before=graces + note("C5/4"))]))
    slashed = (Sign("slashed"),)
    assert table(found, "step", "grace", "order", "signs") == [
        ("D", True, 0, ()),
        ("B", True, 1, slashed),
        ("C", False, 0, ()),
    ]


def test_what_has_no_sign_here_is_counted_and_said() -> None:
    text = "<technical><up-bow/></technical>"
    found = read(with_notations(text, text, ARTICULATIONS.format("<scoop/>")))
    assert found.warnings == ("Left out: 3 signs (scoop, up bow).",)


def test_signs_are_kept_with_the_deck_and_bounded_there() -> None:
    found = read(with_notations(ORNAMENTS.format(f"<turn/>{FLAT}"), "<arpeggiate/>"))
    text = write_deck(piece_of(found, [0]))
    assert parse_deck(text.encode(), "x").score == found
    with pytest.raises(TrainerError, match=r"score\.notes\[0\]\.signs\[\]\.above or below"):
        parse_deck(text.replace('"above":-1', '"above":-9').encode(), "x")
