"""What was heard, on the written page: signs before the notes that went wrong, and outside the
staff what was played there. What has to do with time stands on the ruler.

                 ×F   (+A)
 ┃──── G♯ ──────×F♯══════════ G♯ ──
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator, Sequence
from fractions import Fraction
from textwrap import wrap

from trainer.deck.model import Piece
from trainer.draw.layout import Drawing, Remark, Remarks, Spot, Style
from trainer.draw.names import written
from trainer.draw.page import Form, drawing
from trainer.draw.text import cut
from trainer.draw.window import Head, Moment, altered, window
from trainer.listen.model import Mark, Verdict
from trainer.score.key import spelled
from trainer.score.model import Bar, Score
from trainer.values import Frozen

_SIGNS: dict[str, str] = {"wrong": "×", "missed": "!", "extra": "+"}
_SIGNS |= {"again": "«", "left": "»", "waited": "…", "ended": "■"}
_LEGEND: dict[str, tuple[str, str]] = {
    "wrong": ("× wrong", "× wrong"),
    "missed": ("! missed", "! missed"),
    "extra": ("+ extra", "+ extra"),
    "earlier": ("( ) at first", "() first"),
    "again": ("« begun again", "« back"),
    "left": ("» went elsewhere", "» left"),
    "waited": ("… hesitated", "… wait"),
    "ended": ("■ ended", "■ end"),
}
_STACK = 4  # names over or under one place
_ASTRAY = 10  # and of notes before the beginning
_APART = 6  # semitones from the written note beyond which a name carries its octave


class HeardPage(Frozen, frozen=True):
    """Lines of text, the last of them the legend, and where in them things of some kind stand.

    The kinds are "wrong", "missed", "extra", "earlier" (extra in a playing that was left and gone
    over again), "again", "left", "waited", "ended", each with its sign in the text; and "quiet":
    notes that were not played, or stand before the start."""

    lines: tuple[str, ...]
    spots: tuple[Spot, ...]


def heard_page(verdict: Verdict, piece: Piece, style: Style, *, form: Form = "staff") -> HeardPage:
    """The bars that were gone through, with what was heard in them; bars far from each other, as
    after a jump, one after the other. Empty where nothing of the piece was recognised. Raises
    TrainerError as `page` does."""
    score = piece.score
    places = {float(note.onset): note.onset for note in score.notes}
    at: dict[Fraction, list[Mark]] = defaultdict(list)
    for mark in verdict.marks:
        if mark.onset is not None:
            at[places[mark.onset]].append(mark)
    if not at:
        return HeardPage((), ())
    happened = _happened(verdict, sorted(at), places)
    home = piece.deck.start(verdict.played).onset
    drawn = Drawing((), ())
    for first, end in _passages(score, sorted(at)):
        same_bar = first <= home < score.bar_at(first).end
        entry = home if same_bar else first
        remarks = _remarks(score, at, happened, (entry, end), style)
        drawn = drawn.then(drawing(score, entry, end, style, form=form, remarks=remarks))
    played = {(onset, mark.pitch) for onset, marks in at.items() for mark in marks}
    spots = [
        *drawn.spots,
        *(
            Spot(one.line, one.column, one.cells, "quiet")
            for one in drawn.placed
            if one.head.struck and (one.before or (one.head.onset, one.head.pitch) not in played)
        ),
    ]
    page = HeardPage(drawn.lines, tuple(spots))
    return _with_legend(_with_astray(page, verdict, score, style), style)


def _passages(score: Score, onsets: Sequence[Fraction]) -> Iterator[tuple[Fraction, Fraction]]:
    """From the first of some places to the end of the last one's bar, for each run of bars; a bar
    or two between them belong to the run."""
    first = before = onsets[0]
    for onset in onsets[1:]:
        if score.bar_at(onset).index > score.bar_at(before).index + 3:
            yield first, score.bar_at(before).end
            first = onset
        before = onset
    yield first, score.bar_at(before).end


def _happened(
    verdict: Verdict, gone: Sequence[Fraction], places: dict[float, Fraction]
) -> dict[Fraction, tuple[Remark, ...]]:
    """What happened in time, by the place after which it did: begun again, went on elsewhere,
    hesitated, ended."""
    found: dict[Fraction, dict[str, None]] = defaultdict(dict)
    for pause in verdict.pauses:
        before = bisect_left(gone, places[pause.onset]) - 1
        if before >= 0:
            found[gone[before]]["waited"] = None
    for left in verdict.left:
        if left is not None:
            found[places[left]]["again"] = None
    if verdict.jump and verdict.broke_at is not None:
        found[places[verdict.broke_at]]["left"] = None
    if verdict.reached is not None and verdict.reached < max(places):
        found[places[verdict.reached]]["ended"] = None
    return {
        onset: tuple(Remark(_SIGNS[kind], kind) for kind in kinds) for onset, kinds in found.items()
    }


def _remarks(
    score: Score,
    at: dict[Fraction, list[Mark]],
    happened: dict[Fraction, tuple[Remark, ...]],
    span: tuple[Fraction, Fraction],
    style: Style,
) -> Remarks:
    """All that is said of one passage."""
    heads: dict[tuple[Fraction, int], Remark] = {}
    beside: dict[tuple[Fraction, int], list[tuple[int, Remark]]] = defaultdict(list)
    for moment in window(score, *span).moments:
        marks = at.get(moment.onset, ())
        for mark in marks:
            if mark.kind in ("wrong", "missed"):
                heads[moment.onset, mark.pitch] = Remark(_SIGNS[mark.kind], mark.kind)
            near = _nearest(moment, mark)
            if near is None or mark.kind in ("right", "missed"):
                continue
            pitch = mark.pitch if mark.instead is None else mark.instead
            text = _SIGNS[mark.kind] + _name(pitch, near, moment.bar, style)
            remark = Remark(text, mark.kind)
            if mark.earlier:
                remark = Remark(f"({text})", "earlier")
            beside[moment.onset, near.staff].append((pitch, remark))
    return Remarks(heads, {place: _stack(some) for place, some in beside.items()}, happened)


def _nearest(moment: Moment, mark: Mark) -> Head | None:
    """The written note that a mark is about, or of an extra one the nearest that sounds then."""
    struck = [head for head in moment.heads if head.struck]
    heads = struck if mark.kind != "extra" else [*moment.heads, *moment.carried]
    return min(heads, key=lambda head: (abs(head.pitch - mark.pitch), head.staff), default=None)


def _stack(some: list[tuple[int, Remark]]) -> tuple[Remark, ...]:
    """From the lowest up, the uppermost few only where there are too many."""
    ordered = [remark for _, remark in sorted(some, key=lambda pair: (pair[0], pair[1].text))]
    if len(ordered) <= _STACK:
        return tuple(ordered)
    return (Remark(_SIGNS["extra"] + "…", "extra"), *ordered[1 - _STACK :])


def _name(pitch: int, near: Head, bar: Bar, style: Style) -> str:
    """A played note as it would be written there; with its octave where it is far from the written
    one."""
    sounding = near.pitch - 12 * (near.octave + 1) - "C.D.EF.G.A.B".index(near.step) - near.alter
    far = abs(pitch - near.pitch) > _APART
    return _spelling(pitch - sounding, bar, style, octave=far)


def _spelling(pitch: int, bar: Bar, style: Style, *, octave: bool) -> str:
    step, alter = spelled(pitch % 12, bar.fifths)
    number = (pitch - alter) // 12 - 1 if octave else None
    natural = not alter and altered(bar, step)
    return written(step, alter, number, names=style.names, ascii=style.ascii, natural=natural)


def _with_astray(page: HeardPage, verdict: Verdict, score: Score, style: Style) -> HeardPage:
    """A line before the page with the notes from before the beginning."""
    astray = [mark for mark in verdict.marks if mark.onset is None]
    if not astray:
        return page
    bar = score.bars[0]
    names = [f"+{_spelling(mark.pitch, bar, style, octave=True)}" for mark in astray[:_ASTRAY]]
    text = " ".join(["Before the beginning:", *names, *["+…"] * (len(astray) > _ASTRAY)])
    text = cut(style.ink(text), style.width, ascii=style.ascii)
    spots = (Spot(0, 0, len(text), "extra"), *(spot.moved(2, 0) for spot in page.spots))
    return HeardPage((text, "", *page.lines), spots)


def _with_legend(page: HeardPage, style: Style) -> HeardPage:
    """The page, and under it the signs that occur in it."""
    kinds = {spot.kind for spot in page.spots}
    if "earlier" in kinds:
        kinds.add("extra")
    told = [words for kind, words in _LEGEND.items() if kind in kinds]
    if not told:
        return HeardPage((*page.lines, "", "All that was played is as written."), page.spots)
    tries = ("   ".join(long for long, _ in told), "  ".join(short for _, short in told))
    line = next((line for line in tries if len(line) <= style.width), " ".join(s for _, s in told))
    lines = [line] if len(line) <= style.width else wrap(line, style.width)
    return HeardPage((*page.lines, "", *map(style.ink, lines)), page.spots)
