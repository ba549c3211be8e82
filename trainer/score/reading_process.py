"""A process of its own for reading: what goes wrong in it stays in it.

The parent writes one line of JSON and the score's bytes to the child's standard input. The
child answers in lines: "P" and a phase, then "S" and the score as JSON, or "E" and a sentence.
"""

from __future__ import annotations

import os
import signal
import subprocess
from collections.abc import Callable
from threading import Timer

from trainer.child import command
from trainer.errors import TrainerError
from trainer.score.files import Kind, ScoreFile
from trainer.score.limits import Limits
from trainer.values import Frozen

_START = "from trainer.score.read import child; child()"


ADVICE = "correct impossible lengths and metres in it, or split it into movements"


class Request(Frozen, frozen=True):
    """What the child is asked: the file's name and kind, which movement, within which limits."""

    name: str
    kind: Kind
    stem: str
    movement: int
    limits: Limits


class Stop:
    """Call it from another thread to end a reading, which then raises TrainerError."""

    def __init__(self) -> None:
        self.called = False
        self._process: subprocess.Popen[bytes] | None = None

    def __call__(self) -> None:
        self.called = True
        if self._process is not None:
            self._process.kill()

    def holds(self, process: subprocess.Popen[bytes]) -> None:
        """From now on it ends this process; at once where it has been called already."""
        self._process = process
        if self.called:
            process.kill()


def ask(
    request: bytes,
    file: ScoreFile,
    *,
    limits: Limits,
    progress: Callable[[str], None] | None = None,
    stop: Stop | None = None,
) -> str:
    """The child's answer, the JSON of a score. Raises TrainerError when it fails in any way."""
    process = _start()
    if stop is not None:
        stop.holds(process)
    timed_out = False

    def give_up() -> None:
        nonlocal timed_out
        timed_out = True
        process.kill()

    timer = Timer(limits.seconds, give_up)
    timer.start()
    try:
        answer = _talk(process, request + b"\n" + file.data, progress)
    finally:
        timer.cancel()
        process.kill()
        code = process.wait()
    if answer is not None:
        return answer
    if stop is not None and stop.called:
        raise TrainerError(f"{file.name} was not read to its end: the reading was stopped.")
    if timed_out:
        raise TrainerError(f"{file.name} took longer than {limits.seconds:g} s to read; {ADVICE}.")
    if code == -getattr(signal, "SIGXCPU", 0):
        raise TrainerError(f"{file.name} takes longer to read than its size allows; {ADVICE}.")
    raise TrainerError(
        f"{file.name} could not be read: the reader stopped, probably because memory ran out; "
        f"{ADVICE}."
    )


def _start() -> subprocess.Popen[bytes]:
    environment = dict(os.environ, OPENBLAS_NUM_THREADS="1", OMP_NUM_THREADS="1")
    try:
        return subprocess.Popen(
            command(_START),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment,
        )
    except OSError as error:
        raise TrainerError(f"The reader could not be started: {error.strerror}.") from error


def _talk(
    process: subprocess.Popen[bytes], message: bytes, progress: Callable[[str], None] | None
) -> str | None:
    """Send the message and follow the answer; None where it breaks off."""
    assert process.stdin is not None
    assert process.stdout is not None
    with process.stdout:
        try:
            with process.stdin as stdin:
                stdin.write(message)
        except BrokenPipeError:
            pass  # the child died; its silence says so below
        for line in process.stdout:
            word, text = line[:1], line[1:].decode().rstrip("\n")
            if word == b"P" and progress is not None:
                progress(text)
            elif word == b"E":
                raise TrainerError(text)
            elif word == b"S":
                return text
    return None
