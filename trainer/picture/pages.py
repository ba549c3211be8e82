"""A whole score in MusicXML, engraved on pages: one drawing (SVG) or a PDF for the music stand."""

from __future__ import annotations

import re
from io import BytesIO
from typing import Literal

from trainer.errors import TrainerError
from trainer.picture.engrave import need, png

Paper = Literal["a4", "letter"]
SIZES: dict[Paper, tuple[int, int]] = {"a4": (2100, 2970), "letter": (2159, 2794)}
"""Width and height of a page, in tenths of a millimetre."""
SCALE = 90  # percent: a staff is 6.5 mm high, near to printed piano music (common practice)
_MARGIN = 120  # tenths of a millimetre
DOTS = 400  # to an inch, in a PDF
_SIDES = ("Top", "Bottom", "Left", "Right")
_HEAD = '<?xml version="1.0" encoding="UTF-8"?>'  # which the engraver looks for
_GLYPH = re.compile(r'<tspan font-family="Leipzig"[^>]*>([\ue000-\uf8ff\s]+)</tspan>')
_SIGNS = {"\ueca3": "half note", "\ueca5": "♩", "\ueca7": "♪", "\ueca9": "♬", "\uecb7": "."}
"""The notes of SMuFL's range "metronome marks" (https://w3c.github.io/smufl/), otherwise."""
_GAP = 60  # between the pages of one drawing


def pages(musicxml: str, paper: Paper = "a4") -> list[str]:
    """The pages of a score as drawings, each as large as the paper. Page breaks that the score
    has stay. Raises TrainerError where the extra is missing or the score cannot be engraved."""
    need()
    import verovio

    verovio.enableLog(verovio.LOG_OFF)  # it would write over the screen
    drawer = verovio.toolkit()
    width, height = SIZES[paper]
    drawer.setOptions(
        {
            "pageWidth": width * 100 // SCALE,
            "pageHeight": height * 100 // SCALE,
            "scale": SCALE,
            "header": "auto",
            "footer": "none",
            "breaks": "smart",
            "smuflTextFont": "none",
            "xmlIdSeed": 1,  # the same drawing from the same music
            **{f"pageMargin{side}": _MARGIN * 100 // SCALE for side in _SIDES},
        }
    )
    text = _HEAD + re.sub(r"^\s*<\?xml[^>]*\?>", "", musicxml)
    if not drawer.loadData(text) or not drawer.getPageCount():
        raise TrainerError("This score cannot be engraved: mark a copy (.musicxml) instead.")
    return [_tidy(drawer.renderToSVG(n)) for n in range(1, drawer.getPageCount() + 1)]


def _tidy(drawing: str) -> str:
    """A drawing without the white space between its elements, by which resvg would move centred
    text to the left, and with the notes of metronome marks from faces that are there."""
    return _GLYPH.sub(_plain, re.sub(r">\s+<", "><", drawing))


def _plain(glyph: re.Match[str]) -> str:
    signs = "".join(_SIGNS.get(sign, "") for sign in glyph[1])
    return f'<tspan font-size="405px">{signs}</tspan>'


def as_svg(drawings: list[str]) -> str:
    """The pages as one drawing, one below the other."""
    placed, top, wide = [], 0, 0
    for drawing in drawings:
        width, height = _size(drawing)
        placed.append(drawing.replace("<svg ", f'<svg y="{top}" ', 1))
        top += height + _GAP
        wide = max(wide, width)
    size = f'width="{wide}" height="{top - _GAP}" viewBox="0 0 {wide} {top - _GAP}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{"".join(placed)}</svg>\n'


def as_pdf(drawings: list[str], paper: Paper = "a4") -> bytes:
    """The pages as a PDF, black on white, each as large as the paper."""
    from PIL import Image

    width = round(SIZES[paper][0] / 254 * DOTS)
    made = [
        Image.open(BytesIO(png(drawing, width))).convert("L").point(_ink, mode="1")
        for drawing in drawings
    ]
    out = BytesIO()
    made[0].save(out, "PDF", resolution=DOTS, save_all=True, append_images=made[1:])
    return out.getvalue()


def _ink(grey: int) -> int:
    return 255 if grey > 150 else 0


def _size(drawing: str) -> tuple[int, int]:
    found = re.search(r'<svg width="([\d.]+)px" height="([\d.]+)px"', drawing)
    assert found is not None
    return round(float(found[1])), round(float(found[2]))
