"""What can be set, for whom, and how it is written. To add a setting, write how it is read and
put, and add a line to SETTINGS: the screen and the command line take it from here."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, get_args

from msgspec.structs import replace

from trainer.dates import day_of, in_full
from trainer.document.model import Column, Document, Table, listed
from trainer.draw.names import NAMINGS, Naming
from trainer.draw.text import clean
from trainer.errors import TrainerError
from trainer.layouts import CYRILLIC
from trainer.listen.model import Passes
from trainer.picture.terminal import WAYS
from trainer.record.people import DaysOff, Level, Student
from trainer.score.blocks import OCTAVE
from trainer.score.cite import AMERICAN, BRITISH, Words

if TYPE_CHECKING:
    from trainer.listen.model import Policy

WEEK = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
LEAST, MOST = 0.5, 240.0  # minutes of a day with a drill
THEMES = {"dark": "lamp", "light": "paper", "grey": "pencil"}  # by their names in the store
WORDS: dict[str, Words] = {"british": BRITISH, "american": AMERICAN}

Kept = Callable[[str], str]  # a setting's name -> what was kept under it, "" if nothing was


@dataclass(frozen=True)
class Setting:
    """One thing to set. `told` says how it stands; `put` takes a text, and gives the student
    changed, or what is to be kept under the setting's name (for `alone`, this student's; else
    everyone's). `put` raises TrainerError for a text that will not do. `values` are those to
    choose from, empty where the answer is typed; `asks` is then the question. `reads` makes the
    text that `put` takes of what people write on a day."""

    name: str
    title: str
    meaning: str
    told: Callable[[Student, str], str]
    put: Callable[[Student, str], Student | str]
    values: tuple[str, ...] = ()
    asks: str = ""
    alone: bool = True
    reads: Callable[[str, date], str] = lambda text, _today: text

    def taken(self, student: Student, text: str, today: date) -> Student | str:
        """What `put` gives for what people write today."""
        return self.put(student, self.reads(text, today))

    @property
    def known(self) -> tuple[str, str]:
        """What it may be called."""
        return self.name, self.title


def minutes_text(student: Student) -> str:
    """ "8", or with the days that differ: "8, Sat 20, Sun 0"."""
    days = zip(WEEK, student.week, strict=True) if len(student.week) == 7 else ()
    others = [f"{day} {minutes:g}" for day, minutes in days if minutes != student.minutes]
    return ", ".join([f"{student.minutes:g}", *others])


def with_minutes(student: Student, text: str) -> Student:
    """The student with minutes as written by `minutes_text`. Raises TrainerError."""
    usual, *others = [part.strip() for part in text.split(",")]
    if any(part.isdecimal() for part in others):
        raise TrainerError(f"{text!r} has a comma in a number; write it with a point, such as 7.5.")
    base = _minutes(usual, LEAST)
    week = [base] * 7
    for part in others:
        name, _, figure = part.partition(" ")
        days = [i for i, day in enumerate(WEEK) if name[:3].casefold() == day.casefold()]
        if not days:
            raise TrainerError(f"{name!r} is not a day of the week; write Mon, Tue, Wed and so on.")
        if not figure.strip():
            raise TrainerError(f"{name} has no minutes; write them after it, such as {name} 20.")
        week[days[0]] = _minutes(figure.strip(), 0.0)
    differs = any(minutes != base for minutes in week)
    return replace(student, minutes=base, week=tuple(week) if differs else ())


def _minutes(text: str, least: float) -> float:
    if re.fullmatch(r"\d{1,3}(\.\d{1,2})?", text) and least <= float(text) <= MOST:
        return float(text)
    raise TrainerError(
        f"{text!r} is not a number from {least:g} to {MOST:g}; write 8 for 8 minutes a day, or with"
        " days that differ 8, Sat 20, Sun 0."
    )


def off_text(student: Student) -> str:
    """ "none", or "2026-07-01, 2026-08-03 to 2026-08-16"."""
    spans = [
        f"{off.first}" if off.first == off.last else f"{off.first} to {off.last}"
        for off in student.off
    ]
    return ", ".join(spans) or "none"


def read_off(text: str, today: date) -> str:
    """Days off as people write them (tomorrow, 4 Jan to 10 Jan), as written by `off_text`.
    Raises TrainerError."""
    if text.strip().casefold() in ("", "none"):
        return text
    return ", ".join(
        " to ".join(f"{day_of(word, today)}" for word in re.split(" to | until ", part))
        for part in text.split(",")
    )


def off_in_full(student: Student) -> str:
    """ "Wednesday 1 July 2026; Monday 3 August 2026 to Sunday 16 August 2026", or "none"."""
    spans = [
        in_full(off.first) + (f" to {in_full(off.last)}" if off.last > off.first else "")
        for off in student.off
    ]
    return "; ".join(spans) or "none"


def with_off(student: Student, text: str) -> Student:
    """The student with days off as written by `off_text`. Raises TrainerError."""
    if text.strip().casefold() in ("", "none"):
        return replace(student, off=())
    spans = []
    for part in text.split(","):
        days = [date.fromisoformat(word.strip()) for word in part.split(" to ")]
        if len(days) > 2 or days[-1] < days[0]:
            raise TrainerError(
                f"{part.strip()!r} is not a span of days; write the first day, to, the last day."
            )
        spans.append(DaysOff(days[0], days[-1]))
    return replace(student, off=tuple(sorted(spans, key=lambda off: (off.first, off.last))))


def _chosen(values: tuple[str, ...]) -> Callable[[Student, str], str]:
    """Takes one of the values, or the beginning of one."""

    def put(_student: Student, text: str) -> str:
        wanted = text.strip().casefold()
        begun = [value for value in values if wanted and value.startswith(wanted)]
        found = [wanted] if wanted in values else begun
        if len(found) != 1:
            raise TrainerError(f"{text!r} {_may_be(found)}; choose {_either(values)}.")
        return found[0]

    return put


def _may_be(found: Sequence[str]) -> str:
    return f"may be {' or '.join(found)}" if found else "is not one of its values"


def _either(values: Sequence[str]) -> str:
    """ "a, b or c"."""
    return f"{', '.join(values[:-1])} or {values[-1]}"


def _kept(usual: str) -> Callable[[Student, str], str]:
    return lambda _student, kept: kept or usual


def _with_level(student: Student, text: str) -> Student:
    level: Level = _chosen(LEVELS)(student, text)  # type: ignore[assignment]
    return replace(student, level=level)


def _others(student: Student, kept: str) -> str:
    return kept or ("no" if student.level == "child" else "yes")


def _instrument(_student: Student, text: str) -> str:
    from trainer.listen.port import refuse_portless

    wanted = clean(text).strip()[:LONGEST] or OFF
    refuse_portless(wanted)
    return wanted


def _signs(_student: Student, text: str) -> str:
    from trainer.listen.signs import means_of

    wanted = " ".join(text.split())
    means_of(wanted)
    return wanted


def _groups(_student: Student, text: str) -> str:
    """Names of groups as typed: "Tuesday class, School concert"; "none" for none."""
    if text.strip().casefold() == "none":
        return ""
    return ", ".join(dict.fromkeys(groups_of(clean(text)[:LONGEST])))


def groups_of(kept: str) -> list[str]:
    """The groups that a student is in."""
    return [name for part in kept.split(",") if (name := " ".join(part.split()))]


def span(kept: Kept) -> int:
    """The widest reach of a student's hand in semitones."""
    return SPANS.get(kept("span"), OCTAVE)


def policy(kept: Kept) -> Policy:
    """What passes as begun where it was asked, as it was set."""
    from trainer.listen.model import Policy

    passes = {name: kept(name) for name in PASSES if kept(name) in ACCEPT}
    return Policy(**{name.replace("-", "_"): how for name, how in passes.items()})  # type: ignore[arg-type]


def _switch(name: str, meaning: str) -> Setting:
    """Off or on, for everyone; off unless it was chosen."""
    return Setting(name, name, meaning, _kept("off"), _chosen(OFF_ON), OFF_ON, alone=False)


def _passes(name: str, title: str, usual: Passes, meaning: str) -> Setting:
    return Setting(name, title, meaning, _kept(usual), _chosen(ACCEPT), ACCEPT)


def _colours(_student: Student, kept: str) -> str:
    return next((name for name, theme in THEMES.items() if theme == kept), "dark")


LEVELS: tuple[str, ...] = get_args(Level)
SPANS = {"fifth": 7, "sixth": 9, "seventh": 11, "octave": OCTAVE, "ninth": 14, "tenth": 16}
YES_NO = ("yes", "no")
OFF_ON = ("off", "on")
COUNTS = ("off", "seen", "heard")
PICTURES = ("off", *WAYS)
KEYBOARDS = ("latin", *CYRILLIC)
OFF = "off"
ANY = "any"  # the first instrument there is
LONGEST = 200  # letters of an instrument's name
ACCEPT: tuple[Passes, ...] = get_args(Passes)
PASSES = ("upbeat", "one-hand", "octave", "transposed")

SETTINGS: dict[str, Setting] = {
    one.name: one
    for one in (
        Setting(
            "level",
            "who sees what",
            "Child: one task and a map that fills in; no percentages or forecasts. Adult: "
            "everything. Advanced: also the attempts behind each figure, and the log.",
            lambda student, _kept: student.level,
            _with_level,
            LEVELS,
        ),
        Setting(
            "minutes",
            "minutes a day",
            "Minutes of drill a day; days that differ may follow, 0 for none.",
            lambda student, _kept: minutes_text(student),
            with_minutes,
            asks="How many minutes a day? For example 8, or with days that differ: 8, Sat 20, Sun "
            "0.",
        ),
        Setting(
            "off",
            "days off",
            "Days without a drill; the plan is made around them.",
            lambda student, _kept: off_text(student),
            with_off,
            asks="Which days? Such as tomorrow, 3 Aug to 16 Aug; or none.",
            reads=read_off,
        ),
        Setting(
            "drills",
            "other drills",
            "Whether other drills and run-throughs are offered beside today's drill.",
            _others,
            _chosen(YES_NO),
            YES_NO,
        ),
        Setting(
            "span",
            "hand span",
            "What a hand reaches without stretching; wider chords are to be spread. Never stretch "
            "to reach a chord; if it hurts, stop and ask your teacher.",
            _kept("octave"),
            _chosen(tuple(SPANS)),
            tuple(SPANS),
        ),
        Setting(
            "group",
            "groups",
            "The groups that a student is in, such as Tuesday class, School concert. `open`, "
            "`homework`, `recital set`, `calendar` and `hand-out` take a group for --student.",
            _kept("none"),
            _groups,
            asks="Which groups? Such as Tuesday class, School concert; or none.",
        ),
        Setting(
            "names",
            "names of notes",
            "English B flat and B, German B and H with e-Moll and Es-Dur, or fixed do.",
            _kept("english"),
            _chosen(NAMINGS),
            NAMINGS,
        ),
        Setting(
            "words",
            "words",
            "b. 12, upbeat, crotchet (British), or m. 12, pickup, quarter note (American).",
            _kept("british"),
            _chosen(tuple(WORDS)),
            tuple(WORDS),
        ),
        _switch(
            "speech",
            "Commands answer to be listened to: a sentence a row, bars and dates in full.",
        ),
        Setting(
            "colours",
            "colours",
            "Dark, light or grey; NO_COLOR turns all colours off.",
            _colours,
            lambda student, text: THEMES[_chosen(tuple(THEMES))(student, text)],
            tuple(THEMES),
            alone=False,
        ),
        Setting(
            "keyboard",
            "keyboard",
            "Which letters your keys type; each key does the same whatever it types. Greek needs "
            "no setting.",
            _kept("latin"),
            _chosen(KEYBOARDS),
            KEYBOARDS,
            alone=False,
        ),
        _switch("sound", "Whether openings and counts can be heard; it needs the extra `sound`."),
        Setting(
            "picture",
            "picture",
            "How engraved bars are shown in this terminal; `trainer picture --try` finds out.",
            _kept("off"),
            _chosen(PICTURES),
            PICTURES,
            alone=False,
        ),
        Setting(
            "count-in",
            "count-in",
            "Whether a key in the drill counts you in: on screen, or on screen and aloud.",
            _kept("off"),
            _chosen(COUNTS),
            COUNTS,
        ),
        Setting(
            "instrument",
            "instrument",
            "What hears the drill: off, any (the first digital piano found), its name (see "
            "`trainer instruments`), microphone, the path of a MIDI device, or HOST:PORT.",
            _kept(OFF),
            _instrument,
            asks="Which? off, any, a name, microphone, a MIDI device's path, or HOST:PORT.",
            alone=False,
        ),
        Setting(
            "signals",
            "signals",
            "What is pressed on the instrument for the next call, twice for the same again, three "
            "times to end: a key such as A0, notes such as C2 E2 G2, soft pedal, middle pedal, "
            "or off.",
            _kept("A0"),
            _signs,
            asks="Which signal? A key such as A0, notes such as C2 E2 G2, soft pedal, middle "
            "pedal, off.",
            alone=False,
        ),
        _passes(
            "upbeat",
            "upbeat first",
            "accept",
            "Counts as correct: playing the notes that lead into the start.",
        ),
        _passes(
            "one-hand",
            "one hand alone",
            "accept",
            "Counts as correct: playing the start with one hand alone.",
        ),
        _passes(
            "octave",
            "an octave off",
            "reject",
            "Counts as correct: playing the start an octave too high or too low.",
        ),
        _passes(
            "transposed",
            "another key",
            "reject",
            "Counts as correct: playing the start in another key.",
        ),
    )
}

GROUPS: dict[str, tuple[str, ...]] = {
    "Practice": ("minutes", "off", "drills", "count-in", "level", "span", "group"),
    "How things are written": ("names", "words", "colours", "keyboard"),
    "Sound and pictures": ("sound", "picture", "speech"),
    "An instrument that listens": ("instrument", "signals", *PASSES),
}
OWNERS = ("signals", *PASSES)  # of use only where an instrument listens


def grouped(*, instrument: bool) -> dict[str, list[Setting]]:
    """The settings under their headings; those for an instrument only where there is one."""
    return {
        head: [SETTINGS[name] for name in names if instrument or name not in OWNERS]
        for head, names in GROUPS.items()
    }


def setting(name: str) -> Setting:
    """The setting of that name or title, or the one that begins so. Raises TrainerError with
    the names there are."""
    wanted = name.strip().casefold()
    for same in (str.__eq__, str.startswith):
        found = [
            one for one in SETTINGS.values() if wanted and any(same(of, wanted) for of in one.known)
        ]
        if len(found) == 1:
            return found[0]
        if found:
            names = " or ".join(one.name for one in found)
            raise TrainerError(f"{name!r} may be the setting {names}; type more of its name.")
    raise TrainerError(
        f"There is no setting {name!r}; there are: {', '.join(SETTINGS)}. `trainer settings list` "
        "says what each is for."
    )


def changed(one: Setting, student: Student, text: str, today: date) -> Student | str:
    """What `one.put` makes of a text. The error of one that will not do names the setting."""
    try:
        return one.taken(student, text, today)
    except TrainerError as error:
        raise TrainerError(f"The setting {one.name}: {error}") from error


def choices(one: Setting, now: str) -> str:
    """How a setting stands, and what it may be, in a sentence."""
    ways = f"choose {_either(one.values)}" if one.values else one.asks.rstrip(".")
    return f"The setting {one.name} is {now}: {ways}."


def naming(kept: str) -> Naming:
    """The names of notes that were kept; English where none were."""
    return next((names for names in NAMINGS if names == kept), "english")


def words(kept: str) -> Words:
    """The words for places that were kept; British where none were."""
    return WORDS.get(kept, BRITISH)


def report(student: Student, kept: Kept) -> Document:
    """Each setting as it stands."""
    rows = tuple(
        (
            one.name,
            one.told(student, kept(one.name)),
            one.title,
            ", ".join(one.values) or None,
            student.name if one.alone else "everyone",
            one.meaning,
        )
        for one in SETTINGS.values()
    )
    table = Table(COLUMNS, rows)
    how = "Change one with `trainer settings set NAME VALUE`."
    return listed("settings", f"Settings of {student.name}", table, (how,))


COLUMNS = (
    Column("setting"),
    Column("now"),
    Column("what", spare=1),
    Column("choices"),
    Column("whose", hidden=True),
    Column("meaning", hidden=True),
)
