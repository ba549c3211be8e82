"""Pictures in a terminal, by three published ways.

- graphics: the terminal graphics protocol, https://sw.kovidgoyal.net/kitty/graphics-protocol/
- inline: inline images in base64, https://iterm2.com/documentation-images.html
- sixel: chapter 14 of the VT330/VT340 Programmer Reference Manual, volume 2, of Digital Equipment
  Corporation, 1988

Which one a terminal knows is asked of the person who sits before it, never detected: terminals
say yes and draw nothing. No text is sent, only a PNG in base64, or sixels made from its pixels.
"""

from __future__ import annotations

import re
from base64 import standard_b64encode
from collections.abc import Callable
from io import BytesIO
from typing import NamedTuple

ESC = "\x1b"
ST = ESC + "\\"  # the string terminator
CHUNK = 4096  # the most bytes of base64 in one graphics command
SHADES = 8  # greys of a sixel picture; the VT340 has 16 colours


class Room(NamedTuple):
    """A terminal's size in cells, and a cell's in pixels."""

    columns: int
    lines: int
    cell: tuple[int, int] = (8, 16)


def measured() -> Room:
    """The room of the terminal that this process writes to; where it does not tell the size of
    its cells, a small one is assumed, so that no picture is wider than the terminal."""
    import shutil

    columns, lines = shutil.get_terminal_size((80, 24))
    try:
        import fcntl
        import struct
        import termios

        told = fcntl.ioctl(1, termios.TIOCGWINSZ, bytes(8))
        high, wide, x, y = struct.unpack("HHHH", told)
    except (ImportError, OSError):
        return Room(columns, lines)
    if not all((high, wide, x // max(1, wide), y // max(1, high))):
        return Room(columns, lines)
    return Room(columns, lines, (x // wide, y // high))


def graphics(png: bytes, columns: int) -> str:
    """The picture in so many columns, by the terminal graphics protocol: transmitted and shown
    (a=T) as PNG (f=100), in chunks, with no answer wanted (q=2)."""
    data = standard_b64encode(png).decode()
    chunks = [data[at : at + CHUNK] for at in range(0, len(data), CHUNK)]
    sent = []
    for place, chunk in enumerate(chunks):
        control = f"a=T,f=100,q=2,c={columns}," if not place else ""
        more = int(place + 1 < len(chunks))
        sent.append(f"{ESC}_G{control}m={more};{chunk}{ST}")
    return "".join(sent)


def inline(png: bytes, columns: int) -> str:
    """The picture in so many columns, as an inline image."""
    data = standard_b64encode(png).decode()
    told = f"inline=1;size={len(png)};width={columns};preserveAspectRatio=1"
    return f"{ESC}]1337;File={told}:{data}\x07"


def sixel(png: bytes, columns: int) -> str:  # noqa: ARG001 - the pixels alone make its size
    """The picture, pixel by pixel, as sixels in greys."""
    import numpy as np
    from PIL import Image

    grey = np.asarray(Image.open(BytesIO(png)).convert("L"), dtype=np.uint16)
    high, wide = grey.shape
    shade = (grey * (SHADES - 1) + 127) // 255
    rows = -high % 6
    bands = np.pad(shade, ((0, rows), (0, 0)), constant_values=SHADES).reshape(-1, 6, wide)
    bits = (1 << np.arange(6, dtype=np.uint8))[:, None]
    percents = (round(100 * n / (SHADES - 1)) for n in range(SHADES))
    palette = "".join(f"#{n};2;{p};{p};{p}" for n, p in enumerate(percents))
    lines = []
    for band in bands:
        used = [int(n) for n in np.unique(band) if n < SHADES]
        values = [((band == n) * bits).sum(axis=0, dtype=np.uint8) + 63 for n in used]
        drawn = [f"#{n}{_short(v.tobytes().decode())}" for n, v in zip(used, values, strict=True)]
        lines.append("$".join(drawn))
    return f'{ESC}P0;1;0q"1;1;{wide};{high}{palette}' + "-".join(lines) + ST


def _short(line: str) -> str:
    """A line of sixels with its repetitions counted: "!5~" for "~~~~~"."""
    return re.sub(r"(.)\1{3,}", lambda run: f"!{len(run[0])}{run[1]}", line)


class Way(NamedTuple):
    """A way to show a picture: what it is called in words, and the PNG and the columns that it
    is to take to what is sent."""

    words: str
    sent: Callable[[bytes, int], str]


WAYS: dict[str, Way] = {
    "graphics": Way("the terminal graphics protocol", graphics),
    "inline": Way("inline images", inline),
    "sixel": Way("sixels", sixel),
}
