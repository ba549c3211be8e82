"""Places of a score in words, as printed music is cited: "b. 12, beat 3"."""

from __future__ import annotations

from fractions import Fraction

from trainer.score.model import Bar, Score
from trainer.values import Frozen


class Words(Frozen, frozen=True):
    """The words for places; British by default, American on request."""

    bar: str = "b."
    bars: str = "bb."
    beat: str = "beat"
    upbeat: str = "upbeat to"


BRITISH = Words()
AMERICAN = Words(bar="m.", bars="mm.", upbeat="pickup to")

_ORDINALS = {1: "1st", 2: "2nd", 3: "3rd"}


def ordinal(number: int) -> str:
    return _ORDINALS.get(number, f"{number}th")


def beat_token(beat: Fraction) -> str:
    """A beat as printed: "3", "2½", or "2+1/3" where no short sign exists."""
    whole, rest = divmod(beat, 1)
    if not rest:
        return str(whole)
    sign = {Fraction(1, 2): "½", Fraction(1, 4): "¼", Fraction(3, 4): "¾"}.get(rest)
    return f"{whole}{sign}" if sign else f"{whole}+{rest}"


def place(score: Score, onset: Fraction, *, time: int = 0, words: Words = BRITISH) -> str:
    """A place: "b. 12", "b. 12, beat 3", "b. 8, 2nd time"; `time` is the pass on the route."""
    bar = score.bar_at(onset)
    if bar.upbeat:
        text = _upbeat(score, bar, words)
    else:
        beat = bar.beat_at(onset)
        text = f"{words.bar} {bar.label}"
        if beat != 1:
            text += f", {words.beat} {beat_token(beat)}"
    return f"{text}, {ordinal(time)} time" if time > 1 else text


def leads_into(score: Score, onset: Fraction) -> Bar:
    """The bar a phrase that begins here belongs to: the next one where it begins just before
    a bar line (within one beat of it, or within the piece's own pickup), else its own."""
    bar = score.bar_at(onset)
    if bar.index + 1 == len(score.bars):
        return bar
    short = max(bar.meter.beat, _pickup(score))
    on_upbeat = bar.upbeat or (onset > bar.start and bar.end - onset <= short)
    return score.bars[bar.index + 1] if on_upbeat else bar


def entry(score: Score, onset: Fraction, *, time: int = 0, words: Words = BRITISH) -> str:
    """A place to begin: as `place`, but "upbeat to b. 5" where the phrase begins just
    before a bar line (see `leads_into`)."""
    following = leads_into(score, onset)
    if following == score.bar_at(onset):
        return place(score, onset, time=time, words=words)
    text = f"{words.upbeat} {words.bar} {following.label}"
    return f"{text}, {ordinal(time)} time" if time > 1 else text


def span(score: Score, start: Fraction, end: Fraction, *, words: Words = BRITISH) -> str:
    """The bars that a passage touches: "bb. 9-16", or "b. 9" for one."""
    first = score.bar_at(start)
    last = score.bars[max(first.index, _last_bar(score, end).index)]
    if first.upbeat and first.index + 1 < len(score.bars):
        first = score.bars[first.index + 1]
    if last.index <= first.index or last.label == first.label:
        return f"{words.bar} {first.label}"
    return f"{words.bars} {first.label}-{last.label}"


def _last_bar(score: Score, end: Fraction) -> Bar:
    bar = score.bar_at(end)
    return score.bars[bar.index - 1] if bar.start == end and bar.index else bar


def _pickup(score: Score) -> Fraction:
    first = score.bars[0]
    return first.length if first.upbeat else Fraction(0)


def _upbeat(score: Score, bar: Bar, words: Words) -> str:
    """The upbeat that ends `bar`, named by the bar it leads to."""
    following = score.bars[bar.index + 1] if bar.index + 1 < len(score.bars) else bar
    return f"{words.upbeat} {words.bar} {following.label}"
