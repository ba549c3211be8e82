"""Places of a score in words, as printed music is cited: "b. 12, beat 3"."""

from __future__ import annotations

from fractions import Fraction

from trainer.score.model import Bar, Score
from trainer.values import Frozen


class Words(Frozen, frozen=True):
    """The words for places and for note values; British by default, American on request.

    `spoken_bar` is for whole sentences; `values` double from a quarter of a ql to four.
    """

    bar: str = "b."
    bars: str = "bb."
    beat: str = "beat"
    upbeat: str = "upbeat to"
    spoken_bar: str = "bar"
    values: tuple[str, ...] = ("semiquaver", "quaver", "crotchet", "minim", "semibreve")


BRITISH = Words()
AMERICAN = Words(
    bar="m.",
    bars="mm.",
    upbeat="pickup to",
    spoken_bar="measure",
    values=("sixteenth note", "eighth note", "quarter note", "half note", "whole note"),
)


def value_word(length: Fraction, words: Words = BRITISH) -> str:
    """A note value in words, "crotchet" or "dotted crotchet"; empty for a length in ql that no
    one value from a semiquaver to a semibreve has, with a dot or without."""
    for power, word in enumerate(words.values):
        plain = Fraction(2) ** (power - 2)
        if length == plain:
            return word
        if length == plain * 3 / 2:
            return f"dotted {word}"
    return ""


_ORDINALS = {1: "st", 2: "nd", 3: "rd"}


def ordinal(number: int) -> str:
    """A number in order: "1st", "22nd", "113th"."""
    teen = 10 < number % 100 < 20
    return f"{number}{'th' if teen else _ORDINALS.get(number % 10, 'th')}"


def counted(number: float, word: str, plural: str = "") -> str:
    """ "1 bar", "2 bars", "1,200 bars"."""
    told = f"{number:,}" if isinstance(number, int) else f"{number:g}"
    return f"{told} {word if number == 1 else plural or word + 's'}"


def bar_count(score: Score) -> int:
    """The bars of a score as they are counted: a pickup is none, a split bar is one."""
    return sum(not (bar.upbeat or bar.continues) for bar in score.bars)


def beat_token(beat: Fraction) -> str:
    """A beat as printed: "3", "2½", or "2+1/3" where no short sign exists."""
    whole, rest = divmod(beat, 1)
    if not rest:
        return str(whole)
    sign = {Fraction(1, 2): "½", Fraction(1, 4): "¼", Fraction(3, 4): "¾"}.get(rest)
    return f"{whole}{sign}" if sign else f"{whole}+{rest}"


def label(score: Score, bar: Bar) -> str:
    """The printed label of a bar; the later parts of a split bar have that of its first."""
    while bar.continues and bar.index:
        bar = score.bars[bar.index - 1]
    return bar.label


def place(score: Score, onset: Fraction, *, time: int = 0, words: Words = BRITISH) -> str:
    """A place: "b. 12", "b. 12, beat 3", "b. 8, 2nd time"; `time` is the pass on the route.

    A pickup bar is "upbeat to b. 1", with its beat after its first moment.
    """
    bar = score.bar_at(onset)
    text = _upbeat(score, bar, words) if bar.upbeat else f"{words.bar} {label(score, bar)}"
    beat = bar.beat_at(onset)
    if onset != bar.start if bar.upbeat else beat != 1:
        text += f", {words.beat} {beat_token(beat)}"
    return _timed(text, time)


def leads_into(score: Score, onset: Fraction) -> Bar:
    """The bar a phrase that begins here belongs to: the next one where it begins just before
    a bar line (within one beat of it, or within the piece's own pickup), else its own."""
    bar = score.bar_at(onset)
    last = whole(score, bar)
    if last.index + 1 == len(score.bars):
        return bar
    short = max(bar.meter.beat, _pickup(score))
    inside = bar.lead + onset - bar.start > 0
    on_upbeat = bar.upbeat or (inside and last.end - onset <= short)
    return score.bars[last.index + 1] if on_upbeat else bar


def entry(score: Score, onset: Fraction, *, time: int = 0, words: Words = BRITISH) -> str:
    """A place to begin: as `place`, but "upbeat to b. 5" where the phrase begins just
    before a bar line (see `leads_into`)."""
    following = leads_into(score, onset)
    if following == score.bar_at(onset):
        return place(score, onset, time=time, words=words)
    return _timed(f"{words.upbeat} {words.bar} {following.label}", time)


def span(score: Score, start: Fraction, end: Fraction, *, words: Words = BRITISH) -> str:
    """The bars that a passage touches: "bb. 9-16", or "b. 9" for one."""
    first = score.bar_at(start)
    last = score.bars[max(first.index, _last_bar(score, end).index)]
    if first.upbeat and first.index + 1 < len(score.bars):
        first = score.bars[first.index + 1]
    names = label(score, first), label(score, last)
    if last.index <= first.index or names[0] == names[1]:
        return f"{words.bar} {names[0]}"
    return f"{words.bars} {names[0]}-{names[1]}"


def _timed(text: str, time: int) -> str:
    return f"{text}, {ordinal(time)} time" if time > 1 else text


def _last_bar(score: Score, end: Fraction) -> Bar:
    bar = score.bar_at(end)
    return score.bars[bar.index - 1] if bar.start == end and bar.index else bar


def _pickup(score: Score) -> Fraction:
    first = score.bars[0]
    return first.length if first.upbeat else Fraction(0)


def whole(score: Score, bar: Bar) -> Bar:
    """The last part of the printed bar that this one belongs to."""
    for following in score.bars[bar.index + 1 :]:
        if not following.continues:
            break
        bar = following
    return bar


def _upbeat(score: Score, bar: Bar, words: Words) -> str:
    """A pickup bar, named by the bar it leads to."""
    following = score.bars[min(bar.index + 1, len(score.bars) - 1)]
    return f"{words.upbeat} {words.bar} {following.label}"
