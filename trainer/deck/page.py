"""Which bars the page of a start shows."""

from __future__ import annotations

from fractions import Fraction

from trainer.deck.model import Piece, Start
from trainer.score.cite import leads_into, whole


def page_span(piece: Piece, start: Start) -> tuple[Fraction, Fraction]:
    """From the start to the bar line before the next start, in ql; it shows no note of the
    next start, which may be called soon. A phrase within one bar is shown to its end."""
    end = piece.end_of(start)
    barline = piece.score.bar_at(end).start if end < piece.score.end else end
    return start.onset, barline if barline > start.onset else end


def before_join(piece: Piece, start: Start) -> Fraction:
    """Where to begin so as to practise the join alone: a bar before the next start, but not
    before the phrase's own beginning."""
    end = piece.end_of(start)
    if end >= piece.score.end:
        last = piece.score.bars[-1]
        return max(start.onset, last.start)
    following = leads_into(piece.score, end).index
    return max(start.onset, piece.score.bars[max(0, following - 1)].start)


def leads_to(piece: Piece, start: Start) -> Start | None:
    """The start that a join leads into: the one where the phrase ends, if the route goes on there,
    else the first that the route goes on with; None at the end of the piece."""
    following = piece.deck.following(start.id)
    after = [one for one in piece.deck.starts if one.id in following]
    end = piece.end_of(start)
    return next((one for one in after if one.onset == end), after[0] if after else None)


def join_span(piece: Piece, start: Start) -> tuple[Fraction, Fraction]:
    """The join alone, in ql: from the bar before the next start into its first beat."""
    end = piece.end_of(start)
    beat = piece.score.bar_at(end).meter.beat if end < piece.score.end else Fraction(0)
    return before_join(piece, start), min(end + beat, piece.score.end)


def opening_span(piece: Piece, start: Start, bars: int) -> tuple[Fraction, Fraction]:
    """The first printed bars of the page of a start, in ql, at least one. An upbeat goes with
    the bar it leads into."""
    score = piece.score
    begin, end = page_span(piece, start)
    last = whole(score, leads_into(score, begin))
    for _ in range(bars - 1):
        last = whole(score, score.bars[min(last.index + 1, len(score.bars) - 1)])
    return begin, min(end, last.end)
