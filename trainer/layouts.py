"""Keyboards with other letters: which key of a Latin keyboard stands where a letter was typed.

A key is known by its place, so that `t` is the same key whatever it types. Greek letters have one
layout. Cyrillic letters stand at other places in other countries, so that the layout has to be
known: none is guessed, because a wrong guess would record a wrong outcome. Source of the tables:
xkeyboard-config, symbols/gr (simple), ru (winkeys), ua (winkeys), by (basic), bg (bds, phonetic)
and rs (basic); the Serbian one is laid on the Latin keyboard used there, where z is above h.
"""

from __future__ import annotations

import unicodedata

_RUSSIAN = "йцукенгшщзхъ фывапролджэ ячсмитьбю"
_LATIN = "qwertyuiop[] asdfghjkl;' zxcvbnm,."
_TABLES = {
    "greek": ("ςερτυθιοπ ασδφγηξκλ ζχψωβνμ", "wertyuiop asdfghjkl zxcvbnm"),
    "russian": (_RUSSIAN, _LATIN),
    "ukrainian": ("йцукенгшщзхї фівапролджє ячсмитьбю", _LATIN),
    "belarusian": ("йцукенгшўзх фывапролджэ ячсмітьбю", _LATIN.replace("]", "")),
    "bulgarian": ("уеишщксдзц ьяаожгтнвмч юйъэфхпрлб", "wertyuiop[ asdfghjkl;' zxcvbnm,./"),
    "bulgarian phonetic": ("явертъуиопшщ асдфгхйкл зьцжбнм", "qwertyuiop[] asdfghjkl zxcvbnm"),
    "serbian": ("љњертзуиопшђ асдфгхјклчћ жџцвбнм", "qwertzuiop[] asdfghjkl;' yxcvbnm"),
}
LAYOUTS = {name: dict(zip(*table, strict=True)) for name, table in _TABLES.items()}
CYRILLIC = tuple(name for name in LAYOUTS if name != "greek")


def is_cyrillic(letter: str) -> bool:
    return len(letter) == 1 and unicodedata.name(letter, "").startswith("CYRILLIC ")


def key_at(letter: str, layout: str = "") -> str:
    """The letter or sign of the Latin key that typed `letter`, small, so that Caps Lock changes
    nothing; "" where there is none. `layout` is one of CYRILLIC, for such letters."""
    small = letter.lower()
    if small.isascii():
        return small
    return LAYOUTS.get(layout if is_cyrillic(letter) else "greek", {}).get(small, "")
