"""Reading a score in a process of its own.

`read_score` is for everyone. What stands under "In the child" runs only in the process that it
starts, so that no caller ever loads music21, and a bad file can do no harm.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

from msgspec.structs import replace

from trainer.errors import TrainerError
from trainer.score import files
from trainer.score.cite import counted
from trainer.score.files import ScoreFile
from trainer.score.limits import Limits, about, hold, hold_from_now
from trainer.score.model import Score
from trainer.score.parsers import PARSERS, load
from trainer.score.reading_process import ADVICE, Request, Stop, ask
from trainer.score.text import clean
from trainer.values import decode, encode

__all__ = ["Limits", "Stop", "read_score"]


def read_score(
    path: Path,
    *,
    progress: Callable[[str], None] | None = None,
    limits: Limits | None = None,
    movement: int = 1,
    stop: Stop | None = None,
) -> Score:
    """The score in a file: MusicXML, .mxl, MIDI, ABC, **kern or MEI.

    `movement` counts the tunes of a file that holds several, from 1. `progress` is called with
    a few words at each phase; `stop` ends the reading from another thread. What had to be
    mended is said in the score's `warnings`. Raises TrainerError for every file that does not
    give a score within the limits.
    """
    if progress is not None:
        progress("opening the file")
    file = files.load(path)
    return read_file(file, progress=progress, limits=limits, movement=movement, stop=stop)


def read_file(
    file: ScoreFile,
    *,
    progress: Callable[[str], None] | None = None,
    limits: Limits | None = None,
    movement: int = 1,
    stop: Stop | None = None,
) -> Score:
    """The score in a file that was opened, as `read_score` gives it."""
    limits = limits or Limits()
    stem = clean(Path(file.name).stem)
    request = Request(file.name, file.kind, stem, movement, limits)
    answer = ask(encode(request).encode(), file, limits=limits, progress=progress, stop=stop)
    return decode(answer, Score, f"The reader's answer for {file.name}")


# In the child


def child() -> None:
    """Answer one request on standard input; see `reading_process` for the form."""
    import gc

    gc.disable()  # the process is short, and its memory is limited
    out = os.fdopen(os.dup(1), "w", encoding="utf-8", errors="replace")
    os.dup2(2, 1)  # what a library prints goes nowhere

    def say(word: str, text: str) -> None:
        out.write(f"{word}{text}\n")
        out.flush()

    request = decode(sys.stdin.buffer.readline(), Request, "The reader's request")
    try:
        data = sys.stdin.buffer.read()
        suiting = request.limits.suiting(about(request.kind, data))
        hold(replace(suiting, seconds=request.limits.seconds))
        say("P", "loading the reader")
        load(len(data))
        hold_from_now(request.limits, suiting)
        say("S", encode(understand(request, data, lambda text: say("P", text))))
    except TrainerError as error:
        say("E", str(error))
    except MemoryError:
        say("E", f"{request.name} needs more memory to read than its size allows; {ADVICE}.")
    except Exception as error:
        reason = clean(str(error) or type(error).__name__, 120).rstrip(".")
        say("E", f"{request.name} cannot be read as {request.kind} ({reason}); export it again.")
    finally:
        out.flush()
        os._exit(0)  # nothing is left to tidy, and tidying a large score takes its time


def understand(request: Request, data: bytes, say: Callable[[str], None]) -> Score:
    """The score in a file's bytes, as `read_score` gives it; loads music21 into this process."""
    from trainer.score.assemble import assemble

    load(len(data))
    parsed = PARSERS[request.kind](data, request, say)
    score = assemble(
        parsed.tune,
        endings=parsed.endings,
        title=parsed.title,
        name=request.name,
        stem=request.stem,
        sounding=request.kind not in ("MusicXML", "MEI"),
        numbered=request.kind not in ("ABC", "MIDI"),
        rigid=request.kind == "MIDI",
        slashes=request.kind == "MusicXML",
        count=_counter(say),
    )
    return replace(score, warnings=(*_cautions(request, parsed.tunes), *score.warnings))


def _counter(say: Callable[[str], None]) -> Callable[[int], None]:
    """Says the number of notes each time another thousand is taken over."""
    said = 0

    def count(notes: int) -> None:
        nonlocal said
        if notes >= said + 1000:
            said = notes
            say(counted(notes, "note"))

    return count


def _cautions(request: Request, tunes: int) -> Iterator[str]:
    if tunes > 1:
        yield f"The file holds {tunes} tunes; this is number {request.movement}."
    if request.kind == "MIDI":
        yield "Bars are counted from the MIDI file's metre and may differ from the print."
