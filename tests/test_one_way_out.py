"""Only `trainer/terminal.py` prints, asks and confirms: nothing else reaches the terminal."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

TRAINER = Path(__file__).parents[1] / "trainer"
BUILTINS = {"print", "input", "breakpoint"}
OF_MODULES = {
    "sys": {"stdout", "stderr", "__stdout__", "__stderr__", "displayhook"},
    "click": {
        "echo", "secho", "echo_via_pager", "confirm", "prompt", "pause", "edit", "getchar",
        "progressbar", "clear", "get_text_stream", "get_binary_stream", "open_file",
    },
    "os": {"write", "dup", "dup2", "system", "popen", "openpty"},
    "getpass": {"getpass"},
    "warnings": {"warn"},
    "traceback": {"print_exc", "print_exception", "print_tb", "print_stack"},
    "rich": {"print", "console"},
}  # fmt: skip
SHUT = {"curses", "pty", "pprint", "readline"}  # modules that only print or ask
MAY: dict[str, set[str]] = {
    "terminal.py": {
        "sys.stdout",
        "sys.stderr",
        "click.confirm",
        "click.prompt",
        "os.dup",
        "os.dup2",
    },
    "score/read.py": {"os.dup", "os.dup2"},  # a child process that speaks to its parent
    "sound/capture.py": {"print"},  # so is this
    "sound/player.py": {"print"},  # so is this
}


def ways(code: str) -> Iterator[tuple[int, str]]:
    """The lines of a module that could reach the terminal, and by what."""
    tree = ast.parse(code)
    known = {name: name for name in OF_MODULES}  # a module by the name that it has here
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            known |= {one.asname: one.name for one in node.names if one.asname}
            yield from ((node.lineno, one.name) for one in node.names if one.name in SHUT)
        elif isinstance(node, ast.ImportFrom):
            banned = OF_MODULES.get(node.module or "", set())
            for one in node.names:
                if one.name in banned or node.module in SHUT:
                    yield node.lineno, f"{node.module}.{one.name}"
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and node.id in BUILTINS:
            yield node.lineno, node.id
        elif isinstance(node, ast.Constant) and node.value in ("/dev/tty", "/dev/stdout", "CON"):
            yield node.lineno, str(node.value)
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            module = known.get(node.value.id, "")
            if node.attr in OF_MODULES.get(module, ()) or (
                node.value.id == "builtins" and node.attr in BUILTINS
            ):
                yield node.lineno, f"{module or 'builtins'}.{node.attr}"
        elif isinstance(node, ast.Call) and ast.unparse(node.func) in ("getattr", "setattr"):
            names = [one.value for one in node.args if isinstance(one, ast.Constant)]
            module = known.get(ast.unparse(node.args[0]), "")
            for name in OF_MODULES.get(module, set()).intersection(map(str, names)):
                yield node.lineno, f"{module}.{name}"


def test_only_one_module_reaches_the_terminal() -> None:
    found = []
    for file in sorted(TRAINER.rglob("*.py")):
        name = file.relative_to(TRAINER).as_posix()
        for line, way in ways(file.read_text(encoding="utf-8")):
            if way not in MAY.get(name, ()):
                found.append(f"trainer/{name}:{line}: {way}; use trainer.terminal")
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    "code",
    [
        "print('a')",
        "say = print",
        "input('a')",
        "import builtins\nbuiltins.print('a')",
        "import sys\nsys.stdout.write('a')",
        "import sys as system\nsystem.stderr.write('a')",
        "from sys import stdout",
        "import sys\nsys.__stderr__.write('a')",
        "import sys\ngetattr(sys, 'stdout').write('a')",
        "import click\nclick.echo('a')",
        "import click as c\nc.confirm('a')",
        "from click import prompt as ask",
        "import os\nos.write(1, b'a')",
        "open('/dev/tty', 'w')",
        "import traceback\ntraceback.print_exc()",
        "from pprint import pprint",
    ],
)
def test_each_other_way_is_found(code: str) -> None:
    assert list(ways(code))


def test_what_reaches_no_terminal_is_let_be() -> None:
    assert not list(ways("process.stdout.readline()\nimport sys\nsys.exit(1)\nself.echo('a')"))


def test_nothing_is_allowed_that_is_not_used() -> None:
    for name, allowed in MAY.items():
        used = {way for _, way in ways((TRAINER / name).read_text(encoding="utf-8"))}
        assert allowed <= used, name
