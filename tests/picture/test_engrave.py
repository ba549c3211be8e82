"""The engraved bars: verovio reads every note as it is meant, and the picture shows them."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction as F
from io import BytesIO
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.draw.scores import note, score
from tests.picture.read_back import Text
from trainer.deck.file import read_deck
from trainer.deck.page import page_span
from trainer.errors import TrainerError
from trainer.picture import engrave
from trainer.picture.mei import mei
from trainer.picture.show import as_file

needs_extra = pytest.mark.skipif(bool(engrave.trouble()), reason="the extra picture is missing")
DECKS = sorted((Path(__file__).parents[2] / "decks").glob("*.deck.json"))


def ink(png: bytes) -> float:
    """How much of a picture is black, in pixels."""
    import numpy as np
    from PIL import Image

    grey = np.asarray(Image.open(BytesIO(png)).convert("L"), dtype=float)
    return float((255 - grey).sum() / 255)


def fingered(*fingers: str) -> str:
    music = score([replace(note(0, 4, "A4"), fingers=fingers)], bars=1, staves=1)
    return mei(music, F(0), F(4))


@needs_extra
@pytest.mark.parametrize("path", DECKS, ids=lambda path: path.name[:8])
def test_every_note_is_engraved_as_it_is_meant(
    path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """verovio's own account of each drawn note: it has the pitch, and nothing was warned of."""
    import verovio

    piece = read_deck(path)
    verovio.enableLog(verovio.LOG_WARNING)
    for start in piece.deck.starts[:4]:
        text = mei(piece.score, *page_span(piece, start))
        drawer = verovio.toolkit()
        assert drawer.loadData(text)
        drawn = drawer.renderToSVG(1)
        drawer.renderToMIDI()
        for id_, head in Text(text, F(0)).heads.items():
            assert drawer.getMIDIValuesForElement(id_)["pitch"] == head.held.pitch
            assert f'id="{id_}"' in drawn
    assert capfd.readouterr() == ("", "")


@needs_extra
def test_a_drawing_is_wide_as_asked_and_the_same_each_time() -> None:
    text = fingered("3")
    drawing = engrave.svg(text, 1500)
    assert engrave.png(drawing, 500) == engrave.png(engrave.svg(text, 1500), 500)
    assert engrave.size(drawing)[0] == 1500
    assert ET.fromstring(drawing).tag.endswith("svg")


@needs_extra
def test_more_units_put_more_bars_on_a_line() -> None:
    text = mei(score([note(n, 1, "A4") for n in range(32)], bars=8, staves=1), F(0), F(32))
    heights = [engrave.size(engrave.svg(text, units))[1] for units in (800, 1600, 4000)]
    assert heights[0] > heights[1] > heights[2]


@needs_extra
@pytest.mark.parametrize("width", [300, 1001])
def test_a_picture_is_wide_as_asked_black_on_white(width: int) -> None:
    from PIL import Image

    picture = Image.open(BytesIO(engrave.png(engrave.svg(fingered()), width)))
    assert picture.width == width
    assert picture.convert("RGBA").getpixel((0, 0)) == (255, 255, 255, 255)


@needs_extra
def test_fingers_and_words_are_seen() -> None:
    """A missing face of letters would leave them out without a word."""
    bare = engrave.png(engrave.svg(fingered()), 800)
    one = engrave.png(engrave.svg(fingered("1")), 800)
    both = engrave.png(engrave.svg(fingered("1", "4")), 800)
    assert ink(one) > ink(bare) + 10
    assert ink(both) > ink(one) + 10
    for words in ("dolce", "▼", "♩ = 60"):
        text = fingered().replace(
            "</measure>", f'<dir staff="1" tstamp="1">{words}</dir></measure>'
        )
        assert ink(engrave.png(engrave.svg(text), 800)) > ink(bare) + 10, words


@needs_extra
def test_without_the_faces_of_matplotlib_those_of_the_system_are_used(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert len(engrave._fonts()) == 5
    monkeypatch.setattr(engrave, "_FONTS", ())
    assert engrave.png(engrave.svg(fingered("1")), 400)


@needs_extra
def test_what_is_too_large_or_cannot_be_read_is_refused() -> None:
    with pytest.raises(TrainerError, match="smaller --width"):
        engrave.png('<svg width="100px" height="50000px"/>', 8000)
    with pytest.raises(TrainerError, match="cannot be engraved"):
        engrave.svg("<mei/>")


def test_without_the_extra_it_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engrave, "LIBRARIES", ("verovio", "no_such_library"))
    assert "extra `picture`" in engrave.trouble()
    with pytest.raises(TrainerError, match="extra `picture`"):
        engrave.svg(fingered())
    with pytest.raises(TrainerError, match="extra `picture`"):
        engrave.png("<svg/>", 100)


@pytest.mark.parametrize("name", ["a.gif", "a", "png", ".svg.txt"])
def test_other_kinds_of_files_are_refused(name: str) -> None:
    music = score([note(0, 4, "A4")])
    with pytest.raises(TrainerError, match=r"\.svg or \.png"):
        as_file(music, F(0), F(4), name, 100)


@needs_extra
def test_files_by_their_names() -> None:
    music = score([note(0, 4, "A4")])
    assert as_file(music, F(0), F(4), "A.PNG", 500).startswith(b"\x89PNG")
    assert as_file(music, F(0), F(4), "a.b.svg", 500).startswith(b"<svg")
