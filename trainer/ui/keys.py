"""All keys of all screens. The bindings, the strip at the foot of a screen and the help are
made from this one list, so that none can say what another does not do.

To add a key, add a line here and write its action in the screen. Plain keys only: many
combinations never arrive in a terminal.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from textual.binding import Binding, BindingType

EVERYWHERE = "everywhere"
FEW = 6  # keys that stand in one row


class Key(NamedTuple):
    """`id` is the screen it works on and a name; `keys` are Textual's names of the keys that
    do it; `face` is how they stand on the screen; `{key}` in `action` becomes the key pressed.
    Keys with `row` 0 are left out of the strip, not of the help."""

    id: str
    keys: str
    face: str
    words: str
    action: str
    meaning: str
    row: int = 1

    @property
    def screen(self) -> str:
        return self.id.partition(".")[0]

    def stands(self, ascii: bool) -> str:
        """The face, in plain signs if need be."""
        return _PLAIN_FACES.get(self.face, self.face) if ascii else self.face

    def bindings(self) -> list[BindingType]:
        keys = self.keys.split(",")
        return [
            Binding(
                key,
                self.action.format(key=key),
                self.words,
                id=self.id if len(keys) == 1 else f"{self.id}.{key}",
                tooltip=self.meaning,
            )
            for key in keys
        ]


SIGN_KEYS = {
    "[": "left_square_bracket",
    "]": "right_square_bracket",
    ";": "semicolon",
    "'": "apostrophe",
    ",": "comma",
    ".": "full_stop",
    "/": "slash",
}
_PLAIN_FACES = {"↓": "Down", "↑": "Up", "→": "Right", "←": "Left"}


def _scrolling(screen: str, what: str, does: str = "scroll") -> list[Key]:
    """The keys to read `what`, or to move the mark in it."""
    return [
        Key(f"{screen}.down", "down", "↓", "down", f"{does}(1)", f"Down in {what}."),
        Key(f"{screen}.up", "up", "↑", "up", f"{does}(-1)", f"Up in {what}."),
        Key(f"{screen}.on", "pagedown,space", "PgDn", "on", "leaf(1)", "One screen down.", 0),
        Key(f"{screen}.back up", "pageup", "PgUp", "back up", "leaf(-1)", "One screen up.", 0),
    ]


KEYS: tuple[Key, ...] = (
    Key(
        "everywhere.help",
        "question_mark",
        "?",
        "help",
        "app.help",
        "What the keys and words of this screen mean.",
        2,
    ),
    Key("everywhere.leave", "ctrl+q", "Ctrl+Q", "leave at once", "app.leave", "Leave the program. "
        "What was recorded is kept.", 0),
    Key("everywhere.copy", "ctrl+c", "Ctrl+C", "copy, or leave", "app.copy", "Copy the text that "
        "is marked with the mouse; where none is, leave the program.", 0),
    # Today
    Key("today.begin", "enter", "Enter", "begin", "begin", "Begin today's drill."),
    Key("today.more", "plus", "+", "more starts", "more", "More starts, when today's are done."),
    Key("today.retention", "r", "r", "retention", "room('retention')", "What holds, phrase by "
        "phrase, weakest first."),
    Key("today.map", "m", "m", "map", "room('map')", "The map of a piece; starts "
        "are opened there."),
    Key("today.recital", "e", "e", "recital", "room('recital')", "How ready you are for the next "
        "recital, and the steps to it."),
    Key("today.all", "o", "o", "more", "all", "All that can be done, found by typing."),
    Key("today.prepare", "p", "p", "prepare", "prepare", "Correct where the phrases of a piece "
        "begin, or add a score.", 0),
    Key("today.others", "d", "d", "other drills", "others", "A drill of another kind, a "
        "run-through, or going on after a slip.", 0),
    Key("today.student", "s", "s", "students", "student", "Choose who is practising; add "
        "students.", 0),
    Key("today.lesson", "l", "l", "lesson", "lesson", "For teachers with several students: the "
        "page to read before a lesson.", 0),
    Key("today.settings", "t", "t", "settings", "room('settings')", "Minutes, days off, names of "
        "notes, words, colours, keyboard, instrument.", 0),
    Key("today.forecasts", "f", "f", "forecasts", "report('forecasts')", "How accurate the "
        "forecasts have been.", 0),
    Key("today.colours", "c", "c", "colours", "colours", "Dark, light or grey; your choice is "
        "remembered.", 0),
    Key("today.down", "down", "↓", "down", "scroll(1)", "Scroll down if there is more.", 0),
    Key("today.up", "up", "↑", "up", "scroll(-1)", "Scroll up.", 0),
    Key("today.leave", "q", "q", "leave", "app.leave", "Leave the program.", 0),
    # The drill: the outcomes, then what is not an outcome
    Key("drill.through", "t", "t", "through", "act('through')", "Began within about five seconds "
        "and crossed the join without a stop."),
    Key("drill.stopped", "s", "s", "stopped", "act('stopped')", "Began late, or crossed the join "
        "with a stop."),
    Key("drill.broke off", "b", "b", "broke off", "act('broke off')", "Began right and did not "
        "reach the join."),
    Key("drill.looked", "l", "l", "looked", "act('looked')", "Needed the music to begin."),
    Key("drill.nothing", "n", "n", "nothing", "act('nothing')", "Could not begin."),
    Key("drill.elsewhere", "e", "e", "elsewhere", "act('elsewhere')", "Began at another start; "
        "you are asked at which."),
    Key("drill.list", "right,left", "→", "as a list", "outcomes", "The outcomes as a list, to be "
        "chosen with the arrows and Enter, or by a tap.", 2),
    Key("drill.down", "down", "↓", "down", "scroll(1)", "At the end, scroll down if there is "
        "more."),
    Key("drill.up", "up", "↑", "up", "scroll(-1)", "Scroll up."),
    Key("drill.on", "enter", "Enter", "go on", "on", "Go on after a pause, a rest, what was heard "
        "or the end.", 2),
    Key("drill.again", "r", "r", "same again", "act('again')", "After an attempt that was "
        "heard: the same start at once.", 2),
    Key("drill.hint", "h", "h", "hint", "act('hint')", "A hint at the present call; each press "
        "gives one more. It is recorded with the attempt.", 2),
    Key("drill.pause", "p", "p", "pause", "pause", "Pause the clock; press again to go on.", 2),
    Key("drill.undo", "u", "u", "undo", "act('undo')", "Take back the last attempt; its start is "
        "called again.", 2),
    Key("drill.amend", "a", "a", "amend", "act('amend')", "Correct the last attempt.", 2),
    Key("drill.page", "v", "v", "music", "page", "All the music of the last attempt; away from the "
        "instrument, of the present call.", 2),
    Key("drill.count", "c", "c", "count", "count", "Count up to the call, if the setting count-in "
        "is on.", 2),
    Key("drill.hear", "o", "o", "hear opening", "hear", "If sound is on: hear the last start's "
        "opening, or stop.", 2),
    Key("drill.yours", "y", "y", "hear yours", "yours", "If sound is on: hear what you played, "
        "or stop.", 2),
    Key("drill.cancel", "escape", "Esc", "leave it", "act('cancel')", "Leave the last attempt as "
        "it was recorded.", 2),
    Key("drill.stop", "q", "q", "end", "stop", "End the drill here. Everything recorded is kept.",
        2),
    # The run-through
    Key("run.slip", "s", "s", "slip", "slip", "You slipped: the slip is logged at once."),
    Key("run.done", "enter", "Enter", "done", "done", "You reached the end of the piece; press "
        "again for Today."),
    Key("run.tell", "w", "w", "where", "tell", "Say where the marked slip was, and where you went "
        "on.", 2),
    Key("run.agree", "y", "y", "it was", "agree", "Confirm the marked line, of which the "
        "instrument is not sure: log it as a slip."),
    Key("run.heard", "v", "v", "the music", "heard", "Afterwards: what was heard, shown on the "
        "music.", 2),
    Key("run.down", "down", "↓", "down", "move(1)", "The next line.", 2),
    Key("run.up", "up", "↑", "up", "move(-1)", "The line before.", 2),
    Key("run.undo", "u", "u", "undo", "undo", "Take back the end, or the last slip logged.",
        2),
    Key("run.stop", "q", "q", "end", "stop", "End here: the end of the piece was not reached.",
        2),
    # Going on after a slip
    Key("slip.on", "enter", "Enter", "go on", "on", "Begin at the start that is called; at the "
        "end, back to Today."),
    Key("slip.next", "t", "t", "the next", "act('next')", "You went on from the next start."),
    Key("slip.other", "e", "e", "elsewhere", "act('other')", "You went on from another start; you "
        "are asked from which."),
    Key("slip.none", "n", "n", "nothing", "act('none')", "You could not go on."),
    Key("slip.undo", "u", "u", "undo", "undo", "Take the last one back; its start is called "
        "again.", 2),
    Key("slip.stop", "q", "q", "end", "stop", "End here. Everything recorded is kept.", 2),
    # Retention
    *_scrolling("retention", "the list", "move"),
    Key("retention.map", "enter", "Enter", "on the map", "open", "Show this start on its map."),
    Key("retention.piece", "p", "p", "piece", "piece", "One piece only, or all of them."),
    Key("retention.sort", "s", "s", "order", "sort", "Another order: the weakest first, as in the "
        "score, the oldest cold attempt first, the soonest called first.", 2),
    Key("retention.only", "b", "b", "band", "only", "Only what holds, is fading, weak or untried; "
        "then all again.", 2),
    Key("retention.log", "l", "l", "log", "log", "For advanced students: the attempts at this "
        "start, or all.", 2),
    Key("retention.heard", "h", "h", "heard", "heard", "If an instrument hears the drill: what it "
        "heard beside what you marked.", 2),
    Key("retention.back", "escape,q", "Esc", "back", "back", "Back to the screen before.", 2),
    # The log
    *_scrolling("log", "the log", "move"),
    Key("log.all", "a", "a", "this start or all", "all", "The attempts at this start, or at all "
        "starts of all pieces."),
    Key("log.back", "escape,q,l", "Esc", "back", "back", "Back to the screen before.", 2),
    # Recital
    Key("recital.next", "right,tab", "→", "next page", "turn(1)", "The next page: programme, "
        "stages, recovery, the last days."),
    Key("recital.before", "left", "←", "page before", "turn(-1)", "The page before."),
    *_scrolling("recital", "the page", "move"),
    Key("recital.open", "enter", "Enter", "on the map", "open", "Show the piece or the start of "
        "the marked row on its map."),
    Key("recital.set", "n", "n", "new", "set", "Set a recital, or change one: its name, its date, "
        "its pieces. A recital with music is set on the command line.", 2),
    Key("recital.back", "escape,q", "Esc", "back", "back", "Back to Today.", 2),
    # Any report
    *_scrolling("report", "the report", "move"),
    Key("report.open", "enter", "Enter", "on the map", "open", "Show the start or the piece of the "
        "marked row on its map."),
    Key("report.back", "escape,q", "Esc", "back", "back", "Back to the screen before."),
    # Students
    Key("students.down", "down", "↓", "down", "move(1)", "The next student."),
    Key("students.up", "up", "↑", "up", "move(-1)", "The student before."),
    Key("students.digit", "0,1,2,3,4,5,6,7,8,9", "0-9", "a number", "digit('{key}')", "Go to the "
        "line with that number."),
    Key("students.take", "enter", "Enter", "this one", "take", "Practise as this student."),
    Key("students.add", "a", "a", "add", "add", "Add a student.", 2),
    Key("students.level", "l", "l", "level", "level", "How much the screens show: child, adult, "
        "advanced.", 2),
    Key("students.minutes", "m", "m", "minutes", "minutes", "Minutes of drill a day.", 2),
    Key("students.lesson", "b", "b", "lesson", "lesson", "What to know of this student "
        "before the lesson, on one page.", 2),
    Key("students.studio", "o", "o", "overview", "studio", "All students, by what each needs, and "
        "the recitals to come.", 2),
    Key("students.back", "escape,q", "Esc", "back", "back", "Go back without choosing.", 2),
    # The lesson
    Key("lesson.hear", "h", "h", "three starts", "hear", "Drill the three starts that need it "
        "most; the teacher marks each attempt."),
    Key("lesson.note", "w", "w", "note", "note", "Write a note on today's lesson. It stays on this "
        "computer."),
    Key("lesson.prepare", "p", "p", "prepare", "prepare", "Correct or comment on the starts of a "
        "piece."),
    Key("lesson.retention", "r", "r", "retention", "room('retention')", "What holds, phrase by "
        "phrase; a child's chances too.", 2),
    Key("lesson.map", "m", "m", "map", "room('map')", "The map of a piece; starts are opened "
        "there.", 2),
    Key("lesson.recital", "e", "e", "recital", "room('recital')", "How ready this student is for "
        "the next recital, and recovery.", 2),
    Key("lesson.hand", "o", "o", "hand out", "hand_out", "Save this piece's starts and notes as a "
        "file to give to students."),
    *_scrolling("lesson", "the page", "move"),
    Key("lesson.back", "escape,q", "Esc", "back", "back", "Back to the screen before.", 2),
    # The studio
    *_scrolling("studio", "the list", "move"),
    Key("studio.take", "enter", "Enter", "this one", "open", "Practise as this student."),
    Key("studio.lesson", "b", "b", "lesson", "lesson", "What to know of this student "
        "before the lesson."),
    Key("studio.turn", "right,left,tab", "→", "recitals", "turn(1)", "The recitals to come, or the "
        "students again.", 2),
    Key("studio.back", "escape,q", "Esc", "back", "back", "Back to the screen before.", 2),
    # Settings
    Key("settings.down", "down", "↓", "down", "move(1)", "The next setting."),
    Key("settings.up", "up", "↑", "up", "move(-1)", "The setting before."),
    Key("settings.change", "enter", "Enter", "change", "change", "Change the marked setting."),
    Key("settings.back", "escape,q", "Esc", "back", "back", "Back to Today.", 2),
    # The map of a piece
    Key("map.next", "right,down", "→", "next", "move(1)", "The next start."),
    Key("map.before", "left,up", "←", "before", "move(-1)", "The start before."),
    Key("map.show", "enter", "Enter", "in full", "show", "Everything about this start: its "
        "attempts, the days to come, its music, its look-alikes."),
    Key("map.open", "o", "o", "open", "open", "Mark this phrase as learned, so that it is "
        "drilled, or as not learned."),
    Key("map.all", "a", "a", "open all", "open_all", "Open every start of the piece."),
    Key("map.homework", "h", "h", "homework", "homework", "For teachers: ask for this start until "
        "the same day next week, or no more.", 2),
    Key("map.prepare", "e", "e", "edit", "prepare", "Correct where the phrases of this piece "
        "begin.", 2),
    Key("map.page", "v", "v", "music", "page", "The written music of this phrase.", 2),
    Key("map.piece", "p", "p", "piece", "piece", "Another piece.", 2),
    Key("map.back", "escape,q", "Esc", "back", "back", "Back to the screen before.", 2),
    # A start opened
    Key("start.next", "right", "→", "next", "turn(1)", "The next start."),
    Key("start.before", "left", "←", "before", "turn(-1)", "The start before."),
    *_scrolling("start", "what is told", "move"),
    Key("start.words", "w", "w", "own words", "words", "Your own words for this start; the "
        "teacher's advice stays.", 2),
    Key("start.worked", "k", "k", "worked on", "worked_on", "Record work on this start outside "
        "the drill: taken apart, slowly, hands separately, with the teacher.", 2),
    Key("start.page", "v", "v", "music", "page", "The written music of this phrase, alone.", 2),
    Key("start.back", "escape,q,enter", "Esc", "back", "back", "Back to the map.", 2),
    Key("adding.back", "escape,q", "Esc", "back", "back", "Back; if a score is still being read, "
        "the reading stops."),
    # Prepare: where the phrases of a piece begin
    Key("prepare.next", "right,down", "→", "next", "move(1)", "The next start."),
    Key("prepare.before", "left,up", "←", "before", "move(-1)", "The start before."),
    Key("prepare.earlier", "comma", ",", "beat earlier", "shift(-1)", "Begin the phrase a beat "
        "earlier."),
    Key("prepare.later", "full_stop", ".", "beat later", "shift(1)", "Begin the phrase a beat "
        "later."),
    Key("prepare.bar earlier", "semicolon,less_than_sign", ";", "bar earlier", "shift_bar(-1)",
        "Begin the phrase a bar earlier.", 0),
    Key("prepare.bar later", "colon,greater_than_sign", ":", "bar later", "shift_bar(1)",
        "Begin the phrase a bar later.", 0),
    Key("prepare.add", "n", "n", "new", "add", "A new start: you are asked for its place. It "
        "divides the phrase it falls in."),
    Key("prepare.remove", "x", "x", "remove", "remove", "Remove the start. Its attempts are kept."),
    Key("prepare.merge", "m", "m", "merge", "merge", "Merge the phrase into the one before, which "
        "takes over its attempts."),
    Key("prepare.density", "d", "d", "density", "density", "Fewer, usual or more starts; those "
        "you set yourself stay."),
    Key("prepare.alike", "k", "k", "look-alikes", "alike", "The pairs that are easily confused: "
        "accept them, unlink them, link others."),
    Key("prepare.advise", "w", "w", "word", "advise", "A word of advice for the start."),
    Key("prepare.label", "l", "l", "name", "label", "A name for the start, such as second theme."),
    Key("prepare.finger", "f", "f", "fingering", "finger", "A fingering of your own."),
    Key("prepare.cue", "c", "c", "cue", "cue", "Who gives the entry, in an ensemble."),
    Key("prepare.open", "o", "o", "open", "open", "Mark the phrase as learned, so that it is "
        "drilled, or as not learned."),
    Key("prepare.page", "v", "v", "music", "page", "The written music of the phrase.", 2),
    Key("prepare.undo", "u", "u", "undo", "undo", "Undo the last change.", 2),
    Key("prepare.redo", "y", "y", "redo", "redo", "Redo what was undone.", 2),
    Key("prepare.save", "enter", "Enter", "save", "save", "Save all changes as one edit.", 2),
    Key("prepare.back", "escape,q", "Esc", "back", "back", "Back; if there is something to save, "
        "you are asked.", 2),
    # The look-alikes of a piece
    Key("alike.down", "down", "↓", "down", "move(1)", "The next pair."),
    Key("alike.up", "up", "↑", "up", "move(-1)", "The pair before."),
    Key("alike.accept", "a", "a", "accept", "accept", "Keep the two as easily confused, whatever "
        "is found later."),
    Key("alike.unlink", "x", "x", "unlink", "unlink", "Mark the two as not easily confused."),
    Key("alike.all", "e", "e", "accept all", "accept_all", "Accept every pair of the same notes, "
        "transposed or not. Accept those alike only in shape one by one."),
    Key("alike.link", "n", "n", "link another", "link", "Link the start that you came from to "
        "another one.", 2),
    Key("alike.undo", "u", "u", "undo", "undo", "Undo the last change.", 2),
    Key("alike.back", "escape,q,k", "Esc", "back", "back", "Back to the starts.", 2),
    # One of several
    Key("choose.down", "down", "↓", "down", "move(1)", "The next line."),
    Key("choose.up", "up", "↑", "up", "move(-1)", "The line before."),
    Key("choose.digit", "0,1,2,3,4,5,6,7,8,9", "0-9", "its number", "digit('{key}')", "Go to the "
        "line with that number."),
    Key("choose.rub out", "backspace", "Backspace", "delete", "rub_out", "Delete the last "
        "digit.", 0),
    Key("choose.take", "enter", "Enter", "this one", "take", "Choose the marked line."),
    Key("choose.back", "escape", "Esc", "back", "back", "Go back and choose nothing.", 1),
    # More: all that can be done
    Key("more.down", "down", "↓", "down", "move(1)", "The next line."),
    Key("more.up", "up", "↑", "up", "move(-1)", "The line before."),
    Key("more.take", "enter", "Enter", "this one", "take", "Do it, or go to the screen where it "
        "is done."),
    Key("more.back", "escape", "Esc", "back", "back", "Back to the first screen."),
    # A short answer
    Key("ask.take", "enter", "Enter", "done", "take", "Done. Where an empty answer "
        "means something, the question says so."),
    Key("ask.back", "escape", "Esc", "leave it", "back", "Go back without an answer."),
    # Pages to be read
    *_scrolling("page", "the page"),
    Key("page.hear", "o", "o", "hear opening", "hear", "If sound is on: hear this page's "
        "opening, or stop."),
    Key("page.picture", "p", "p", "picture", "picture", "If this terminal shows pictures: these "
        "bars, engraved."),
    *_scrolling("heard run", "what was heard"),
    Key("heard run.next", "right,tab", "→", "next phrase", "turn(1)", "The next phrase."),
    Key("heard run.before", "left", "←", "phrase before", "turn(-1)", "The phrase before."),
    Key("heard run.back", "escape,q,enter,v", "Esc", "back", "back", "Back to the run-through."),
    *_scrolling("heard", "what was heard"),
    Key("heard.yours", "y", "y", "hear yours", "again", "If sound is on: hear what you played, or "
        "stop."),
    Key("heard.page", "v", "v", "as written", "page", "The music as it is written."),
    Key("heard.back", "escape,q,enter", "Esc", "back", "back", "Back to the drill."),
    Key("page.back", "escape,q,v,enter", "Esc", "back", "back", "Back to the screen before."),
    *_scrolling("help", "the help"),
    Key("help.back", "escape,q,question_mark,enter", "Esc", "back", "back", "Back."),
    Key("caution.seen", "enter", "Enter", "I have read this", "seen", "Go on to Today."),
    Key("caution.leave", "q", "q", "leave", "app.leave", "Leave the program.", 2),
)  # fmt: skip


def letter_key(letter: str) -> str:
    """Textual's name of the key that types a letter or a sign."""
    return letter if letter.isalnum() else SIGN_KEYS.get(letter, letter)


def keys_of(screen: str) -> list[Key]:
    """The keys of one screen, then those that work everywhere (not while a text is typed)."""
    own = [key for key in KEYS if key.screen == screen]
    taken = {name for key in own for name in key.keys.split(",")}
    shared = [key for key in KEYS if key.screen == EVERYWHERE]
    return own + [key for key in shared if taken.isdisjoint(key.keys.split(","))]


def bindings(screen: str) -> list[BindingType]:
    """What Textual is to be told of one screen's own keys."""
    return [binding for key in KEYS if key.screen == screen for binding in key.bindings()]


def rows(keys: Iterable[Key]) -> list[list[Key]]:
    """The keys of the strip, row by row; a few of them in one row."""
    on_strip = [key for key in keys if key.row]
    shown: dict[int, list[Key]] = {}
    for key in on_strip:
        shown.setdefault(key.row if len(on_strip) > FEW else 1, []).append(key)
    return [shown[row] for row in sorted(shown)]
