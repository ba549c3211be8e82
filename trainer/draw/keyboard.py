"""The keyboard with a hand position: three columns a white key, and the whole keyboard under it.

Keys are MIDI note numbers: 60 is middle C, a piano goes from 21 (A0) to 108 (C8).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Literal

from trainer.draw.layout import Canvas
from trainer.draw.names import Naming, spoken_name, written
from trainer.draw.text import clean
from trainer.draw.words import joined
from trainer.errors import TrainerError
from trainer.score.model import Note, Role, Score
from trainer.values import Frozen

LOWEST, HIGHEST = 21, 108
WHITE_KEYS = 52
_WHITE = {0: 0, 2: 1, 4: 2, 5: 3, 7: 4, 9: 5, 11: 6}  # semitones over C: white keys over C
_NARROWEST = 24
_STRIP = 3 + WHITE_KEYS + 3
_ASCII = str.maketrans("┌┬┐└┴┘─│▐▌█▁▄", "++++++-|[]#._")

Hand = Literal["R", "L", "x"]
_HANDS: dict[Role, Hand] = {"right hand": "R", "left hand": "L", "single": "x"}
_HAND_WORDS: dict[Hand, str] = {"R": "Right hand", "L": "Left hand", "x": "Keys"}


class Key(Frozen, frozen=True):
    """A key to be pressed: the sounding MIDI note number, the note as written, hand, finger."""

    pitch: int
    step: str
    alter: int
    octave: int
    hand: Hand = "x"
    finger: str = ""


def first_position(score: Score, start: Fraction) -> tuple[Key, ...]:
    """What each staff strikes first from `start` (quarter notes) on in its bar, lowest first."""
    near = score.notes_between(start, score.bar_at(start).end)
    keys: list[Key] = []
    for staff in score.staves:
        own = [n for n in near if n.staff == staff.number and n.sounds and not n.grace]
        keys += [_key(n, _HANDS[staff.role]) for n in own if n.onset == own[0].onset]
    return tuple(sorted(keys, key=lambda key: (key.pitch, key.hand)))


def _key(note: Note, hand: Hand) -> Key:
    finger = clean(note.fingers[0])[:1] if note.fingers else ""
    return Key(note.pitch, note.step, note.alter, note.octave, hand, finger)


def in_hands(keys: Sequence[Key]) -> tuple[Key, ...]:
    """Those keys that a hand at a keyboard is said to press."""
    return tuple(key for key in keys if key.hand != "x")


def too_wide(keys: Sequence[Key], span: int) -> bool:
    """Whether a hand would have to reach farther than `span` semitones."""
    pitches = ([key.pitch for key in keys if key.hand == hand] for hand in ("R", "L"))
    return any(max(own) - min(own) > span for own in pitches if own)


def white_index(pitch: int) -> int:
    """The number of a white key from the left, A0 being 0; of a black key, that of the white
    key below it."""
    octave, over = divmod(pitch, 12)
    return 7 * octave + (_WHITE[over] if over in _WHITE else _WHITE[over - 1]) - 12


def is_black(pitch: int) -> bool:
    return pitch % 12 not in _WHITE


def keyboard(
    keys: Sequence[Key], *, width: int = 80, names: Naming = "english", ascii: bool = False
) -> list[str]:
    """The keys with hand and finger on the part of the keyboard around them, then the whole
    keyboard as a strip where it fits (60 columns).

    Hands too far apart for the width are drawn one under the other. Keys that a piano has not
    are named in a last line. Raises TrainerError where the width is under 24 cells.
    """
    if width < _NARROWEST:
        raise TrainerError(f"{width} columns are too few for a keyboard: widen to {_NARROWEST}.")
    room = (width - 2) // 3
    there = sorted((k for k in keys if LOWEST <= k.pitch <= HIGHEST), key=lambda k: k.pitch)
    groups = list(_groups(there, room))
    ranges = [_range(group, room) for group in groups]
    lines: list[str] = []
    for group, (first, last) in zip(groups, ranges, strict=True):
        lines += _part(group, first, last, names)
    if width > _STRIP:
        lines.append(_strip(there, ranges, names))
    if ascii:
        lines = [line.translate(_ASCII) for line in lines]
    beyond = [
        written(k.step, k.alter, k.octave, names=names, ascii=ascii) for k in keys if k not in there
    ]
    return [*lines, *([f" not on a piano: {', '.join(beyond)}"[:width]] if beyond else [])]


def _groups(keys: Sequence[Key], room: int) -> Iterator[list[Key]]:
    """The keys, lowest first, in groups that fit into so many white keys."""
    group: list[Key] = []
    for key in keys:
        if group and _right(key) - white_index(group[0].pitch) + 1 > room:
            yield group
            group = []
        group.append(key)
    if group:
        yield group


def _right(key: Key) -> int:
    """The white key at or over a key."""
    return min(WHITE_KEYS - 1, white_index(key.pitch) + is_black(key.pitch))


def _range(group: Sequence[Key], room: int) -> tuple[int, int]:
    """The white keys to be drawn around a group: whole octaves from C to B where they fit."""
    low, high = white_index(group[0].pitch), max(map(_right, group))
    first, last = max(0, (low + 5) // 7 * 7 - 5), min(WHITE_KEYS - 1, (high + 5) // 7 * 7 + 1)
    if last - first + 1 > room:
        first = max(0, low - (room - (high - low + 1)) // 2)
        last = min(WHITE_KEYS - 1, first + room - 1)
    least = min(room, 8)  # no less than an octave at the ends of the keyboard
    last = max(last, min(WHITE_KEYS - 1, first + least - 1))
    return min(first, last - least + 1), last


def _part(keys: Sequence[Key], first: int, last: int, names: Naming) -> list[str]:
    """White keys `first` to `last` with the keys pressed."""
    count = last - first + 1
    canvas = Canvas(3 * count + 2)
    canvas.put(canvas.row(), 0, " ┌" + "┬".join(["──"] * count) + "┐")
    backs = [canvas.row(), canvas.row()]
    front = canvas.row()
    for line in (*backs, front):
        canvas.put(line, 1, "│" + "│".join(["  "] * count) + "│")
    canvas.put(canvas.row(), 0, " └" + "┴".join(["──"] * count) + "┘")
    pressed: dict[int, list[Key]] = {}
    for key in keys:
        pressed.setdefault(key.pitch, []).append(key)
    for pitch in range(LOWEST, HIGHEST + 1):
        at = 1 + 3 * (white_index(pitch) - first)
        marks = _marks(pressed.get(pitch, []))
        if is_black(pitch):
            for line, mark in zip(backs, marks if pitch in pressed else "██", strict=True):
                _put_black(canvas, line, at + 3, mark)
        elif first <= white_index(pitch) <= last:
            canvas.put(front, at + 1, marks)
    return [*canvas.lines(), _octaves(first, last, names)]


def _marks(keys: Sequence[Key]) -> str:
    """Two signs for a key: its hand and finger, or both hands where both press it."""
    hands = list(dict.fromkeys(key.hand for key in keys))
    if len(hands) > 1:
        return f"{hands[0]}{hands[1]}"
    finger = next((key.finger for key in keys if key.finger), "")
    return f"{hands[0]}{finger}".ljust(2) if hands else "  "


def _put_black(canvas: Canvas, line: int, centre: int, mark: str) -> None:
    """A black key over the border of two white ones; at an edge, the half that is in sight."""
    for column, sign in zip(range(centre - 1, centre + 2), ("▐", mark, "▌"), strict=True):
        if 1 <= column < canvas.width:
            canvas.put(line, column, sign)


def _octaves(first: int, last: int, names: Naming) -> str:
    """The name of every C under it."""
    line = ""
    for white in range(first, last + 1):
        octave, step = divmod(white + 5, 7)
        if step == 0:
            line = line.ljust(2 + 3 * (white - first)) + written("C", 0, octave, names=names)
    return line


def _strip(keys: Sequence[Key], ranges: Sequence[tuple[int, int]], names: Naming) -> str:
    """The whole keyboard, a cell a white key: the parts drawn, and the hands in them."""
    cells = ["▁"] * WHITE_KEYS
    for first, last in ranges:
        cells[first : last + 1] = "▄" * (last - first + 1)
    for key in keys:
        at = white_index(key.pitch)
        cells[at] = key.hand if cells[at] in ("▁", "▄", key.hand) else "+"
    low, high = written("A", 0, 0, names=names), written("C", 0, 8, names=names)
    strip = f"{low} {''.join(cells)} {high}"
    return strip if len(strip) <= _STRIP else f"{low[:2]} {''.join(cells)} {high[:2]}"


def spoken_position(keys: Sequence[Key], *, names: Naming = "english") -> str:
    """The keys in words, right hand first: "Right hand: C 5 finger 1 and E flat 5. Left hand:
    A flat 3." Empty without keys."""
    said = []
    for hand, words in _HAND_WORDS.items():
        own = sorted((key for key in keys if key.hand == hand), key=lambda key: key.pitch)
        if own:
            said.append(f"{words}: {joined([_spoken(key, names) for key in own])}.")
    return " ".join(said)


def _spoken(key: Key, names: Naming) -> str:
    name = spoken_name(key.step, key.alter, key.octave, names=names)
    return f"{name} finger {key.finger}" if key.finger else name
