"""The help of a screen, made from the registry of keys, and the words the screens use."""

from __future__ import annotations

from trainer.draw.text import cells
from trainer.draw.words import BAND_MEANINGS, BANDS, band_shade, band_sign
from trainer.ui.keys import bindings, keys_of
from trainer.ui.screens.page import ReaderScreen
from trainer.ui.widgets.sheet import Line, ink, row, wrapped

NAMES = {
    "everywhere": "everywhere",
    "today": "Today",
    "drill": "the drill",
    "retention": "Retention",
    "log": "the log",
    "beside": "what was heard beside what was said",
    "map": "the map",
    "recital": "Recital",
    "forecasts": "Forecasts",
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
    "ask": "a question",
    "page": "the written music",
    "heard": "what was heard",
    "help": "the help",
    "caution": "the caution",
}

WORDS = {
    "start": "Where a phrase begins; the number is the one in the score.",
    "join": "The passage from a phrase's end into the next one.",
    "cold": "The first try of a start on a day, before the piece is played. From 03:00 to 03:00.",
    "held": "A start holds when it began right; its join, when the next phrase was reached.",
    "open": "A start is open when its phrase has been learned; only open ones are called.",
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
