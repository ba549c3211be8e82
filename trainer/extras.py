"""What is optional, and how to install it here.

The advice depends on how the program itself was installed: pipx and uv keep it in an environment
of its own, into which plain `pip` does not reach.
"""

from __future__ import annotations

import sys
from importlib.metadata import version
from pathlib import Path
from shlex import quote

NAME = "begin-anywhere"  # the program's name among installed packages

# The libraries of each extra; `pyproject.toml` has the same with their versions.
EXTRAS: dict[str, tuple[str, ...]] = {
    "listen": ("mido", "rtmidi2"),
    "pdf": ("weasyprint",),
    "picture": ("pillow", "resvg-py", "verovio"),
    "sound": ("miniaudio",),
}


def command(extra: str, *, prefix: Path | None = None, python: Path | None = None) -> str:
    """The command that installs an extra. `prefix` is the folder of the environment that runs the
    program and `python` its interpreter, by default those of this process."""
    prefix = Path(sys.prefix) if prefix is None else prefix
    python = Path(sys.executable) if python is None else python
    libraries = " ".join(EXTRAS[extra])
    if (prefix / "pipx_metadata.json").exists():
        return f"pipx inject {NAME} {libraries}"
    if (prefix / "uv-receipt.toml").exists():
        return f"uv pip install --python {quote(_short(python))} {libraries}"
    return f"{quote(_short(python))} -m pip install {libraries}"


def wheel() -> str:
    """The name of the file that this form of the program is handed on as."""
    return f"{NAME.replace('-', '_')}-{version(NAME)}-py3-none-any.whl"


def _short(python: Path) -> str:
    """The interpreter as it is typed from this folder."""
    here = Path.cwd()
    return str(python.relative_to(here)) if python.is_relative_to(here) else str(python)


def advice(what: str, extra: str) -> str:
    """One sentence: what is not possible without an extra, and the command that installs it."""
    return f"{what} without the extra `{extra}`: install it with `{command(extra)}`."
