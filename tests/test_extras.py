"""The advice on what is optional: true for every way in which the program is installed."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from trainer.extras import EXTRAS, NAME, advice, command

PROJECT = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text())["project"]


def test_the_libraries_are_those_of_the_package() -> None:
    assert PROJECT["name"] == NAME
    for extra, libraries in EXTRAS.items():
        wanted = {re.match(r"[\w-]+", one)[0] for one in PROJECT["optional-dependencies"][extra]}  # type: ignore[index]
        assert wanted == set(libraries), extra


def test_every_extra_of_a_user_is_known() -> None:
    for_users = set(PROJECT["optional-dependencies"]) - {"test", "conformance"}
    assert for_users == set(EXTRAS)


@pytest.mark.parametrize(
    ("marker", "told"),
    [
        ("pipx_metadata.json", "pipx inject begin-anywhere miniaudio"),
        ("uv-receipt.toml", "uv pip install --python {python} miniaudio"),
        (None, "{python} -m pip install miniaudio"),
    ],
)
def test_the_command_fits_the_way_it_was_installed(
    tmp_path: Path, marker: str | None, told: str
) -> None:
    if marker:
        (tmp_path / marker).touch()
    python = tmp_path / "bin" / "python"
    assert command("sound", prefix=tmp_path, python=python) == told.format(python=python)


def test_a_place_with_a_blank_is_quoted_and_one_here_is_short(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = tmp_path / "my music"
    home.mkdir()
    python = home / ".venv" / "bin" / "python"
    assert f"'{python}' -m pip" in command("pdf", prefix=home, python=python)
    monkeypatch.chdir(home)
    assert (
        command("pdf", prefix=home, python=python) == ".venv/bin/python -m pip install weasyprint"
    )


def test_the_advice_is_one_sentence() -> None:
    told = advice("No PDF can be made", "pdf")
    assert told.startswith("No PDF can be made without the extra `pdf`: install it with `")
    assert told.endswith("weasyprint`.")
