"""The look of all screens: three sets of colours, and what each is for.

Ink on paper, by day, by lamp and in pencil (greys only). One accent marks what the eye or the
hand is wanted at; three more colours go with the bands of the map and never stand without their
sign. Every text colour has a contrast of at least 4.5 to 1 on its ground (WCAG 2.2, 1.4.3; a
test measures it on the drawn screens).
"""

from __future__ import annotations

from textual.theme import Theme

DARK, LIGHT, GREY = "lamp", "paper", "pencil"
INKS = {"holds": "$holds", "fading": "$fading", "weak": "$weak", "untried": "$foreground"}  # bands


def _theme(name: str, *, dark: bool, ground: str, raised: str, ink: str, **inks: str) -> Theme:
    """A theme from a ground, a raised ground, the ink, and inks for the other uses."""
    return Theme(
        name,
        primary=inks["accent"],
        accent=inks["accent"],
        secondary=inks["faint"],
        warning=inks["fading"],
        error=inks["weak"],
        success=inks["holds"],
        foreground=ink,
        background=ground,
        surface=ground,
        panel=raised,
        dark=dark,
        variables=inks,
    )


THEMES = (
    _theme(
        DARK,
        dark=True,
        ground="#1b1a18",
        raised="#282622",
        ink="#e6e0d2",
        faint="#a39c8c",
        accent="#e0b35a",
        holds="#8fbf8a",
        fading="#d6b25e",
        weak="#e39178",
    ),
    _theme(
        LIGHT,
        dark=False,
        ground="#faf6ec",
        raised="#ece5d5",
        ink="#2a2620",
        faint="#655f52",
        accent="#7d4a08",
        holds="#2f6330",
        fading="#775400",
        weak="#9c3a20",
    ),
    _theme(
        GREY,
        dark=False,
        ground="#ffffff",
        raised="#e9e9e9",
        ink="#1c1c1c",
        faint="#5a5a5a",
        accent="#000000",
        holds="#1c1c1c",
        fading="#1c1c1c",
        weak="#000000",
    ),
)
