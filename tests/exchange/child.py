"""Commands that are killed or refused at a given step, as `python -m tests.exchange.child`.

A step is a statement that SQLite runs, or a file below the folder that is opened, renamed,
removed or made. One order a line comes in as JSON (`Order`); for each, this process forks, runs
`trainer WORDS` on the folder's database with ids, chance and a clock that are the same each time,
and answers with one line of JSON: the exit code or the signal, the kinds of the steps, and what
was said.
"""

from __future__ import annotations

import io
import json
import os
import resource
import signal
import sqlite3
import sys
from contextlib import suppress
from datetime import timedelta
from importlib import import_module
from itertools import count
from pathlib import Path
from random import Random
from threading import current_thread, main_thread
from typing import Any, Literal, NamedTuple

from tests.pieces import tune
from tests.store.build import NOON, ROOT
from trainer.score import files, read

MOMENTS = ("open", "os.rename", "os.remove", "os.mkdir", "os.truncate", "os.rmdir")


class Order(NamedTuple):
    """Words of a command, with {} for the folder. At `step` (from 1) the process kills itself, or
    is refused with the error `errno`. With `most`, no file may grow beyond so many bytes; as
    `nobody`, it is neither owner nor administrator, where the tests run as one."""

    words: list[str]
    folder: str
    step: int = 0
    how: Literal["kill", "refuse"] = "kill"
    errno: int = 0
    most: int = 0
    nobody: bool = False


class Steps:
    """Counts steps, and does what was ordered at one of them."""

    def __init__(self, order: Order) -> None:
        self.order, self.kinds = order, list[str]()
        sys.addaudithook(self._audit)
        connect = sqlite3.connect

        def traced(*words: Any, **named: Any) -> sqlite3.Connection:
            made: sqlite3.Connection = connect(*words, **named)
            made.set_trace_callback(lambda _: self._step("sql"))
            return made

        sqlite3.connect = traced  # type: ignore[assignment]

    def _audit(self, event: str, values: tuple[Any, ...]) -> None:
        if event not in MOMENTS:
            return
        if str(values[0]).startswith(self.order.folder):
            self._step(event)
        elif self.order.nobody and event == "open" and str(values[0]).startswith(str(ROOT)):
            # Others may not even enter a folder of its owner's that the program lies in.
            raise AssertionError(f"{values[0]} is opened without rights")

    def _step(self, kind: str) -> None:
        if current_thread() is not main_thread():
            return  # what is tidied up meanwhile comes at another moment each time
        self.kinds.append(kind)
        if len(self.kinds) == self.order.step:
            if self.order.how == "kill":
                os.kill(os.getpid(), signal.SIGKILL)
            elif kind != "sql":  # SQLite itself is refused by the disk, not from here
                raise OSError(self.order.errno, os.strerror(self.order.errno))


def obey(order: Order) -> dict[str, Any]:
    """Run the command in this process; how it ended."""
    from trainer.cli import common, main, watch

    ticks, ids = count(), count(1)
    vars(common).update(
        local_now=lambda: NOON + timedelta(days=30, seconds=next(ticks)),
        fresh_id=lambda: f"fresh-{next(ids)}",
        Random=lambda: Random(1),
    )
    vars(watch).update(QUIET=0.0)  # the files have been there for long
    # A score is read in a process of its own, which keeps nothing.
    vars(read).update(read_file=lambda *_, **__: tune(20, title="New"))
    vars(files).update(content=lambda _: b"<score-partwise/>")
    os.environ["TRAINER_DB"] = f"{order.folder}/trainer.db"
    sys.argv = ["trainer", *(word.replace("{}", order.folder) for word in order.words)]
    sys.stdout, sys.stderr = io.StringIO(), io.StringIO()
    if order.most:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (order.most, order.most))
    if order.nobody and os.geteuid() == 0:
        os.seteuid(65534)
    steps, code = Steps(order), 0
    try:
        main.main()
    except SystemExit as end:
        code = int(end.code or 0)
    said = sys.stdout.getvalue(), sys.stderr.getvalue()
    loaded = list(sys.modules)
    return {"code": code, "steps": steps.kinds, "out": said[0], "err": said[1], "loaded": loaded}


def forked(order: Order) -> dict[str, Any]:
    """Run the command in a process of its own."""
    read, write = os.pipe()
    child = os.fork()
    if not child:
        try:
            told = json.dumps(obey(order))
        except BaseException as error:
            told = json.dumps({"code": 99, "steps": [], "out": "", "err": repr(error)})
        os.write(write, told.encode())
        os._exit(0)
    os.close(write)
    with os.fdopen(read) as pipe:
        told = pipe.read()
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return {"signal": os.WTERMSIG(status), "code": -1, "steps": [], "out": "", "err": ""}
    found: dict[str, Any] = json.loads(told)
    return found


def load() -> None:
    """Import what the commands will need, so that a fork is quick."""
    from trainer.cli.main import COMMANDS

    for module, *_ in COMMANDS.values():
        import_module(f"trainer.cli.{module}")
    for room in ("desk", "paper", "practice", "memory", "phrases", "deck", "draw", "reports"):
        for path in Path("trainer", room).glob("*.py"):
            import_module(f"trainer.{room}.{path.stem}".removesuffix(".__init__"))
    for name in ("sqlite_utils", "sqlite_utils.migrations", "trainer.store.schema", "_strptime"):
        import_module(name)


def load_more(names: list[str]) -> None:
    """Import what a command has loaded, so that the next one needs no file of the program: one
    without rights may not enter the folder where the program lies."""
    for name in names:
        if name not in sys.modules:
            with suppress(ImportError):
                import_module(name)


if __name__ == "__main__":
    load()
    import trainer.store.schema

    trainer.store.schema.pattern()
    out = sys.stdout
    for line in sys.stdin:
        told = forked(Order(**json.loads(line)))
        load_more(told.pop("loaded", []))
        out.write(json.dumps(told) + "\n")
        out.flush()
