"""The desk: where what is kept and what follows from it come together.

Screens and command line both work through it and own no rule. Its edges (the store, the
clock, fresh ids, chance) are given to it (`base`); everything else it asks of the pure rooms.
One room for each thing that is done at it:

- `people`: students, their settings, and the view of one of them, over a `shelf` of pieces.
- `studio`: all students at once.
- `pieces`: scores and decks, in and out; their edits; which starts are open.
- `scores`: start numbers in a piece's own score.
- `takeover`: a score file for a piece that has no notes yet.
- `own`: one student's own layer over a deck.
- `exchange`: records between machines, and which entries are one person.
- `days`: recitals, and the teacher's notes of lessons.
- `drills`: the drill, a try outside it, and what is called.
- `runs`: the run-through, and going on after a slip.
- `instruments`: what hears a drill (`hearing`) or a run-through (`following`).
"""

from trainer.desk.days import Days
from trainer.desk.drills import Drills, begun_instead, call, spot
from trainer.desk.exchange import Exchange
from trainer.desk.instruments import Instruments
from trainer.desk.pieces import Edit, Incoming, Take
from trainer.desk.runs import Runs
from trainer.desk.scores import Marked, Scores, Wanted
from trainer.desk.shelf import Shelf
from trainer.desk.studio import StudioDesk
from trainer.desk.takeover import Takeover, Takeovers

__all__ = [
    "Desk",
    "Edit",
    "Incoming",
    "Marked",
    "Shelf",
    "Take",
    "Takeover",
    "Wanted",
    "begun_instead",
    "call",
    "spot",
]


class Desk(StudioDesk, Takeovers, Scores, Exchange, Instruments, Days, Drills, Runs):
    """All that screens and command line do, over one open store."""
