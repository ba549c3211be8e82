"""A page for the family that goes with a hand-out: install, take in, drill, send back."""

from __future__ import annotations

from trainer.dates import in_full
from trainer.document.model import Block, Document, Listing, Section, Sentence, Table, columns
from trainer.draw.text import file_name
from trainer.practice.cautions import FAMILY
from trainer.reports.homework import sentences as homework
from trainer.reports.view import View

ABOUT = (
    "This program helps to begin a memorised piece anywhere. It calls a place in the piece; the "
    "player begins there from memory, and one key says how far it went. A few minutes a day are "
    "enough. Everything stays on your computer until you send it."
)
INSTALL = (
    "Put the files that go with this page into one folder, also the program's file, which ends in "
    ".whl. Open a terminal in that folder and type these lines, one after the other:"
)
PYTHONS = (
    ("Windows", "Install Python 3.11 or newer from python.org.", "py -m venv trainer",
     "trainer\\Scripts\\activate"),
    ("macOS", "Install Python 3.11 or newer from python.org.", "python3 -m venv trainer",
     "source trainer/bin/activate"),
    ("Linux", "Install Python 3.11 or newer, and python3-venv on Debian and Ubuntu.",
     "python3 -m venv trainer", "source trainer/bin/activate"),
)  # fmt: skip
HEADS = {"python": "first", "make": "then type", "start": "and type"}
THEN = "pip install --find-links . begin-anywhere"
AGAIN = "Whenever you open a new terminal in the folder, type the line with `activate` first."
DRILL = (
    "Enter begins. Play what is called, from memory, into the next phrase, and press the key that "
    "says how far it went. `?` explains the keys; `q` ends."
)


def deck_file(title: str) -> str:
    """What a piece's deck is called among the files that are handed out."""
    return f"{file_name(title)}.deck.json"


def record_file(name: str) -> str:
    """What a student's record is called there."""
    return f"{file_name(name)}.record.json"


def report(view: View, deck: str | None = None) -> Document:
    """The four steps, with the names of the files of one piece or of all that are in hand."""
    record = record_file(view.student.name)
    decks = [deck_file(view.decks[one].title) for one in in_hand(view) if deck in (None, one)]
    steps: tuple[Block, ...] = (
        Sentence(ABOUT),
        Section("install", "1. Install the program, once", (
            Sentence(INSTALL),
            Table(columns("on", "python", "make", "start", heads=HEADS), PYTHONS),
            Sentence(THEN, "Then, everywhere"),
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
