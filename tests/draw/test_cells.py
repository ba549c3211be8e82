"""Text measured in cells: by our short way and by wcwidth alike."""

from __future__ import annotations

import sys
import unicodedata

from hypothesis import given
from hypothesis import strategies as st
from wcwidth import wcswidth, wcwidth

from trainer.draw.text import _SIMPLE, cells, clean, cut, fit, wrapped

WIDE = st.text(
    st.sampled_from("abc é日本語曲👩🎹♯─\u0301 -")  # narrow, wide, joined, combining
    | st.characters(codec="utf-8"),
    max_size=50,
)


def test_every_simple_character_takes_one_cell() -> None:
    """Against the tables of wcwidth, which follow the Unicode Standard (Annex 11)."""
    simple = [chr(n) for n in range(sys.maxunicode + 1) if _SIMPLE.fullmatch(chr(n))]
    assert len(simple) > 500
    for char in simple:
        assert wcwidth(char) == 1, unicodedata.name(char, hex(ord(char)))


def test_japanese_and_emoji_take_two_cells_a_character() -> None:
    assert cells("日本語") == 6
    assert cells("🎹 A") == 4
    assert cells("e\u0301") == 1
    assert cut("日本語の曲", 5) == "日本…"
    assert fit("日本", 6) == "日本  "
    assert wrapped("月の光 をひく 人", 7) == ["月の光", "をひく", "人"]


@given(text=WIDE, width=st.integers(2, 40), indent=st.sampled_from(("", "  ")))
def test_nothing_is_wider_than_it_may_be(text: str, width: int, indent: str) -> None:
    width = max(width, 2 + len(indent))
    text = clean(text)
    assert cells(text) == max(0, wcswidth(text))
    assert cells(cut(text, width)) <= width
    assert cells(fit(text, width)) <= width
    lines = wrapped(text, width, indent=indent)
    assert all(cells(line) <= width for line in lines)
    kept = "".join("".join(lines).split())
    assert kept == "".join(text.split())
