"""The bars of a score, from what each part has in each measure. Pure.

Bars stand on a grid of their own: the longest part decides how long a bar is, so that a part
with too much or too little in one measure does not put the others out of step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from msgspec.structs import replace

from trainer.errors import TrainerError
from trainer.score.model import Bar, Mark, Meter, Note, Rest

LONGEST_BAR = 1000
"""Quarter notes in one bar beyond which the file is taken to be wrong, not the music."""


@dataclass
class Measure:
    """What one part has in one measure. Positions are counted from the measure's beginning."""

    label: str = ""
    number: int = 0
    suffix: str = ""  # what follows the number, as in "4a"
    implicit: bool = False  # printed without a number
    meter: Meter | None = None
    fifths: int | None = None
    mode: str = ""
    end: Fraction = Fraction(0)  # where the last note ends
    silent_until: Fraction = Fraction(0)  # where the last rest ends, printed or not
    repeat_start: bool = False
    repeat_times: int = 0
    double: bool = False
    double_before: bool = False
    final: bool = False
    endings: tuple[int, ...] = ()
    notes: list[Note] = field(default_factory=list)
    rests: list[Rest] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)


Column = Sequence[Measure]
"""The measures of one bar, one for each staff that has it, from the top."""


def bars(columns: Sequence[Column], warnings: list[str], *, rigid: bool = False) -> tuple[Bar, ...]:
    """The bars of a score in document order; what had to be mended is added to `warnings`.

    `rigid` bars have the length of their metre, whatever is in them, as in a MIDI file. Raises
    TrainerError for a bar longer than LONGEST_BAR.
    """
    made: list[Bar] = []
    metered = any(measure.meter for column in columns for measure in column)
    overfull: list[str] = []
    for index, column in enumerate(columns):
        before = made[-1] if made else None
        if before and any(m.double_before for m in column) and not before.final:
            before = made[-1] = replace(before, double=True)
        same = index > 0 and _same_number(columns[index - 1][0], column[0])
        following = columns[index + 1][0] if index + 1 < len(columns) else None
        anew = column[0].number == 0 and following is not None and following.number == 1
        made.append(_bar(column, metered, rigid, same, anew, before))
        if made[-1].length > LONGEST_BAR:
            raise TrainerError(
                f"Bar {index + 1} of the file is {float(made[-1].length):.6g} quarter notes long; "
                "correct the lengths of its notes."
            )
        if metered and made[-1].length > made[-1].meter.length:
            overfull.append(made[-1].label)
    if overfull:
        warnings.append(
            f"Bars that hold more than their metre allows are kept as long as their notes: "
            f"{len(overfull)}, the first is b. {overfull[0]}."
        )
    if not metered:
        warnings.append("No time signature is printed: each bar is as long as its notes.")
    return tuple(made)


def counted(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """The same bars numbered as print would: a pickup is 0, the rest of a split bar the same."""
    number = 0 if bars[0].upbeat else 1
    made = [replace(bars[0], label=str(number))]
    for bar in bars[1:]:
        number += not bar.continues
        made.append(replace(bar, label=str(number)))
    return tuple(made)


def unnumbered(bars: Sequence[Bar]) -> bool:
    """Whether the labels are no bar numbers: most bars after the first have none, or 0."""
    rest = [bar.label for bar in bars[1:]]
    return 2 * sum(label in ("", "0") for label in rest) > len(rest)


def fitted(length: Fraction) -> Meter:
    """A metre for a bar without one: 5/4 for five quarters, 4/4 where none fits."""
    for unit in (4, 8, 16):
        count = length * unit / 4
        if count.denominator == 1 and count > 0:
            return Meter(int(count), unit)
    return Meter(4, 4)


def _same_number(before: Measure, measure: Measure) -> bool:
    """Whether the printed number says that the bar before goes on, as "4" and "4a" do."""
    return before.number == measure.number and bool(measure.suffix or before.label == measure.label)


def _bar(
    column: Column, metered: bool, rigid: bool, same: bool, anew: bool, before: Bar | None
) -> Bar:
    """The next bar, as the measures and the bar before it have it. `same` says that it has the
    number of the bar before, `anew` that the numbers begin again after it."""
    given = next((measure.meter for measure in column if measure.meter), None)
    meter = given or (before.meter if before and metered else None)
    sounds = max(measure.end for measure in column)
    rests = max(measure.silent_until for measure in column)
    if meter is None:
        meter = Meter(4, 4) if metered else fitted(max(sounds, rests))
    content = max(sounds, min(rests, meter.length)) if metered else max(sounds, rests)
    content = meter.length if rigid else content
    head = column[0]
    keyed = next((measure for measure in column if measure.fifths is not None), None)
    fifths, mode = (before.fifths, before.mode) if before else (0, "")
    bar = Bar(
        index=before.index + 1 if before else 0,
        label=head.label,
        start=before.end if before else Fraction(0),
        length=content or meter.length,
        meter=meter,
        fifths=fifths if keyed is None or keyed.fifths is None else keyed.fifths,
        mode=mode if keyed is None else keyed.mode,
        repeat_start=any(measure.repeat_start for measure in column),
        repeat_times=max(measure.repeat_times for measure in column),
        endings=next((measure.endings for measure in column if measure.endings), ()),
        double=any(measure.double for measure in column),
        final=any(measure.final for measure in column),
    )
    if metered and bar.length < meter.length:
        bar = _short(bar, head.implicit, same, anew, before)
    unnamed = head.suffix.startswith("X") and not bar.continues  # an inner name of the file
    if unnamed and before and not head.number:
        return replace(bar, label=before.label)
    return replace(bar, label=str(head.number)) if unnamed and head.number else bar


def _short(bar: Bar, implicit: bool, same: bool, anew: bool, before: Bar | None) -> Bar:
    """What a bar that does not fill its metre is: a pickup, the rest of a split bar, or neither."""
    missing = bar.meter.length - bar.length
    if before is None or anew:
        return replace(bar, upbeat=True, lead=missing)
    ending_closes = not bar.endings and (same or implicit)  # in the middle of a printed bar
    together = before.endings == bar.endings or ending_closes
    unbroken = not before.upbeat and together and before.meter == bar.meter
    if unbroken and before.lead + before.length == missing:
        unnumbered = same or implicit
        if unnumbered or before.repeat_times or before.double or bar.repeat_start:
            label = before.label if unnumbered else bar.label
            return replace(bar, continues=True, lead=missing, label=label)
    if implicit and before.lead + before.length == before.meter.length:
        return replace(bar, upbeat=True, lead=missing)
    return bar
