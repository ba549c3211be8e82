"""What is loaded when: the app stays light, and heavy libraries stay where they belong."""

import subprocess
import sys

import pytest

HEAVY = (
    "music21", "numpy", "sqlite_utils", "textual", "mido", "miniaudio", "verovio", "resvg_py",
    "PIL",
)  # fmt: skip


def loaded_by(code: str) -> set[str]:
    """The heavy modules that a fresh interpreter has loaded after running `code`."""
    probe = f"{code}\nimport sys\nprint(*[m for m in {HEAVY!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", probe], check=True, capture_output=True, text=True)
    return set(done.stdout.split())


@pytest.mark.parametrize(
    ("code", "allowed"),
    [
        ("import trainer.cli.main", set()),
        ("import trainer.score.read", set()),
        ("import trainer.deck.file, trainer.practice.session, trainer.draw.page", set()),
        ("import trainer.ui.app", {"textual"}),
        ("import trainer.desk, trainer.store.store", {"sqlite_utils", "numpy"}),
        ("import trainer.sound.player, trainer.sound.tones, trainer.ui.screens.drill", {"textual"}),
        ("import trainer.picture.show, trainer.picture.mei, trainer.cli.picture", set()),
        ("import trainer.reports.registry", {"numpy"}),
        ("import trainer.listen.match, trainer.listen.midi, trainer.listen.words", {"numpy"}),
        ("import trainer.listen.score, trainer.listen.model, trainer.listen.midi", set()),
        (
            "import trainer.listen.port, trainer.listen.wire, trainer.listen.signs, "
            "trainer.listen.ear, trainer.listen.proposal",
            set(),
        ),
    ],
)
def test_a_room_loads_no_more_than_it_needs(code: str, allowed: set[str]) -> None:
    assert loaded_by(code) <= allowed
