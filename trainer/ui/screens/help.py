"""The help of a screen, made from the registry of keys, and the words the screens use."""

from __future__ import annotations

from trainer.draw.history import SIGNS
from trainer.draw.layout import Style
from trainer.draw.text import cells
from trainer.draw.words import BAND_MEANINGS, BANDS, OUTCOME_MEANINGS, band_shade, band_sign
from trainer.record.attempt import Outcome
from trainer.ui.keys import bindings, keys_of
from trainer.ui.screens.page import ReaderScreen
from trainer.ui.widgets.sheet import Line, ink, row, wrapped

NAMES = {
    "everywhere": "everywhere",
    "today": "Today",
    "drill": "the drill",
    "retention": "Retention",
    "log": "the log",
    "map": "the map",
    "recital": "Recital",
    "report": "a report",
    "students": "Students",
    "lesson": "the lesson",
    "studio": "the studio",
    "settings": "Settings",
    "run": "the run-through",
    "slip": "going on after a slip",
    "start": "a start in full",
    "adding": "a score that is being read",
    "prepare": "Prepare",
    "alike": "the look-alikes",
    "choose": "a choice",
    "more": "More",
    "ask": "a question",
    "page": "the written music",
    "heard": "what was heard",
    "heard run": "what was heard of a run-through",
    "help": "the help",
    "caution": "the caution",
}

WORDS = {
    "start": "Where a phrase begins; its number is the one your teacher wrote in your copy.",
    "join": "The crossing from the end of a phrase into the next one.",
    "cold": "Your first attempt at a start that day, before playing the piece. A practice day runs "
    "from 3 a.m. to 3 a.m.",
    "held": "A start held if you began it right; its join held if you reached the next phrase.",
    "open": "A start is open once its phrase has been learned; the drill calls only open starts.",
}


# The signs of what a screen draws, under a heading; the help of a screen has those that it shows.
PAGE = (
    "On the music",
    (
        ("C", "note", "On a line, a note on that line; between lines, in that space."),
        ("══", "sounds", "The note lasts this long."),
        ("(C)", "tied over", "Still sounding from before; do not play it again."),
        ("~", "grace note", "Before the note that it leads to."),
        ("–", "rest", "Nothing is played here."),
        ("▼", "entry", "Where the start begins, inside a bar."),
        ("1 & 2", "ruler", "The beats you feel, and the halves between them."),
    ),
)
TRIES = (
    "The marks of attempts",
    tuple(
        (SIGNS[outcome], outcome.value, f"{OUTCOME_MEANINGS[outcome].capitalize()}.")
        for outcome in Outcome
    ),
)
HEARD = (
    "What was heard",
    (
        (
            "×",
            "wrong",
            "Another note was played instead; its name is shown outside the staff.",
        ),
        ("!", "missed", "This note was not played."),
        (
            "+",
            "extra",
            "A note that is not in the score; in brackets, before it was begun again.",
        ),
        ("«", "begun again", "From here back, to begin again."),
        ("»", "left", "From here it went on elsewhere."),
        ("…", "hesitated", "A gap before the next note."),
        ("■", "ended", "The last chord."),
    ),
)
SHOWS = {
    "drill": (PAGE, HEARD),
    "page": (PAGE,),
    "heard": (HEARD, PAGE),
    "heard run": (HEARD, PAGE),
    "start": (TRIES, PAGE),
}


class HelpScreen(ReaderScreen):
    ROOM = "help"
    BINDINGS = bindings("help")

    def __init__(self, room: str) -> None:
        super().__init__()
        self._room_name = room

    def title_words(self) -> tuple[str, str]:
        return f"Keys of {NAMES.get(self._room_name, 'this screen')}", ""

    def lines(self, width: int) -> list[Line]:
        keys = keys_of(self._room_name)
        ascii = self.trainer.ascii
        found = _listed([(key.stands(ascii), key.words, key.meaning) for key in keys], width)
        for title, drawn in SHOWS.get(self._room_name, ()):
            found += ["", ink(title, "bold")]
            found += _listed(
                [(_drawn(s, ascii), word, meaning) for s, word, meaning in drawn], width
            )
        found += ["", ink("Words", "bold")]
        found += _listed([("", word, meaning) for word, meaning in WORDS.items()], width)
        found += ["", ink("On the map", "bold")]
        signs: list[tuple[str, str, str]] = [
            (
                band_shade(band, ascii=ascii) + band_sign(band, ascii=ascii),
                band,
                f"{BAND_MEANINGS[band].capitalize()}.",
            )
            for band in BANDS
        ]
        return found + _listed(signs, width)


def _drawn(sign: str, ascii: bool) -> str:
    return Style(ascii=True).ink(sign.replace("━", "=")) if ascii else sign


def _listed(entries: list[tuple[str, str, str]], width: int) -> list[Line]:
    """Signs, words and sentences in three columns."""
    one = max(cells(sign) for sign, _, _ in entries)
    two = max(cells(word) for _, word, _ in entries)
    one += 2 if one else 0
    margin = one + two + 2
    lines: list[Line] = []
    for sign, word, meaning in entries:
        first, *others = wrapped(meaning, width - margin)
        head = row(ink(sign.ljust(one), "bold $accent"), ink(word.ljust(two + 2)), first)
        lines += [head, *(row(" " * margin, line) for line in others)]
    return lines
