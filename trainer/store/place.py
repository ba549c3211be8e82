"""Where the database lies."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

VARIABLE = "TRAINER_DB"


def default_path() -> Path:
    """The database's usual place: a file in the user's own data folder on this machine."""
    from platformdirs import user_data_path

    return user_data_path("trainer", appauthor=False) / "trainer.db"


def locate(explicit: Path | None, environ: Mapping[str, str]) -> Path:
    """The database to use: the one asked for, else the one that the environment variable
    TRAINER_DB names, else the usual place. `~` stands for the home folder."""
    if explicit is not None:
        return explicit.expanduser()
    named = environ.get(VARIABLE, "")
    return Path(named).expanduser() if named else default_path()
