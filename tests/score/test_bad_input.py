"""Files that are not a score, or do harm: each ends in one sentence, soon, through `read_score`."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import time
import zipfile
from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.score.mutants import FORMATS, cost, mutant
from tests.score.test_formats import ABC as MINUET
from tests.score.test_formats import KERN, MEI, PITCHES, THREE_FOUR, midi, midi_notes
from tests.score.written import bar, note, score
from trainer.errors import TrainerError
from trainer.score.read import Limits, read_score

GOOD = score([bar("C4/1 D4/1 E4/1 F4/1", time="4/4")], title="Good")
CONTAINER = '<container><rootfiles><rootfile full-path="{}"/></rootfiles></container>'
BOMB = "<!DOCTYPE score-partwise [" + "".join(
    f"<!ENTITY a{i + 1} '{f'&a{i};' * 10}'>" for i in range(9)
)


def packed(inside: Mapping[str, str | bytes], way: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A zip file, packed in this way."""
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w", way) as archive:
        for name, text in inside.items():
            archive.writestr(name, text)
    return memory.getvalue()


def mxl(
    root: str = "score.xml",
    text: str | bytes = GOOD,
    way: int = zipfile.ZIP_DEFLATED,
    more: Mapping[str, str | bytes] = {},
) -> bytes:
    return packed({"META-INF/container.xml": CONTAINER.format(root), root: text, **more}, way)


def encrypted() -> bytes:
    data = bytearray(mxl())
    for start in (b"PK\x03\x04", b"PK\x01\x02"):
        place = data.find(start)
        data[place + (6 if start.endswith(b"\x04") else 8)] |= 1
    return bytes(data)


UNPITCHED = (
    note("C4/4")
    .replace("pitch>", "unpitched>")
    .replace("step>", "display-step>")
    .replace("octave>", "display-octave>")
    .replace("<alter>0</alter>", "")
)

ABC = "X:1\nM:{}\nL:1/4\nK:C\n{}|CDEF|CDEF|\n"


def spoilt_within() -> bytes:
    """An .mxl file whose packed data are wrong although its directory is right."""
    data = bytearray(mxl())
    for place in range(data.index(b"score.xml") + 9, data.index(b"PK\x01\x02"), 5):
        data[place] ^= 0x55
    return bytes(data)


BAD: dict[str, tuple[str, str | bytes, str]] = {
    "empty": ("a.musicxml", "", "is empty"),
    "blank": ("a.abc", " \n\n", "is empty"),
    "zeros": ("a.mid", b"\0" * 100, "is empty"),
    "binary": ("a.musicxml", bytes(range(256)) * 20, "not a score"),
    "truncated": ("a.musicxml", GOOD[: len(GOOD) // 2], "cannot be read"),
    "truncated midi": (
        "a.mid",
        b"MThd\0\0\0\6\0\1\0\1\0\x60MTrk\0\0\xff\xff\0",
        "no notes",
    ),
    "truncated mxl": ("a.mxl", mxl()[:200], "damaged"),
    "mxl spoilt within": ("a.mxl", spoilt_within(), "damaged"),
    "mxl packed by another way": ("a.mxl", mxl(way=zipfile.ZIP_LZMA), "compressed in a way"),
    "endless note": ("a.abc", ABC.format("4/4", "C99999999"), "which no music has"),
    "endless rest": ("a.abc", ABC.format("1/64", "z9999"), "which no music has"),
    "endless notes without bar lines": ("a.abc", ABC.format("4/4", "C")[:-12] + "C99999", "bars"),
    "metre of thousands": ("a.abc", ABC.format("9999/4", "C"), "which no music has"),
    "endless midi note": ("a.mid", midi(midi_notes((60, 16383)) * 30, division=1), "bars"),
    "pdf": ("a.musicxml", b"%PDF-1.7 ...", "is a PDF"),
    "encrypted pdf": ("a.pdf", b"%PDF-1.7 /Encrypt 5 0 R", "is encrypted and a PDF"),
    "picture": ("a.xml", b"\x89PNG\r\n\x1a\n" + b"x" * 50, "a picture"),
    "prose": ("a.xml", "Dear all,\nthe recital is on Friday.\n", "not a score"),
    "other xml": ("a.xml", "<html><body>no</body></html>", "neither MusicXML nor MEI"),
    "no notes": ("a.xml", score([bar("r/4", time="4/4")]), "has no notes"),
    "no bars": ("a.xml", score([]), "has no notes"),
    "no parts": ("a.xml", score(), "has no notes"),
    "unpitched": ("a.xml", score([bar("", time="4/4", before=UNPITCHED)]), "only unpitched notes"),
    "absurd": ("a.xml", score([bar("C4/9999999999", time="4/4")]), "impossible"),
    "negative": ("a.xml", GOOD.replace("<duration>840<", "<duration>-840<"), "impossible"),
    "endless": ("a.xml", GOOD.replace("<duration>840<", "<duration>inf<"), "cannot be read"),
    "huge metre": ("a.xml", GOOD.replace("<beats>4", "<beats>999999999"), "which no music has"),
    "no divisions": ("a.xml", GOOD.replace("<divisions>840", "<divisions>0"), "a.xml"),
    "entities": ("a.xml", f"<?xml version='1.0'?>{BOMB}]><score-partwise/>", "XML entities"),
    "grace notes without a metre": (
        "a.xml",
        score([bar("C4/1"), bar("C4/g", 2)]),
        "cannot be read as MusicXML",
    ),
    "packed entities": ("a.mxl", mxl(text=f"{BOMB}]><score-partwise/>"), "XML entities"),
    "zip bomb": ("a.mxl", mxl(text=b"<score-partwise>" + b" " * 60_000_000), "would unpack"),
    "ratio": ("a.mxl", mxl(text=b"<score-partwise>" + b" " * 9_000_000), "would unpack"),
    "path": ("a.mxl", mxl(root="../../score.xml"), "points outside"),
    "absolute path": ("a.mxl", mxl(more={"/etc/score.xml": GOOD}), "points outside"),
    "no container": ("a.mxl", packed({"readme.txt": "hello"}), "without a MusicXML score"),
    "no root": ("a.mxl", packed({"META-INF/container.xml": "<container/>"}), "without a score"),
    "encrypted": ("a.mxl", encrypted(), "is encrypted"),
    "kern without data": ("a.krn", "**kern\n*-\n", "a.krn"),
    "abc without notes": ("a.abc", "X:1\nT:Nothing\nK:C\n", "a.abc"),
    "mei without notes": ("a.mei", "<mei xmlns='http://www.music-encoding.org/ns/mei'/>", "a.mei"),
}


@pytest.mark.parametrize("what", BAD)
def test_bad_files_end_in_one_sentence(what: str, tmp_path: Path) -> None:
    name, content, words = BAD[what]
    path = tmp_path / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    begun = time.monotonic()
    with pytest.raises(TrainerError) as caught:
        read_score(path)
    assert time.monotonic() - begun < 20
    sentence = str(caught.value)
    assert words in sentence
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert "Traceback" not in sentence
    assert len(sentence) < 300


METRES = "".join(f"M:{200 - n}/4\nC{200 - n}|" for n in range(60))


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.abc", f"X:1\nL:1/4\nK:C\n{METRES}\n"),  # each metre is allowed, all are too many
        ("a.musicxml", "<score-partwise>" + "<a/>" * 12_000_000 + "</score-partwise>"),
    ],
)
def test_what_nobody_foresaw_ends_at_the_limits_of_its_size(
    name: str, content: str, tmp_path: Path
) -> None:
    pytest.importorskip("resource")
    path = tmp_path / name
    path.write_text(content)
    found = cost(path)
    assert "than its size allows" in found.said
    assert found.cpu < 20
    assert found.megabytes < 700


@given(st.integers(0, 400_000), st.integers(0, 400_000))
def test_more_notes_may_cost_more_and_never_more_than_the_most(one: int, other: int) -> None:
    few, many = sorted((one, other))
    least, most = Limits().suiting(few), Limits().suiting(many)
    assert least.seconds <= most.seconds <= Limits().seconds
    assert least.memory <= most.memory <= Limits().memory
    if many <= 20_000:
        assert (most.seconds <= 20, most.memory <= 700) == (True, True)


SOUND = {
    "musicxml": GOOD.encode(),
    "mxl": GOOD.encode(),
    "mid": midi(THREE_FOUR, midi_notes(*((pitch, 96) for pitch in PITCHES))),
    "abc": MINUET.encode(),
    "krn": KERN.encode(),
    "mei": MEI.encode(),
}


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("seed", ["1", "2"])
def test_spoilt_scores_are_read_or_refused_in_one_sentence(
    kind: str, seed: str, tmp_path: Path
) -> None:
    """A thousand spoilt real scores are read by `tests.benchmarks.read_mutants`."""
    path = tmp_path / f"a.{kind}"
    path.write_bytes(mutant(SOUND[kind], kind, seed + kind))
    found = cost(path)
    assert not found.fault
    assert (found.cpu < 20, found.megabytes < 700) == (True, True)


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    with pytest.raises(TrainerError, match="was not found"):
        read_score(tmp_path / "none.xml")
    with pytest.raises(TrainerError, match="is a folder"):
        read_score(tmp_path)


def test_a_name_with_control_characters_is_shown_without_them(tmp_path: Path) -> None:
    with pytest.raises(TrainerError) as caught:
        read_score(tmp_path / "a\x1b[31m\u202eb.xml")
    assert str(caught.value).startswith("a[31mb.xml was not found")


def test_a_lying_zip_entry_is_not_believed(tmp_path: Path) -> None:
    """The sizes of the directory are what may be unpacked, not what the data would give."""
    data = mxl(text=b"<score-partwise>" + b" " * 2_000_000)
    real = (2_000_016).to_bytes(4, "little")
    path = tmp_path / "a.mxl"
    path.write_bytes(data.replace(real, (500).to_bytes(4, "little")))
    with pytest.raises(TrainerError, match="damaged"):
        read_score(path)


def test_more_notes_than_allowed_are_refused_before_reading(tmp_path: Path) -> None:
    path = tmp_path / "many.musicxml"
    many = [bar("C4/0.25 " * 16, number, time="4/4") for number in range(1, 30)]
    path.write_text(score(many))
    with pytest.raises(TrainerError, match="about 464 notes, more than the 100 allowed"):
        read_score(path, limits=Limits(notes=100))


def test_a_reading_that_takes_too_long_is_stopped(tmp_path: Path) -> None:
    path = tmp_path / "slow.musicxml"
    path.write_text(score([bar("C4/0.25 " * 16, n, time="4/4") for n in range(1, 1500)]))
    with pytest.raises(TrainerError, match=r"took longer than 0\.5 s"):
        read_score(path, limits=Limits(seconds=0.5))


def test_a_reading_that_needs_too_much_memory_is_stopped(tmp_path: Path) -> None:
    pytest.importorskip("resource")
    path = tmp_path / "metre.musicxml"
    path.write_text(GOOD)
    with pytest.raises(TrainerError, match="memory"):
        read_score(path, limits=Limits(memory=60))


def test_a_good_file_gives_its_score_and_says_how_far_it_is(tmp_path: Path) -> None:
    path = tmp_path / "good.mxl"
    path.write_bytes(mxl())
    phases: list[str] = []
    found = read_score(path, progress=phases.append)
    assert (found.title, len(found.notes), found.source) == ("Good", 4, "good.mxl")
    assert phases == ["opening the file", "loading the reader", "reading 4 notes"]


def test_a_caller_that_breaks_off_leaves_no_process(tmp_path: Path) -> None:
    path = tmp_path / "good.musicxml"
    path.write_text(GOOD)

    def stop(phase: str) -> None:
        if phase.startswith("reading"):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        read_score(path, progress=stop)


def test_reading_never_loads_music21_into_the_caller(tmp_path: Path) -> None:
    path = tmp_path / "good.musicxml"
    path.write_text(GOOD)
    code = (
        "import sys; from pathlib import Path; from trainer.score.read import read_score;"
        "score = read_score(Path(sys.argv[1]));"
        "print(score.title, 'music21' in sys.modules, 'numpy' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)],
        capture_output=True,
        text=True,
        check=True,
        env=dict(os.environ, HOME=str(tmp_path / "home"), PYTHONPATH=os.pathsep.join(sys.path)),
    )
    assert done.stdout.split() == ["Good", "False", "False"]
    assert [file.name for file in tmp_path.iterdir()] == ["good.musicxml"]
