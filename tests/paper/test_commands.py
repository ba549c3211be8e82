"""The commands that make files: each kind, on the disk whole, refusals in one sentence."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.command import Run, runner
from tests.paper.build import HOSTILE, read, study
from tests.pieces import today
from trainer.deck.file import write_deck


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs `trainer WORDS` on a database with one piece, in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    run = runner(tmp_path, monkeypatch, capsys)
    Path("air.deck.json").write_text(write_deck(study("a", "Air")))
    assert run("deck", "in", "air.deck.json")[0] == 0
    assert run("student", "add", "M.")[0] == 0
    assert run("open", "1", "all")[0] == 0
    return run


def test_each_page_is_written(run: Run) -> None:
    assert run("recital", "set", "Concert", "2199-06-21", "1")[0] == 0
    for words in (("sheet", "1"), ("recital",), ("recital", "--full"), ("term",), ("lesson",)):
        code, out, err = run("print", *words, "--out", "page.html", "--replace")
        assert (code, out, err) == (0, "Written to page.html.\n", "")
        root = read(Path("page.html").read_text())
        assert root.all("h1")
    dated = ("print", "lesson", "1", "--since", "5 Jan 2026", "--out", "l.html")
    assert run(*dated) == (0, "Written to l.html.\n", "Since Monday 5 January 2026.\n")
    assert (
        run("print", "term", "--from", "2020-01-01", "--to", "2020-03-01", "--out", "t.html")[0]
        == 0
    )
    assert "1 January 2020 to" in Path("t.html").read_text()


def test_the_paper_is_the_printer_s_or_the_one_named(run: Run) -> None:
    assert run("print", "sheet", "1", "--out", "a.html")[0] == 0
    assert run("print", "sheet", "1", "--out", "b.html", "--paper", "letter")[0] == 0
    assert "size: letter" in Path("b.html").read_text()
    assert "size: letter" not in Path("a.html").read_text()


def test_old_numbers_come_from_the_history(run: Run) -> None:
    assert run("start", "remove", "1", "2")[0] == 0
    assert run("print", "sheet", "1", "--out", "a.html")[0] == 0
    assert "old number" not in Path("a.html").read_text()  # made and corrected on one day
    day = today().isoformat()
    assert run("print", "sheet", "1", "--since", day, "--out", "b.html")[0] == 0
    root = read(Path("b.html").read_text())
    body = root.all("tbody")[0]
    assert [[c.text for c in row.all("th", "td")[:2]] for row in body.all("tr")] == [
        ["1", "1"], ["2", "3"], ["3", "4"],
    ]  # fmt: skip


def test_a_student_s_and_the_piece_s_own_sheet(run: Run) -> None:
    assert run("student", "add", "K.")[0] == 0
    assert run("print", "sheet", "1", "--out", "a.html")[0] == 0
    assert run("print", "sheet", "1", "-s", "K.", "--out", "b.html")[0] == 0
    assert run("print", "sheet", "1", "-s", "Q.", "--out", "c.html")[0] == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("print", "sheet", "1", "--out", "a.txt"), "end the name in .html or .pdf"),
        (("print", "sheet", "1", "--out", "."), "end the name in .html or .pdf"),
        (("print", "sheet", "1", "--out", "t.db"), "end the name in .html or .pdf"),
        (("print", "sheet", "1", "--out", "none/a.html"), "cannot be written"),
        (("print", "sheet", "7", "--out", "a.html"), "piece"),
        (("print", "sheet", "1", "--since", "May", "--out", "a.html"), "is not a date"),
        (("print", "recital", "--out", "a.html"), "No recital is set"),
        (("print", "term", "--from", "2026-02-01", "--to", "2026-01-01", "--out", "a.html"),
         "is after"),
        (("print", "lesson", "--since", "x", "--out", "a.html"), "is not a date"),
        (("calendar", "--out", "a.ics"), "No recital is set"),
        (("calendar", "--out", "a.html"), "end the name in .ics"),
    ],
)  # fmt: skip
def test_a_refusal_is_one_sentence_and_leaves_no_file(
    run: Run, words: tuple[str, ...], said: str
) -> None:
    before = set(Path().iterdir())
    code, out, err = run(*words)
    assert code != 0
    assert out == ""
    assert said in err
    assert err.count("\n") == 1
    assert "Traceback" not in err
    assert set(Path().iterdir()) == before


def test_a_file_that_is_there_is_kept(run: Run) -> None:
    Path("a.html").write_text("mine")
    code, _, err = run("print", "sheet", "1", "--out", "a.html")
    assert code == 1
    assert "--replace" in err
    assert Path("a.html").read_text() == "mine"


def test_without_the_extra_a_pdf_is_refused(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    code, _, err = run("print", "sheet", "1", "--out", "a.pdf")
    assert code == 1
    assert "without the extra `pdf`" in err
    assert not Path("a.pdf").exists()


def test_a_pdf_is_written_where_the_extra_is(run: Run) -> None:
    try:
        import weasyprint  # noqa: F401
    except (ImportError, OSError):
        pytest.skip("the extra pdf is not installed")
    assert run("print", "sheet", "1", "--out", "a.PDF")[0] == 0
    assert Path("a.PDF").read_bytes().startswith(b"%PDF-")


def test_the_calendar_is_written_with_its_line_ends(run: Run) -> None:
    assert run("recital", "set", HOSTILE.replace("\x00", ""), "2199-06-21", "1")[0] == 0
    code, out, _ = run("calendar", "--out", "way.ics")
    assert code == 0
    assert out == "5 events written to way.ics.\n"
    made = Path("way.ics").read_bytes()
    assert made.count(b"\r\n") == made.count(b"\n") == made.count(b"\r") > 20
    assert b"\x1b" not in made
