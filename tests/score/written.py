"""Small MusicXML scores, written in a line or two for the tests of the reader.

A bar is a text of notes: "C4/1 D#5/0.5 r/2" is a quarter, an eighth and a half rest; several
pitches with "+" are a chord; "~" after the pitch begins a tie, "~" before it ends one; "g" in
place of a length is a grace note; "|" goes back to the bar's beginning for the next voice.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

DIVISIONS = 840


def note(text: str, voice: int = 1, staff: int = 1, inner: str = "") -> str:
    """One note, chord or rest as MusicXML; `inner` is put before each note's end."""
    pitches, _, length = text.partition("/")
    grace = length == "g"
    ticks = 0 if grace else Fraction(length) * DIVISIONS
    duration = "<grace/>" if grace else ""
    after = "" if grace else f"<duration>{ticks}</duration>"
    tail = f"<voice>{voice}</voice><staff>{staff}</staff>{inner}</note>"
    if pitches == "r":
        return f"<note><rest/>{after}{tail}"
    heads = []
    for place, pitch in enumerate(pitches.split("+")):
        name = pitch.strip("~")
        alter = name.count("#") - name.count("b")
        tie = '<tie type="stop"/>' * pitch.startswith("~")
        tie += '<tie type="start"/>' * pitch.endswith("~")
        heads.append(
            f"<note>{duration}{'<chord/>' * bool(place)}<pitch><step>{name[0]}</step>"
            f"<alter>{alter}</alter><octave>{name[-1]}</octave></pitch>{after}{tie}{tail}"
        )
    return "".join(heads)


def bar(
    notes: str,
    number: str | int = 1,
    *,
    time: str = "",
    key: int | None = None,
    before: str = "",
    after: str = "",
    implicit: bool = False,
    attributes: str = "",
    staff: int = 1,
) -> str:
    """One measure. `time` is "3/4"; `before` and `after` are MusicXML around the notes."""
    head = f"<divisions>{DIVISIONS}</divisions>"
    if key is not None:
        head += f"<key><fifths>{key}</fifths></key>"
    if time:
        beats, unit = time.split("/")
        head += f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>"
    voices = []
    for voice, text in enumerate(notes.split("|"), 1):
        voices.append("".join(note(one, voice, staff) for one in text.split()))
        if voice < len(notes.split("|")):
            total = sum(Fraction(one.split("/")[1]) for one in text.split() if one[-1] != "g")
            voices.append(f"<backup><duration>{total * DIVISIONS}</duration></backup>")
    mark = ' implicit="yes"' if implicit else ""
    return (
        f'<measure number="{number}"{mark}><attributes>{head}{attributes}</attributes>'
        f"{before}{''.join(voices)}{after}</measure>"
    )


def repeat(direction: str, times: int = 0) -> str:
    side = "left" if direction == "forward" else "right"
    count = f' times="{times}"' if times else ""
    return f'<barline location="{side}"><repeat direction="{direction}"{count}/></barline>'


def ending(numbers: str, *, stop: bool = False, back: bool = False) -> str:
    """One side of an ending's bracket; `back` adds the repeat sign at its end."""
    side, kind = ("right", "stop") if stop else ("left", "start")
    sign = '<repeat direction="backward"/>' if back else ""
    return f'<barline location="{side}"><ending number="{numbers}" type="{kind}"/>{sign}</barline>'


def words(text: str) -> str:
    return f"<direction><direction-type><words>{text}</words></direction-type></direction>"


def score(*parts: Sequence[str], title: str = "", names: Sequence[str] = ()) -> str:
    """A whole score; each part is a list of measures."""
    listed = body = ""
    for place, measures in enumerate(parts):
        name = names[place] if names else ""
        listed += f'<score-part id="P{place}"><part-name>{name}</part-name></score-part>'
        body += f'<part id="P{place}">{"".join(measures)}</part>'
    head = f"<movement-title>{title}</movement-title>" if title else ""
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0">{head}'
        f"<part-list>{listed}</part-list>{body}</score-partwise>"
    )
