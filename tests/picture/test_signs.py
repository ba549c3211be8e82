"""The signs in the engraved picture, as MEI 5 calls them (Music Encoding Initiative, guidelines
5.0, chapters on ornaments, articulation, tremolo and lines)."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from typing import get_args

import pytest
from msgspec.structs import replace

from tests.draw.scores import F, note, score
from trainer.picture.mei import mei
from trainer.score.model import Mark, Score, Sign, SignKind

MEI = "{http://www.music-encoding.org/ns/mei}"
DRAWN: dict[Sign, tuple[str, dict[str, str]]] = {
    Sign("trill", above=-1): ("trill", {"startid": "#n0", "accidupper": "f"}),
    Sign("turn", above=1, below=0): (
        "turn",
        {"startid": "#n0", "form": "upper", "accidupper": "s", "accidlower": "n"},
    ),
    Sign("inverted turn"): ("turn", {"form": "lower"}),
    Sign("delayed turn"): ("turn", {"form": "upper", "delayed": "true"}),
    Sign("delayed inverted turn"): ("turn", {"form": "lower", "delayed": "true"}),
    Sign("mordent", below=1): ("mordent", {"form": "lower", "accidlower": "s"}),
    Sign("short trill"): ("mordent", {"form": "upper"}),
    Sign("slide"): ("dir", {"startid": "#n0"}),
    Sign("tremolo", strokes=3): ("note", {"stem.mod": "3slash"}),
    Sign("arpeggio"): ("arpeg", {"plist": "#n0"}),
    Sign("arpeggio up"): ("arpeg", {"order": "up", "arrow": "true"}),
    Sign("arpeggio down"): ("arpeg", {"order": "down", "arrow": "true"}),
    Sign("not arpeggiated"): ("arpeg", {"order": "nonarp"}),
    Sign("staccato"): ("artic", {"artic": "stacc"}),
    Sign("staccatissimo"): ("artic", {"artic": "stacciss"}),
    Sign("tenuto"): ("artic", {"artic": "ten"}),
    Sign("accent"): ("artic", {"artic": "acc"}),
    Sign("marcato"): ("artic", {"artic": "marc"}),
    Sign("portato"): ("artic", {"artic": "ten"}),
}


def engraved(music: Score, name: str) -> list[dict[str, str]]:
    """The attributes of all elements of one name, in order."""
    return [dict(one.attrib) for one in ET.fromstring(mei(music, F(0), F(4))).iter(MEI + name)]


def one_bar(*signs: Sign, marks: tuple[Mark, ...] = ()) -> Score:
    first = replace(note(0, 2, "C5"), signs=signs)
    return score([first, note(2, 2, "E5")], staves=1, bars=1, marks=marks)


def test_every_sign_is_drawn() -> None:
    assert {sign.kind for sign in DRAWN} | {"slashed"} == set(get_args(SignKind))


@pytest.mark.parametrize("sign", DRAWN, ids=lambda sign: sign.kind)
def test_a_sign_is_drawn_at_its_note(sign: Sign) -> None:
    name, said = DRAWN[sign]
    found = engraved(one_bar(sign), name)
    assert found
    assert said.items() <= found[0].items()
    assert name == "note" or not engraved(one_bar(), name)


def test_an_arpeggio_goes_through_its_whole_chord() -> None:
    chord = [replace(note(0, 4, name), signs=(Sign("arpeggio"),)) for name in ("C4", "E4", "G4")]
    assert engraved(score(chord, staves=1, bars=1), "arpeg") == [{"plist": "#n0 #n1 #n2"}]


def test_an_octave_line_has_its_notes_an_octave_nearer() -> None:
    music = one_bar(marks=(Mark("octave", F(0), "8va", 0, F(2)),))
    heads = [(one["oct"], one.get("oct.ges")) for one in engraved(music, "note")]
    assert heads == [("4", "5"), ("5", None)]
    line = engraved(music, "octave")[0]
    assert (line["dis"], line["dis.place"], line["tstamp2"]) == ("8", "above", "0m+3")


def test_a_pedal_goes_down_and_up() -> None:
    music = one_bar(marks=(Mark("pedal", F(0), staff=0, end=F(2)),))
    assert [(one["dir"], one["tstamp"]) for one in engraved(music, "pedal")] == [
        ("down", "1"),
        ("up", "3"),
    ]


def test_lines_between_two_notes() -> None:
    music = one_bar(marks=(Mark("glissando", F(0), staff=0, end=F(4)),))
    assert engraved(music, "gliss") == [{"startid": "#n0", "endid": "#n1"}]
    wavy = Mark("trill line", F(0), staff=0, end=F(4))
    (line,) = engraved(one_bar(Sign("trill"), marks=(wavy,)), "trill")
    assert (line["startid"], line["extender"], line["tstamp2"]) == ("#n0", "true", "0m+5")


def test_grace_notes_stand_in_their_order_with_their_strokes() -> None:
    graces = [replace(note(0, 0, name), grace=True, order=n) for n, name in enumerate(["D5", "B4"])]
    graces[1] = replace(graces[1], signs=(Sign("slashed"),))
    found = engraved(score([*graces, note(0, 4, "C5")], staves=1, bars=1), "note")
    assert [(one["pname"], one.get("grace"), one["dur"]) for one in found] == [
        ("d", "acc", "16"),
        ("b", "unacc", "16"),
        ("c", None, "1"),
    ]
