"""A digital piano for tests: sends MIDI bytes to whoever connects, and can be unplugged."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterable
from contextlib import suppress
from threading import Event, Thread
from types import TracebackType

from trainer.listen.model import Heard


class Piano:
    """Serves one listener after the other on this machine, at `address`, until the block ends."""

    def __init__(self) -> None:
        self._server = socket.create_server(("127.0.0.1", 0))
        self._number = self._server.getsockname()[1]
        self._wire: socket.socket | None = None
        self._there = Event()
        self._over = False
        Thread(target=self._serve, daemon=True).start()

    @property
    def address(self) -> str:
        return f"127.0.0.1:{self._number}"

    def __enter__(self) -> Piano:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._over = True
        self.pull()

    def _serve(self) -> None:
        server = self._server
        while not self._over:
            with suppress(OSError):
                self._wire, _ = server.accept()
                self._there.set()
                continue
            return

    def wait(self) -> None:
        """Until somebody listens."""
        assert self._there.wait(20), "nobody listens to the piano"

    def send(self, *values: int) -> None:
        assert self._wire
        self._wire.sendall(bytes(values))

    def press(self, pitch: int) -> None:
        """A key, down and up again."""
        self.send(0x90, pitch, 64, 0x80, pitch, 0)

    def play(self, notes: Iterable[Heard]) -> None:
        """Play notes in their time, in seconds from now."""
        begin = time.monotonic()
        for note in notes:
            time.sleep(max(0.0, begin + note.time - time.monotonic()))
            self.press(note.pitch)

    def pull(self) -> None:
        """The cable is out: nobody is heard, and nobody answers."""
        with suppress(OSError):
            self._server.shutdown(socket.SHUT_RDWR)  # or the next caller would still be answered
        self._server.close()
        if self._wire:
            with suppress(OSError):
                self._wire.shutdown(socket.SHUT_RDWR)
            self._wire.close()
        self._wire = None
        self._there.clear()

    def plug(self) -> None:
        """The cable is in again, at the same address."""
        self._server = socket.create_server(("127.0.0.1", self._number), reuse_port=True)
        Thread(target=self._serve, daemon=True).start()
