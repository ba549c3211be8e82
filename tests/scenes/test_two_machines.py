"""The teacher's scenes from end to end, between machines that only exchange files.

The teacher's clock is right. The pupil's machine at home is eleven hours behind and its clock a
day ahead; a second pupil's is right. Everything is said and asked on the command line.
"""

from __future__ import annotations

import json
import re
import shutil
from collections import Counter
from datetime import timedelta
from pathlib import Path

import pytest

from tests.scenes.machines import NOON, Machine
from tests.scenes.sonatina import TITLE, movement
from trainer.demo import bundled

NINE = ("K.", "B.", "C.", "D.", "E.", "F.", "G.", "H.", "J.")
DAY = timedelta(days=1)


class Studio:
    """A teacher, two pupils' machines, and a folder through which files go."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.teacher = Machine(folder / "teacher" / "t.db")
        self.home = Machine(folder / "home" / "t.db", hours=24, zone=-10)
        self.other = Machine(folder / "other" / "t.db")
        self.said: list[str] = []
        for machine in (self.teacher, self.home, self.other):
            machine.path.parent.mkdir(parents=True, exist_ok=True)

    def file(self, name: str) -> Path:
        return self.folder / name


def prepare(folder: Path) -> Studio:
    """Scene 1: a movement of 64 bars is prepared and given to nine students."""
    studio = Studio(folder)
    teacher = studio.teacher
    score = studio.file("sonatina.musicxml")
    score.write_text(movement())
    for name in NINE:
        teacher.do("student", "add", name, *(["--level", "child"] if name == "K." else []))
    teacher.do("student", "choose", "B.")
    for words in (
        ("add", score, "--density", "fewer"),
        ("starts", 1),
        *(("start", "remove", 1, number) for number in (15, 11, 7, 6, 4, 2)),
        ("start", "add", 1, "29"),
        ("look-alikes", 1),
        ("start", "finger", 1, 6, "R 1-3-5"),
    ):
        studio.said.append(teacher.do(*words))
    for name in NINE:
        teacher.do("open", 1, "all", "-s", name)
    teacher.do("deck", "out", 1, studio.file("sonatina.deck.json"))
    return studio


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Studio:
    return prepare(tmp_path_factory.mktemp("prepared") / "all")


@pytest.fixture
def studio(prepared: Studio, tmp_path: Path) -> Studio:
    """After scene 1: the pupils have the deck, and K.'s record is on the machine at home."""
    shutil.copytree(prepared.folder, tmp_path / "all")
    studio = Studio(tmp_path / "all")
    studio.teacher.do("records", "out", studio.file("K.json"), "-s", "K.")
    studio.teacher.do("records", "out", studio.file("B.json"), "-s", "B.")
    for machine, name in ((studio.home, "K."), (studio.other, "B.")):
        machine.do("deck", "in", studio.file("sonatina.deck.json"))
        machine.do("records", "in", studio.file(f"{name}json"))
    return studio


def places(machine: Machine, *words: object) -> list[str]:
    return [str(row["place"]) for row in machine.rows("starts", 1, *words)]


def same_record(studio: Studio, student: str, *machines: Machine) -> str:
    """What machines know of a student is the same to the byte; the text of it."""
    texts = set()
    for number, machine in enumerate(machines):
        file = studio.file(f"compared-{number}.json")
        machine.do("records", "out", file, "-s", student, "--replace")
        texts.add(file.read_text())
    assert len(texts) == 1
    return texts.pop()


def practise(machine: Machine, ago: float, outcomes: dict[int, str], *more: object) -> None:
    """Tries so many days before noon, a quarter of an hour apart."""
    for place, (number, outcome) in enumerate(outcomes.items()):
        at = NOON - ago * DAY + timedelta(minutes=15 * place)
        machine.do("record", 1, number, outcome, *more, at=at)


def test_a_movement_is_prepared_and_handed_to_nine(prepared: Studio) -> None:
    added, listed, *_, alike, _ = prepared.said
    assert f"{TITLE}: 64 bars, 15 starts. It is piece 1." in added
    assert "upbeat to b. 1 " in listed
    assert "the piece begins here" in listed
    assert places(prepared.teacher) == [
        *("upbeat to b. 1", "upbeat to b. 9", "upbeat to b. 17", "b. 29", "upbeat to b. 33"),
        *("upbeat to b. 37", "upbeat to b. 41", "upbeat to b. 49", "upbeat to b. 53"),
        "upbeat to b. 57",
    ]
    assert "1 7 the same notes" in alike
    assert "b. 45" in alike
    names = [row["student"] for row in prepared.teacher.rows("student", "list")]
    assert sorted(names) == sorted(NINE)
    for name in NINE:
        rows = prepared.teacher.rows("starts", 1, "-s", name)
        assert [row["open"] for row in rows] == [True] * 10
    # The first ending and the second stand in line, and both are on the route.
    text = prepared.file("sonatina.deck.json").read_text()
    deck = json.loads(text)["deck"]
    counted = Counter(deck["route"])
    assert [counted[start["id"]] for start in deck["starts"]][:3] == [2, 2, 2]


def test_a_small_hand_and_a_new_edition(studio: Studio) -> None:
    """Scene 2, and the deck goes on afterwards."""
    teacher, home, other = studio.teacher, studio.home, studio.other
    said = teacher.do("own", 1, 6, "--fingering", "R 1-2-4", "--tempo", "60", "-s", "K.")
    assert "for K.: own fingering R 1-2-4; tempo" in said
    teacher.do("own", 1, "--add", "13", "-s", "K.")
    teacher.do("records", "out", studio.file("K2.json"), "-s", "K.")
    assert "words on the student's own" in home.do("records", "in", studio.file("K2.json"))

    def fingering(machine: Machine, student: str, number: int = 6) -> str:
        return str(machine.told("start", "show", 1, number, "-s", student)["fingering"])

    assert [fingering(teacher, name) for name in NINE] == ["R 1-2-4", *["R 1-3-5"] * 8]
    assert (fingering(home, "K."), fingering(other, "B.")) == ("R 1-2-4", "R 1-3-5")
    # The master goes on: the fingering of 6 is another, start 8 is split, 3 gets advice.
    teacher.do("start", "finger", 1, 6, "R 1-2-5")
    teacher.do("start", "split", 1, 8, "51")
    teacher.do("start", "advise", 1, 3, "let", "the", "wrist", "go")
    teacher.do("deck", "out", 1, studio.file("second.json"))
    for machine, student, own in ((home, "K.", "R 1-2-4"), (other, "B.", "R 1-2-5")):
        shown = machine.do("deck", "in", studio.file("second.json"), "--show")
        assert "a newer version of the deck here; it changes:" in shown
        assert "new at b. 51, split from start 8" in shown
        assert "Nothing was kept." in shown
        machine.do("deck", "in", studio.file("second.json"), "--yes")
        assert fingering(machine, student) == own
        assert machine.told("start", "show", 1, 3, "-s", student)["advice"] == ["let the wrist go"]
    # K. has twelve starts, the last of which is their own; the others have eleven.
    (own_start,) = (row for row in home.rows("starts", 1) if row["place"] == "b. 13")
    assert own_start["start"] == 12
    assert (len(places(home)), len(places(other))) == (12, 11)
    assert home.rows("own", 1) == teacher.rows("own", 1, "-s", "K.")
    # The first edition again brings nobody back to it.
    code, said = home("deck", "in", studio.file("sonatina.deck.json"))
    assert code == 1
    assert "older version" in said
    assert fingering(home, "K.") == "R 1-2-4"


def test_what_was_tried_at_home_is_seen_at_the_lesson(studio: Studio) -> None:
    """Scenes 3 to 6: tries at home, another start begun instead, the page before the lesson."""
    teacher, home = studio.teacher, studio.home
    held = dict.fromkeys((1, 2, 3, 5, 6), "through")
    practise(home, 5, held)
    practise(home, 3, {**held, 4: "nothing"})
    practise(home, 1, {1: "through", 4: "nothing", 2: "through"})
    at = NOON - DAY + timedelta(hours=1)
    for minutes, outcome in ((0, "nothing"), (20, "through")):  # 4 once more, on its third try
        home.do("record", 1, 4, outcome, at=at + timedelta(minutes=minutes))
    home.do("record", 1, 7, "elsewhere", "--elsewhere", 1, at=at + timedelta(hours=1))
    assert "Start 4" in home.do("start", "show", 1, 4)
    home.do("records", "out", studio.file("from home.json"))
    said = teacher.do("records", "in", studio.file("from home.json"))
    assert "from home.json, K.: 17 attempts. " in said
    # The clock at home is a day ahead: said where tries are of tomorrow, and they are not lost.
    assert "6 attempts are dated in the future: check the clock of that computer." in said
    again = teacher.do("records", "in", studio.file("from home.json"))
    assert "nothing that is not here already" in again
    # Five minutes before the lesson.
    told = teacher.told("lesson", 1, "-s", "K.")
    assert {one["number"] for one in told["weakest"]} >= {4, 7}
    assert [one["number"] for one in told["untried"]] == [8, 9, 10]
    assert told["one_thing"]
    spoken = teacher.do("lesson", 1, "-s", "K.")
    assert "8, 9 and 10" in spoken
    # 4 was missed cold and went through later: it is no place that holds.
    stands = {one["number"]: one["stands"] for one in teacher.told("map", 1, "-s", "K.")["starts"]}
    assert stands[4] in ("weak", "fading")
    assert stands[1] == stands[2] == "holds"
    (confused,) = (row for row in teacher.rows("look-alikes", 1, "-s", "K.") if row["confused"])
    assert (confused["start"], confused["other"]) == (1, 7)
    tries = [row["outcome"] for row in teacher.rows("attempts", 1, "--start", 4, "-s", "K.")]
    assert Counter(tries) == {"nothing": 3, "through": 1}
    # The note of the lesson is the teacher's own.
    teacher.do("note", "begin 7 from the left hand", "-s", "K.")
    teacher.do("record", 1, 8, "stopped", "--teacher", "-s", "K.")
    teacher.do("records", "out", studio.file("back.json"), "-s", "K.")
    assert "left hand" not in studio.file("back.json").read_text()
    assert "K.: 1 attempt." in home.do("records", "in", studio.file("back.json"))
    assert "left hand" not in home.do("note", "-s", "K.")
    same_record(studio, "K.", teacher, home)


def test_after_the_lesson_old_numbers_stand_beside_new_ones(studio: Studio) -> None:
    """Scene 7, on both machines: 7 is split and 8 moved; every try is kept, and the sheet for the
    stand has old and new numbers."""
    teacher, home = studio.teacher, studio.home
    practise(home, 4, {7: "through", 8: "through", 9: "looked"})
    before = {row["id"]: row["start"] for row in home.rows("starts", 1)}
    teacher.do("start", "split", 1, 7, "45", at=NOON + DAY)
    teacher.do("start", "move", 1, 9, "49", at=NOON + DAY)
    teacher.do("deck", "out", 1, studio.file("second.json"))
    home.do("deck", "in", studio.file("second.json"), "--yes")
    home.do("records", "out", studio.file("K2.json"))
    teacher.do("records", "in", studio.file("K2.json"))
    for machine in (teacher, home):
        after = {row["id"]: row["start"] for row in machine.rows("starts", 1, "-s", "K.")}
        moved = {before[id_]: after[id_] for id_ in before}
        assert moved == {**{n: n for n in range(1, 8)}, 8: 9, 9: 10, 10: 11}
        tried = [row["start"] for row in machine.rows("attempts", 1, "-s", "K.")]
        assert sorted(tried) == [7, 9, 10]
        assert "b. 49" in places(machine, "-s", "K.")
        sheet = studio.file("sheet.html")
        machine.do("print", "sheet", 1, "--out", sheet, "--replace", at=NOON + DAY)
        text = sheet.read_text()
        rows = [re.sub("<[^>]*>", "|", row) for row in text.split("<tr>")]
        for old, new in ((7, 7), ("new", 8), (8, 9), (9, 10), (10, 11)):
            assert any(re.match(rf"\W*{new}\W+{old}\W", row) for row in rows), (old, new)
    same_record(studio, "K.", teacher, home)


def test_eight_weeks_before_the_recital(studio: Studio) -> None:
    """Scene 8: four pieces, one with music. The programme reaches home before the pieces do."""
    teacher, home = studio.teacher, studio.other
    files = ("mist-on-the-upper-lock", "rain-on-the-skylight", "the-heron-stands-and-looks")
    decks = [bundled("decks") / f"{name}.deck.json" for name in files]
    for deck in decks:
        teacher.do("deck", "in", deck)
    teacher.do("open", 2, "all", "-s", "B.")
    teacher.do("open", 3, "all", "-s", "B.")
    day = (NOON + 56 * DAY).date()
    teacher.do("recital", "set", "Spring concert", day, 1, 2, 3, "--with-music", 4, "-s", "B.")
    teacher.do("student", "set", "B.", "--minutes", 10)
    told = teacher.told("readiness", "-s", "B.")
    titles = [TITLE, "Mist on the Upper Lock", "Rain on the Skylight"]
    assert [row["piece"] for row in told["rows"]] == titles
    off = f"{(NOON + 20 * DAY).date()} to {(NOON + 34 * DAY).date()}"
    teacher.do("settings", "set", "off", off, "-s", "B.")
    warned = teacher.do("readiness", "-s", "B.")  # nothing is foretold before it was tried
    assert "Too early to say how many starts will hold on the recital day" in warned
    assert "likely to hold" not in warned
    assert (
        f"Four weeks before: Every start has been tried cold. Waiting for {TITLE} 1 to " in warned
    )
    teacher.do("print", "recital", "--full", "--out", studio.file("r.html"), "-s", "B.")
    assert "Spring concert" in studio.file("r.html").read_text()
    assert "The Heron Stands and Looks" in studio.file("r.html").read_text()
    teacher.do("calendar", "--out", studio.file("way.ics"), "-s", "B.")
    assert "SUMMARY:Spring concert" in studio.file("way.ics").read_text()
    # To home, where one piece is known as yet.
    teacher.do("records", "out", studio.file("B2.json"), "-s", "B.")
    home.do("records", "in", studio.file("B2.json"))
    assert len(home.rows("recital", "list")) == 1
    home.do("today")
    home.do("readiness")
    for deck in decks:
        home.do("deck", "in", deck)
    assert home.rows("readiness") == teacher.rows("readiness", "-s", "B.")
    # The recital is put off at home, and taken off the list by the teacher afterwards.
    later = day + 7 * DAY
    home.do("recital", "set", "Spring concert", later, 1, 2, 3, "--with-music", 4, at=NOON + DAY)
    home.do("records", "out", studio.file("B3.json"))
    assert "what is known of them changed" in teacher.do("records", "in", studio.file("B3.json"))
    assert "4 May" in teacher.do("recital", "list", "-s", "B.")
    same_record(studio, "B.", teacher, home)


def test_a_dress_rehearsal_the_day_before_and_afterwards(studio: Studio) -> None:
    """Scene 9: a slip at b. 41 and where it was taken up again; a short list on the day before;
    maintenance afterwards."""
    teacher, home = studio.teacher, studio.home
    day = NOON + 8 * DAY
    teacher.do("recital", "set", "Class concert", day.date(), 1, "-s", "K.")
    teacher.do("records", "out", studio.file("K2.json"), "-s", "K.")
    home.do("records", "in", studio.file("K2.json"))
    for ago in (20, 12, 6, 2):
        practise(home, ago, dict.fromkeys(range(1, 11), "through"))
    said = home.do("run", 1, typed="41:2 8\n\n", at=NOON + 2 * DAY)
    assert "One slip." in said
    home.do("records", "out", studio.file("K3.json"))
    teacher.do("records", "in", studio.file("K3.json"))
    slips = teacher.rows("slips", 1, "-s", "K.")
    (slip,) = (row for row in slips if row["broke_at"])
    assert slip["broke_at"] == "b. 41, beat 2"
    assert slip["went_on_at"] == "8, upbeat to b. 49"
    assert slip["kind"] == "run-through"
    before = teacher.do("today", "-s", "K.", at=day - DAY)
    assert "tomorrow" in before
    few = teacher.rows("today", "-s", "K.", at=day - DAY)
    assert 0 < len(few) <= 10
    assert "Class concert" not in teacher.do("today", "-s", "K.", at=day + 3 * DAY)
    assert teacher.rows("today", "-s", "K.", at=day + 30 * DAY)
    same_record(studio, "K.", teacher, home)


def test_a_pupil_who_began_alone(studio: Studio) -> None:
    """A pupil read the score alone, drilled, and then got a teacher: both entries are one person,
    the teacher's deck is beside the pupil's own, and nothing is lost."""
    teacher, alone = studio.teacher, studio.other
    alone.path = studio.folder / "other" / "alone.db"
    alone.do("add", studio.file("sonatina.musicxml"), "--learned")
    alone.do("student", "set", "me", "--minutes", 10)
    practise(alone, 9, {1: "through", 2: "looked"})
    alone.do("own", 1, 2, "--words", "think of rain")
    # The teacher's deck of the same music comes, as a piece of its own.
    said = alone.do("deck", "in", studio.file("sonatina.deck.json"))
    assert f"This music is here already, as piece 1, {TITLE}: that one keeps its own" in said
    alone.do("open", 2, "1-3")
    alone.do("record", 2, 1, "through", at=NOON - 2 * DAY)
    # To the teacher, who has an entry for this pupil already, with a try of a lesson.
    teacher.do("record", 1, 2, "stopped", "--teacher", "-s", "E.")
    alone.do("records", "out", studio.file("me.json"))
    assert "a new student here" in teacher.do("records", "in", studio.file("me.json"))
    assert "me is E. now" in teacher.do("records", "combine", "me", "E.")
    assert sorted(row["student"] for row in teacher.rows("student", "list")) == sorted(NINE)
    assert len(teacher.rows("attempts", "-s", "E.")) == 4
    # And back: it needs the pupil's word, on which nothing is taken in before.
    teacher.do("records", "out", studio.file("E.json"), "-s", "E.")
    code, said = alone("records", "in", studio.file("E.json"))
    assert code == 1
    assert 'combines the entries "me" and "E."' in said
    assert "--join" in said
    assert [row["student"] for row in alone.rows("student", "list")] == ["me"]
    alone.do("records", "in", studio.file("E.json"), "--join")
    assert [row["student"] for row in alone.rows("student", "list")] == ["E."]
    assert len(alone.rows("attempts")) == 4
    assert "think of rain" in alone.do("own", 1)
    # The pupil's own deck goes to the teacher, who sees its tries then.
    alone.do("deck", "out", 1, studio.file("own deck.json"))
    teacher.do("deck", "in", studio.file("own deck.json"))
    assert len(teacher.rows("attempts", 2, "-s", "E.")) == 2
    same_record(studio, "E.", teacher, alone)
    # Two after all: the word is taken back, and travels as well.
    teacher.do("records", "separate", "me")
    teacher.do("records", "out", studio.file("E2.json"), "-s", "E.")
    assert len(teacher.rows("student", "list")) == len(NINE) + 1


def test_conflicted_copies_in_a_watched_folder(studio: Studio) -> None:
    """Both sides write into one synchronised folder, which makes copies of its own and shows files
    half written; nothing is lost, doubled or taken from a stranger's file."""
    teacher, home = studio.teacher, studio.home
    shared = studio.folder / "shared"
    shared.mkdir()
    practise(home, 3, {1: "through"})
    home.do("records", "out", shared / "K.json")
    old = (shared / "K.json").read_bytes()
    practise(home, 2, {2: "looked", 3: "through"})
    home.do("own", 1, 3, "--words", "slower", at=NOON - 2 * DAY)
    home.do("records", "out", shared / "K.json", "--replace")
    (shared / "K (conflicted copy of the laptop).json").write_bytes(old)
    teacher.do("record", 1, 4, "stopped", "--teacher", "-s", "K.")
    teacher.do("records", "out", shared / "K.sync-conflict-20260302.json", "-s", "K.")
    (shared / "K~1.json").write_bytes(old[: len(old) // 2])
    (shared / "sonatina.deck.json").write_bytes(studio.file("sonatina.deck.json").read_bytes())
    (shared / "notes.txt").write_text("not a record")
    said = teacher.do("records", "watch", shared, "--once")
    assert "K~1.json is incomplete" in said
    assert "K.json, K.: 2 attempts" in said or "K.json, K.: 3 attempts" in said
    assert home.do("records", "watch", shared, "--once").count("K.: 1 attempt") == 1
    same_record(studio, "K.", teacher, home)
    assert teacher.do("records", "watch", shared, "--once") == "K~1.json is incomplete; it " + (
        "will be read again when it changes."
    )
    # The half file becomes whole: an old one, which takes nothing back.
    (shared / "K~1.json").write_bytes(old)
    assert teacher.do("records", "watch", shared, "--once") == ""
    assert Counter(row["start"] for row in teacher.rows("attempts", 1, "-s", "K.")) == {
        1: 1, 2: 1, 3: 1, 4: 1,
    }  # fmt: skip


def test_a_student_leaves(studio: Studio) -> None:
    """Scene 10: the record goes along, the student is erased, and no file brings them back."""
    teacher, home = studio.teacher, studio.home
    practise(home, 3, {1: "through", 2: "looked"})
    home.do("own", 1, 2, "--words", "like glass", at=NOON - 2 * DAY)
    home.do("records", "out", studio.file("K2.json"))
    teacher.do("records", "in", studio.file("K2.json"))
    teacher.do("record", 1, 3, "through", "--teacher", "-s", "K.")
    teacher.do("note", "K. moves to the coast in May", "-s", "K.")
    teacher.do("lesson", "-s", "K.")
    teacher.do("studio")
    teacher.do("backup", "make")
    others = [teacher.rows("starts", 1, "-s", name) for name in NINE[1:]]
    last = studio.file("last.json")
    assert "Erase K. and 3 attempts for good?" in teacher("erase", "K.", typed="n\n")[1]
    assert "K." in teacher.do("student", "list")
    said = teacher.do("erase", "K.", "--yes", "--out", last)
    assert "Erased for good: 3 attempts" in said
    everything = b"".join(
        file.read_bytes() for file in (studio.folder / "teacher").rglob("*") if file.is_file()
    )
    for trace in (b'"K."', b"to the coast", b"like glass"):
        assert trace not in everything
    # The others have all they had.
    assert [row["student"] for row in teacher.rows("student", "list")] == list(NINE[1:])
    assert [teacher.rows("starts", 1, "-s", name) for name in NINE[1:]] == others
    # No file brings K. back, by hand or from a watched folder, nor does a backup.
    shared = studio.folder / "shared"
    shared.mkdir()
    for file in (last, studio.file("K2.json"), studio.file("K.json")):
        code, said = teacher("records", "in", file)
        assert code == 1
        assert "erased for good" in said
        shutil.copy(file, shared)
    assert teacher.do("records", "watch", shared, "--once").count("erased for good") == 3
    teacher.do("backup", "restore", 1, "--yes")
    assert "K." not in [row["student"] for row in teacher.rows("student", "list")]
    assert teacher.told("check")["sound"]
    # K. has all of it at home, and on a new machine.
    new = Machine(studio.folder / "new.db", zone=0)
    home.do("records", "in", last)
    new.do("deck", "in", studio.file("sonatina.deck.json"))
    new.do("records", "in", last)
    assert len(new.rows("attempts")) == 3
    assert "like glass" in new.do("own", 1)
    assert [row["open"] for row in new.rows("starts", 1)] == [True] * 10
    assert "to the coast" not in last.read_text()
    same_record(studio, "K.", home, new)


def test_a_singer_hears_who_gives_the_entry(studio: Studio) -> None:
    """Scene 10: the teacher says who gives a singer's entry; on the pupil's machine it is read by
    a screen reader, in German note names."""
    teacher, other = studio.teacher, studio.other
    teacher.do("deck", "in", bundled("decks") / "the-late-ferry.deck.json")
    teacher.do("start", "cue", 2, 3, "the piano alone, then breathe")
    teacher.do("deck", "out", 2, studio.file("song.json"))
    bare = studio.file("bare.json")
    teacher.do("deck", "out", 2, bare, "--without-notes")
    assert '"lyric"' not in bare.read_text()
    other.do("deck", "in", studio.file("song.json"))
    other.do("settings", "set", "names", "german")
    shown = other.told("start", "show", 2, 3)
    assert "the piano alone, then breathe" in json.dumps(shown)
    spoken = other.do("start", "show", 2, 3, "--spoken")
    assert "the piano alone, then breathe" in spoken
    other.do("close", 1, "all", at=NOON + DAY)  # later than the teacher has opened them
    other.do("open", 2, 3, at=NOON + DAY)
    drilled = other.do("drill", "--plain", typed="h\n" * 7 + "t\nq\n", at=NOON + DAY)
    assert "Hint, words" in drilled
    assert "Hint, cue: the piano alone, then breathe" in drilled
    page = other.do("page", 2, 3, "--spoken")
    assert re.search(r"\bB \d", page)
    assert "flat" not in page
    assert not set(page) & set("│┃█▓▒░")
