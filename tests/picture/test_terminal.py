"""What a terminal is sent: taken apart again by the published protocols, it is the picture."""

from __future__ import annotations

import re
from base64 import b64decode
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.deck.file import read_deck
from trainer.deck.page import page_span
from trainer.errors import TrainerError
from trainer.picture import terminal
from trainer.picture.engrave import trouble
from trainer.picture.show import in_terminal, samples
from trainer.picture.terminal import CHUNK, SHADES, WAYS, Room, graphics, inline, sixel
from trainer.reports.settings import PICTURES

np = pytest.importorskip("numpy")
Image = pytest.importorskip("PIL.Image")

DECK = Path(__file__).parents[2] / "decks" / "the-late-ferry.deck.json"
BASE64 = re.compile(r"[A-Za-z0-9+/]*={0,2}")
bytes_of_a_picture = st.binary(min_size=1, max_size=3 * CHUNK)


def test_the_setting_has_all_ways_and_none() -> None:
    assert ("off", *WAYS) == PICTURES
    assert len({way[0] for way in PICTURES}) == len(PICTURES), "each has a letter of its own"


@given(bytes_of_a_picture, st.integers(1, 300))
def test_graphics_are_sent_chunks_of_base64(png: bytes, columns: int) -> None:
    sent = graphics(png, columns)
    commands = re.findall(r"\x1b_G([^;]*);([^\x1b]*)\x1b\\", sent)
    assert sent == "".join(f"\x1b_G{keys};{data}\x1b\\" for keys, data in commands)
    assert b64decode("".join(data for _, data in commands)) == png
    assert all(BASE64.fullmatch(data) and len(data) <= CHUNK for _, data in commands)
    assert all(len(data) % 4 == 0 for _, data in commands)
    keys = [dict(pair.split("=") for pair in told.split(",")) for told, _ in commands]
    assert keys[0].items() >= {"a": "T", "f": "100", "q": "2", "c": str(columns)}.items()
    assert [key["m"] for key in keys] == ["1"] * (len(keys) - 1) + ["0"]


@given(bytes_of_a_picture, st.integers(1, 300))
def test_inline_is_sent_one_file_of_base64(png: bytes, columns: int) -> None:
    match = re.fullmatch(r"\x1b\]1337;File=([^:]*):([^\x07]*)\x07", inline(png, columns))
    assert match is not None
    told = dict(pair.split("=") for pair in match[1].split(";"))
    assert told["inline"] == "1"
    assert told["size"] == str(len(png))
    assert told["width"] == str(columns)
    assert BASE64.fullmatch(match[2])
    assert b64decode(match[2]) == png


def unsixeled(sent: str) -> tuple[list[list[int]], dict[int, int]]:
    """Sixels drawn as the VT340 draws them: the colour of each pixel (-1 for none), and the
    colours, as percents of white."""
    match = re.fullmatch(r'\x1bP0;1;0q"1;1;(\d+);(\d+)([^\x1b]*)\x1b\\', sent)
    assert match is not None
    wide, high = int(match[1]), int(match[2])
    drawn = [[-1] * wide for _ in range(high)]
    palette: dict[int, int] = {}
    x = y = colour = 0
    for token in re.finditer(r"#(\d+)(?:;2;(\d+);(\d+);(\d+))?|!(\d+)(.)|([$-])|([?-~])", match[3]):
        number, red, green, blue, times, repeated, move, single = token.groups()
        if number is not None:
            colour = int(number)
            if red is not None:
                assert red == green == blue
                palette[colour] = int(red)
        elif move == "$":
            x = 0
        elif move == "-":
            x, y = 0, y + 6
        else:
            run = int(times or 1)
            for column in range(x, x + run):
                for bit in range(6):
                    if (ord(repeated or single) - 63) >> bit & 1:
                        assert drawn[y + bit][column] == -1, "each pixel is drawn once"
                        drawn[y + bit][column] = colour
            x += run
    return drawn, palette


@given(st.integers(1, 40), st.integers(1, 20), st.integers(0, 9))
def test_sixels_draw_each_pixel_in_the_nearest_grey(wide: int, high: int, seed: int) -> None:
    greys = np.random.default_rng(seed).integers(0, 256, (high, wide), dtype=np.uint8)
    greys[:, wide // 2 :] = 255  # something to count
    file = BytesIO()
    Image.fromarray(greys).save(file, "png")
    drawn, palette = unsixeled(sixel(file.getvalue(), 80))
    shown = np.array([[palette[one] for one in row] for row in drawn]) * 2.55
    assert shown.shape == (high, wide)
    assert abs(shown - greys).max() <= 255 / (SHADES - 1) / 2 + 1.5


def test_sixels_are_short_where_nothing_changes() -> None:
    file = BytesIO()
    Image.new("L", (1000, 600), 255).save(file, "png")
    assert len(sixel(file.getvalue(), 80)) < 2000


# The whole way

needs_extra = pytest.mark.skipif(bool(trouble()), reason="the extra picture is missing")


@needs_extra
@pytest.mark.parametrize("way", WAYS)
def test_a_page_is_no_wider_than_the_terminal(way: str) -> None:
    piece = read_deck(DECK)
    span = page_span(piece, piece.deck.starts[1])
    room = Room(70, 24, (9, 18))
    sent = in_terminal(piece.score, *span, way, room)
    if way == "sixel":
        drawn, _ = unsixeled(sent)
        wide, high = len(drawn[0]), len(drawn)
    else:
        data = "".join(re.findall(r"[;:]([A-Za-z0-9+/=]{40,})", sent))
        wide, high = Image.open(BytesIO(b64decode(data))).size
    assert wide == 70 * 9
    assert high <= 24 * 18, "it is made smaller until it fits"


@needs_extra
def test_the_samples_are_small_and_for_each_way() -> None:
    made = samples(Room(80, 24))
    assert list(made) == list(WAYS)
    assert all(len(sent) < 20_000 for sent in made.values())


@pytest.mark.parametrize("way", ["off", "", "braille"])
def test_without_a_way_nothing_is_sent(way: str) -> None:
    piece = read_deck(DECK)
    span = page_span(piece, piece.deck.starts[1])
    with pytest.raises(TrainerError, match="picture --try"):
        in_terminal(piece.score, *span, way, Room(80, 24))


def test_a_terminal_that_does_not_tell_its_pixels_is_taken_to_be_small() -> None:
    room = terminal.measured()  # the output of a test is no terminal
    assert room.cell == (8, 16)
    assert room.columns > 0
