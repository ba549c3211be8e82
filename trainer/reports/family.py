"""A page for the family that goes with a hand-out: install, take in, drill, send back."""

from __future__ import annotations

from trainer.dates import in_full
from trainer.document.model import Block, Document, Listing, Section, Sentence, Table, columns
from trainer.draw.text import file_names
from trainer.extras import wheel
from trainer.practice.cautions import FAMILY
from trainer.reports.homework import sentences as homework
from trainer.reports.view import View

ABOUT = (
    "This program helps to begin a memorised piece anywhere. It calls a place in the piece; the "
    "player begins there from memory, and one key says how far it went. A few minutes a day are "
    "enough. Everything stays on your computer until you send it."
)
INSTALL = (
    "Put the files that go with this page into one folder, together with the program's file "
    "{program}. Open a terminal in that folder and type these lines, one after the other:"
)
PYTHON = (
    "The program needs Python 3.11 or newer: from python.org on Windows and macOS; Linux has "
    "it, and on Debian and Ubuntu the package python3-venv is needed too."
)
LINES = (
    ("Windows", "py -m venv trainer", "trainer\\Scripts\\activate"),
    ("macOS, Linux", "python3 -m venv trainer", "source trainer/bin/activate"),
)
HEADS = {"make": "first", "start": "then", "install": "then"}
AGAIN = "Whenever you open a new terminal in the folder, type the line that ends in activate first."
DRILL = (
    "Enter begins. Play what is called, from memory, into the next phrase, and press the key that "
    "says how far it went. The key ? explains the keys, q ends."
)


def deck_files(view: View) -> dict[str, str]:
    """What the decks of the pieces in hand are called among the files that are handed out, by
    their ids."""
    decks = in_hand(view)
    names = file_names(view.decks[one].title for one in decks)
    return {one: f"{name}.deck.json" for one, name in zip(decks, names, strict=True)}


def record_file(view: View) -> str:
    """What the student's record is called there."""
    return f"{file_names([view.student.name])[0]}.record.json"


def report(view: View, deck: str | None = None) -> Document:
    """The four steps, with the names of the files of one piece or of all that are in hand."""
    program = wheel()
    lines = tuple((*line, f"pip install {program}") for line in LINES)
    record = record_file(view)
    decks = [name for one, name in deck_files(view).items() if deck in (None, one)]
    steps: tuple[Block, ...] = (
        Sentence(ABOUT),
        Section("install", "1. Install the program, once", (
            Sentence(PYTHON),
            Sentence(INSTALL.format(program=program)),
            Table(columns("on", "make", "start", "install", heads=HEADS), lines),
            Sentence(AGAIN),
        )),
        Section("take_in", "2. Take the files in", (
            Listing((
                *(f'trainer deck in "{one}"' for one in decks), f'trainer records in "{record}"',
            )),
        )),
        Section("drill", "3. Drill, each day", (
            Listing(("trainer",)), Sentence(DRILL),
            Listing(tuple(homework(view, deck)), "homework"),
        )),
        Section("send_back", "4. Send the record back before the lesson", (
            Listing((f'trainer records out "{record}" --replace',)),
            Sentence(f"Send {record} to the teacher. It holds attempts, open starts, recitals and "
                     "own changes, and nothing else."),
        )),
        Section("care", "With care", (Sentence(FAMILY),)),
    )  # fmt: skip
    return Document("family", f"For the family of {view.student.name}", steps, in_full(view.day))


def in_hand(view: View) -> list[str]:
    """The ids of the pieces that a student learns: with an open start, homework or a recital."""
    played = {item.deck for one in view.recitals if one.day >= view.day for item in one.programme}
    return [
        deck.id
        for deck in view.decks.values()
        if deck.id in played
        or any(start.id in view.open or start.id in view.homework for start in deck.starts)
    ]
