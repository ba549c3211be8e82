"""What is loaded when: the app stays light, and heavy libraries stay where they belong."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

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


LEAKS = (
    ("files.py", "import sqlite3", "Only the store knows SQLite"),
    ("demo.py", "import textual", "Only ui knows Textual"),
    ("values.py", "import music21", "Only the reader knows music21"),
    ("desk/new.py", "import mido", "Only listen's midi knows mido"),
    ("ui/new.py", "import miniaudio", "Only sound knows miniaudio"),
    ("cli/new.py", "import verovio", "Only picture knows verovio, resvg and Pillow"),
    ("store/new.py", "import weasyprint", "Only paper knows WeasyPrint"),
    ("score/new.py", "import trainer.desk", "Data flows one way"),
    ("newcomer.py", "", "Data flows one way"),
)


def test_a_leak_is_found_wherever_it_is(tmp_path: Path) -> None:
    """The import rule covers a new file from its first line, and every file of the root."""
    shutil.copytree(ROOT / "trainer", tmp_path / "trainer", ignore=shutil.ignore_patterns("__py*"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    for name, line, _ in LEAKS:
        path = tmp_path / "trainer" / name
        text = path.read_text(encoding="utf-8") if path.exists() else ""
        path.write_text(f"{text}\n{line}\n", encoding="utf-8")
    checked = subprocess.run(
        [str(Path(sys.executable).parent / "lint-imports"), "--no-cache"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(tmp_path), "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
    )
    told = checked.stdout.partition("Broken contracts")[2]
    assert checked.returncode != 0
    for name, line, rule in LEAKS:
        assert rule in told, rule
        assert not line or Path(name).stem in told, name
    assert "newcomer" in told
