"""MEI to a drawing (SVG), and a drawing to a picture (PNG). Only here are verovio and resvg_py
imported, when something is engraved; both belong to the extra `picture`.
"""

from __future__ import annotations

import re
from importlib.util import find_spec
from pathlib import Path

from trainer.errors import TrainerError
from trainer.extras import advice

LIBRARIES = ("verovio", "resvg_py", "PIL")
UNITS = 2200  # the width of a drawing; a staff's space is 18 of them
_MARGIN = 40
_TALLEST = 60000  # units; verovio makes no page higher
MOST_PIXELS = 60_000_000  # of a picture: a quarter of a gigabyte
_TOO_LARGE = "The picture would be too large: give a smaller --width, or end it in .svg."

# The letters of matplotlib, which music21 brings along: a face with the widths that verovio
# counts on, then one for the signs that it lacks.
_FACE = "STIXGeneral"
_FONTS = (
    "STIXGeneral.ttf",
    "STIXGeneralBol.ttf",
    "STIXGeneralItalic.ttf",
    "STIXGeneralBolIta.ttf",
    "DejaVuSans.ttf",
)


def trouble() -> str:
    """Why nothing can be engraved, "" where nothing is in the way."""
    return (
        ""
        if all(find_spec(name) for name in LIBRARIES)
        else advice("No picture can be engraved", "picture")
    )


def svg(mei: str, units: int = UNITS) -> str:
    """The drawing of a text in MEI, `units` wide (a staff's space is 18) and as high as its
    music. The more units, the more bars stand on a line. Raises TrainerError where the extra is
    missing or the music cannot be drawn."""
    need()
    import verovio

    verovio.enableLog(verovio.LOG_OFF)  # it would write over the screen
    drawer = verovio.toolkit()
    drawer.setOptions(
        {
            "pageWidth": units,
            "pageHeight": _TALLEST,
            "adjustPageHeight": True,
            "scale": 100,
            "header": "none",
            "footer": "none",
            "breaks": "auto",
            "smuflTextFont": "none",
            "xmlIdSeed": 1,  # the same drawing from the same music
            **{f"pageMargin{side}": _MARGIN for side in ("Top", "Bottom", "Left", "Right")},
        }
    )
    if not drawer.loadData(mei) or drawer.getPageCount() != 1:
        raise TrainerError("These bars cannot be engraved; `trainer page` shows them as text.")
    return str(drawer.renderToSVG(1))


def size(drawing: str) -> tuple[int, int]:
    """The width and height of a drawing, in its units."""
    found = re.search(r'<svg width="(\d+)px" height="(\d+)px"', drawing)
    assert found is not None
    return int(found[1]), int(found[2])


def png(drawing: str, width: int) -> bytes:
    """The picture of a drawing, black on white, `width` pixels wide. Raises TrainerError where
    the extra is missing or the picture would be too large."""
    need()
    import resvg_py

    units, height = size(drawing)
    if width * width * height > MOST_PIXELS * units:
        raise TrainerError(_TOO_LARGE)
    fonts = _fonts()
    made = resvg_py.svg_to_bytes(
        svg_string=drawing,
        width=width,
        background="white",
        skip_system_fonts=bool(fonts),
        font_files=fonts,
        font_family=_FACE,
        serif_family=_FACE,
    )
    return bytes(made)


def need() -> None:
    """Raises TrainerError where the extra is missing."""
    if problem := trouble():
        raise TrainerError(problem)


def _fonts() -> list[str]:
    """The files with the letters; none where they have gone, and the system's will do."""
    found = find_spec("matplotlib")
    folders = (found and found.submodule_search_locations) or ()
    return [
        str(path)
        for folder in folders
        for name in _FONTS
        if (path := Path(folder, "mpl-data", "fonts", "ttf", name)).is_file()
    ]
