"""Notes, rests, staves and marks as written."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.score.reading import read, table
from tests.score.written import DIVISIONS, bar, note, score, words
from trainer.deck.sound import sound_score
from trainer.score.model import Score

FULL = "C4/1 D4/1 E4/1 F4/1"


def test_pitches_are_exact_and_spelled_as_written() -> None:
    found = read(score([bar("F#4/0.5 Gb4/0.5 Cb5/1 B#3/2", time="4/4")]))
    assert table(found, "step", "alter", "octave", "pitch") == [
        ("F", 1, 4, 66),
        ("G", -1, 4, 66),
        ("C", -1, 5, 71),
        ("B", 1, 3, 60),
    ]


def test_tuplets_are_exact_fractions() -> None:
    third, seventh = Fraction(280, 840), Fraction(120, 840)
    text = " ".join([f"C4/{third}"] * 3 + [f"D4/{seventh}"] * 7 + ["E4/2"])
    onsets = table(read(score([bar(text, time="4/4")])), "onset")
    assert onsets[:4] == [0, Fraction(1, 3), Fraction(2, 3), 1]
    assert onsets[4] == Fraction(8, 7)
    assert onsets[-1] == 2


def test_voices_chords_and_rests() -> None:
    found = read(score([bar("C5+E5/2 r/2|A3/4", time="4/4")]))
    assert table(found, "pitch", "voice", "onset") == [(57, "2", 0), (72, "1", 0), (76, "1", 0)]
    assert table(found, "onset", "length", "voice", of="rests") == [(2, 2, "1")]


def test_each_note_of_a_chord_has_its_own_tie() -> None:
    found = read(score([bar("C4~+E4/4", 1, time="4/4"), bar("~C4+F4/4", 2)]))
    assert table(found, "pitch", "tie") == [(60, "start"), (64, ""), (60, "stop"), (65, "")]
    assert list(map(int, found.onsets)) == [0, 4]
    assert [n.pitch for n in found.notes if n.sounds] == [60, 64, 65]


def test_grace_and_cue_notes() -> None:
    cue = (
        note("G4/1")
        .replace("<note>", "<note><cue/>")
        .replace("<voice>", "<type>quarter</type><voice>")
    )
    found = read(score([bar("D4/g C4/3", 1, time="4/4", after=cue)]))
    assert table(found, "pitch", "grace", "cue", "length", "onset") == [
        (62, True, False, 0, 0),
        (60, False, False, 3, 0),
        (67, False, True, 1, 3),
    ]
    assert list(map(int, found.onsets)) == [0]


def test_a_note_without_a_length_is_kept_as_a_grace_note_and_said() -> None:
    found = read(score([bar("D4/0 C4/4", 1, time="4/4")]))
    assert table(found, "pitch", "grace") == [(62, True), (60, False)]
    assert any("without a length" in warning for warning in found.warnings)


def test_a_transposing_instrument_sounds_elsewhere() -> None:
    transpose = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    found = read(score([bar(FULL, 1, time="4/4", attributes=transpose)], names=["Clarinet"]))
    assert found.staves[0].transposition == -2
    assert (found.notes[0].step, found.notes[0].octave, found.notes[0].pitch) == ("C", 4, 58)


def test_a_player_who_changes_the_instrument() -> None:
    def to(chromatic: int) -> str:
        return f"<transpose><chromatic>{chromatic}</chromatic></transpose>"

    bars = [
        bar(FULL, 1, time="4/4", attributes=to(-2)),
        *(bar(FULL, number, attributes=to(-3)) for number in (2, 3)),
    ]
    found = read(score(bars, names=["Clarinet"]))
    assert found.staves[0].transposition == -2
    assert [(m.onset, m.staff, m.value) for m in found.marks_of("transposition")] == [
        (Fraction(4), 0, -3.0)
    ]
    assert {note.pitch for note in found.notes_between(Fraction(4), Fraction(5))} == {57}
    sound_score(found, "what was read", notes=True)


def two_staves(upper: str, lower: str) -> str:
    back = "<backup><duration>3360</duration></backup>"
    below = "".join(note(text, 5, 2) for text in lower.split())
    return bar(upper, 1, time="4/4", attributes="<staves>2</staves>", after=back + below)


def test_a_part_with_two_staves_is_two_hands() -> None:
    found = read(score([two_staves("C5/4", "C3/2 G2/2")], names=["Study"]))
    assert [staff.role for staff in found.staves] == ["right hand", "left hand"]
    assert table(found, "staff", "pitch") == [(0, 72), (1, 48), (1, 43)]


def test_two_parts_that_are_one_keyboard() -> None:
    def clef(sign: str, line: int) -> str:
        return f"<clef><sign>{sign}</sign><line>{line}</line></clef>"

    upper = [bar("C5/4", 1, time="4/4", attributes=clef("G", 2))]
    lower = [bar("C3/4", 1, time="4/4", attributes=clef("F", 4))]

    def roles(*names: str) -> list[str]:
        return [staff.role for staff in read(score(upper, lower, names=names)).staves]

    assert roles("Piano", "Piano") == ["right hand", "left hand"]
    assert roles("Right hand", "Left hand") == ["right hand", "left hand"]
    assert roles("Violin", "Cello") == ["single", "single"]


def test_a_song_with_keyboard_has_one_single_staff_and_two_hands() -> None:
    found = read(score([bar(FULL, 1, time="4/4")], [two_staves("C5/4", "C3/4")]))
    assert [staff.role for staff in found.staves] == ["single", "right hand", "left hand"]


def test_chord_symbols_are_marks_and_not_notes() -> None:
    harmony = "<harmony><root><root-step>G</root-step></root><kind>dominant</kind></harmony>"
    found = read(score([bar(FULL, 1, time="4/4", before=harmony)]))
    assert len(found.notes) == 4
    chords = [row for row in table(found, "kind", "text", "onset", of="marks") if "chord" in row]
    assert chords == [("chord", "G7", 0)]


def test_unpitched_notes_are_left_out_and_counted() -> None:
    hit = note("C4/1").replace("pitch>", "unpitched>").replace("step>", "display-step>")
    hit = hit.replace("octave>", "display-octave>").replace("<alter>0</alter>", "")
    found = read(score([bar("C4/3", 1, time="4/4", after=hit)]))
    assert len(found.notes) == 1
    assert any(warning.startswith("1 unpitched") for warning in found.warnings)


def marked() -> Score:
    slur = "<notations><slur type='{}' number='1'/>{}</notations>"
    finger = "<technical><fingering>{}</fingering></technical>"
    first = note("C4/1", inner=slur.format("start", finger.format(3)))
    fermata = "<notations><fermata/><articulations><breath-mark/></articulations></notations>"
    second = note("D4/1", inner=slur.format("stop", "") + fermata)
    sung = note(
        "E4/2", inner="<lyric number='1'><syllabic>begin</syllabic><text>glo</text></lyric>"
    )
    signs = (
        "<direction><direction-type><rehearsal>B</rehearsal></direction-type></direction>"
        "<direction><direction-type><dynamics><mf/></dynamics></direction-type></direction>"
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
        "<per-minute>40</per-minute></metronome></direction-type></direction>"
    )
    clef = "<clef><sign>G</sign><line>2</line></clef>"
    page = '<print new-page="yes"/>'
    return read(
        score(
            [
                bar("", 1, time="4/4", before=signs + first + second + sung, attributes=clef),
                bar("C4+E4/4", 2, before=page + words("espressivo")),
            ]
        )
    )


def test_marks_beside_the_notes() -> None:
    found = set(table(marked(), "kind", "text", "onset", "end", "staff", of="marks"))
    assert found == {
        ("rehearsal", "B", 0, None, -1),
        ("dynamic", "mf", 0, None, 0),
        ("tempo", "", 0, None, -1),
        ("clef", "G2", 0, None, 0),
        ("slur", "", 0, 2, 0),
        ("fermata", "", 1, 2, -1),
        ("breath", "", 1, 2, 0),
        ("lyric", "glo-", 2, None, 0),
        ("page", "", 4, None, -1),
        ("text", "espressivo", 4, None, 0),
    }
    assert marked().marks_of("tempo")[0].value == 60
    assert marked().notes[0].fingers == ("3",)


def test_one_fermata_a_position() -> None:
    fermata = "<notations><fermata/></notations>"
    above = [bar("", 1, time="4/4", before=note("C5/4", inner=fermata))]
    below = [bar("", 1, time="4/4", before=note("C3/4", inner=fermata))]
    assert len(read(score(above, below)).marks_of("fermata")) == 1


def test_fingerings_of_a_chord_go_to_its_notes() -> None:
    inner = "<notations><technical><fingering>{}</fingering></technical></notations>"
    low = note("C4/4", inner=inner.format(1))
    high = note("E4/4", inner=inner.format(3)).replace("<note>", "<note><chord/>")
    found = read(score([bar("", 1, time="4/4", before=low + high)]))
    assert table(found, "pitch", "fingers") == [(60, ("1",)), (64, ("3",))]


def test_a_title_is_data() -> None:
    hostile = "Sonata [/b] [red]&#x202E;abc&#x9B;31m &lt;i&gt; \u05e9\u05d9\u05e8\n two"
    title = read(score([bar(FULL, time="4/4")], title=hostile)).title
    assert title == "Sonata [/b] [red]abc31m <i> \u05e9\u05d9\u05e8 two"


def test_a_score_without_a_title_has_the_name_of_its_file() -> None:
    assert read(score([bar(FULL, time="4/4")])).title == "small"
    assert read(score([bar(FULL, time="4/4")], title="bwv46.6.mxl")).title == "small"


def test_words_are_told_apart() -> None:
    before = "".join(map(words, ["Allegro ma non troppo", "dolce", "Menuetto D.C.", "poco rit."]))
    found = read(score([bar(FULL, 1, time="4/4", before=before)]))
    assert {(mark.kind, mark.text) for mark in found.marks} == {
        ("tempo", "Allegro ma non troppo"),
        ("text", "dolce"),
        ("jump", "da capo"),
        ("tempo", "poco rit."),
    }


def at(quarters: str, text: str, offset: int = 0) -> str:
    """Words at so many ticks from where they stand in the file."""
    told = f"<offset>{offset}</offset>" if offset else ""
    return words(text).replace("</direction>", f"{told}</direction>") + quarters


@pytest.mark.parametrize(("offset", "onset"), [(-9 * DIVISIONS, 0), (9 * DIVISIONS, 4)])
def test_a_mark_outside_its_bar_is_moved_into_it(offset: int, onset: int) -> None:
    inside = at(note("C4/1"), "dolce", offset) + note("D4/3")
    found = read(score([bar("", 1, time="4/4", before=inside), bar(FULL, 2)]))
    assert table(found, "text", "onset", of="marks") == [("dolce", onset)]


def fingers_of(*typed: str) -> tuple[list[tuple[str, ...]], list[str]]:
    """The fingers and the texts that are read where these are typed over quarter notes."""
    before = "".join(at(note("C4/1"), text) if text else note("C4/1") for text in typed)
    found = read(score([bar("", 1, time=f"{len(typed)}/4", before=before)]))
    return table(found, "fingers"), [mark.text for mark in found.marks_of("text")]


def test_fingers_that_were_typed_as_text_are_fingers() -> None:
    assert fingers_of("4", "", "1", "dolce", "5-1") == (
        [("4",), (), ("1",), (), ("5-1",)],
        ["dolce"],
    )


def test_numbers_that_rise_are_numbers_of_starts() -> None:
    assert fingers_of("1", "", "2", "3.", "dolce") == ([()] * 5, ["1", "2", "3.", "dolce"])
    assert fingers_of("1", "12", "1", "7", "") == (
        [("1",), (), ("1",), (), ()],
        ["12", "7"],
    )


TITLE = (
    "<credit page='1'><credit-type>title</credit-type><credit-words>Night</credit-words></credit>"
)


@pytest.mark.parametrize(
    ("head", "title"),
    [
        (
            "<work><work-title>Sonata</work-title></work><movement-title>Low</movement-title>",
            "Sonata",
        ),
        ("<movement-title>Low</movement-title>" + TITLE, "Low"),
        ("<movement-title>Allegro con brio</movement-title>" + TITLE, "Night"),
        ("<movement-title>a_b.mscz</movement-title>", "small"),
        (TITLE, "Night"),
        (
            "<movement-title>Rondo: Allegro ma non troppo</movement-title>",
            "Rondo: Allegro ma non troppo",
        ),
    ],
)
def test_the_title_is_that_of_the_work_the_movement_or_the_page(head: str, title: str) -> None:
    text = score([bar(FULL, time="4/4")]).replace("<part-list>", f"{head}<part-list>")
    assert read(text).title == title
