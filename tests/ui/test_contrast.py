"""Every written sign of every screen, as it is drawn, can be read on its ground.

At least 4.5 to 1 for text (WCAG 2.2, 1.4.3, level AA) and 3 to 1 for lines, shades and keys
drawn as signs (1.4.11). The formulas are those of WCAG 2.2, "relative luminance" and "contrast
ratio".
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from rich.color_triplet import ColorTriplet

from tests.ui.stage import Stage, opened, play
from tests.ui.test_looks import SCENES, week
from trainer.ui.theme import THEMES

DRAWN = set("─│┌┐└┘├┤┬┴┼━┃═▐▌█▓▒░▁▄▀·•▼▶╷╵╴╶")  # no letters: parts of drawings


def luminance(colour: ColorTriplet) -> float:
    parts = [part / 255 for part in colour]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: ColorTriplet, other: ColorTriplet) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def drawn(stage: Stage) -> Iterator[tuple[str, float]]:
    """Each run of signs on the screen with its contrast."""
    for strip in stage.app.screen._compositor.render_strips():
        for segment in strip:
            style = segment.style
            if not segment.text.strip() or style is None or style.color is None:
                continue
            ground = style.bgcolor.get_truecolor() if style.bgcolor else ColorTriplet(0, 0, 0)
            ink = style.color.get_truecolor()
            yield (
                segment.text.strip(),
                contrast(*((ground, ink) if style.reverse else (ink, ground))),
            )


@pytest.mark.parametrize("name", SCENES)
def test_every_sign_of_every_screen(name: str, tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(week(tmp_path)) as stage:
            await stage.press(*SCENES[name])
            for theme in THEMES:
                stage.app.theme = theme.name
                await stage.settle()
                seen = 0
                for text, found in drawn(stage):
                    least = 3.0 if set(text) <= DRAWN else 4.5
                    assert found >= least, (theme.name, text, round(found, 2))
                    seen += 1
                assert seen

    play(scene)


def test_the_formula_on_known_pairs() -> None:
    """Black on white is 21 to 1, and #767676 on white just passes: W3C's own examples."""
    white = ColorTriplet(255, 255, 255)
    assert contrast(white, ColorTriplet(0, 0, 0)) == pytest.approx(21)
    assert 4.5 <= contrast(ColorTriplet(0x76, 0x76, 0x76), white) < 4.6
