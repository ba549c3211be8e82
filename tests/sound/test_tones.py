"""What a passage sounds like, measured in the samples themselves."""

from __future__ import annotations

import io
import wave
from array import array
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.draw.scores import note, passages, score
from trainer.errors import TrainerError
from trainer.score.count import count_before
from trainer.score.model import Mark, Note, Score
from trainer.sound.tones import LONGEST, PEAK, RATE, Tone, frequency, samples, tones, wav

F = Fraction
FULL = 32767


def read(data: bytes) -> array[int]:
    """The samples of a WAV file, read with the standard library."""
    with wave.open(io.BytesIO(data)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE)
        return array("h", file.readframes(file.getnframes()))


def hertz(sound: array[int]) -> float:
    """The frequency, from the places where the wave crosses zero upwards."""
    places = [
        n + sound[n] / (sound[n] - sound[n + 1])
        for n in range(len(sound) - 1)
        if sound[n] < 0 <= sound[n + 1]
    ]
    return (len(places) - 1) / (places[-1] - places[0]) * RATE


def loudest(sound: array[int], begin: float, end: float) -> int:
    return max(map(abs, sound[round(begin * RATE) : round(end * RATE)]), default=0)


@pytest.mark.parametrize(
    ("pitch", "expected"),
    [(21, 27.5), (45, 110.0), (60, 261.6256), (69, 440.0), (76, 659.2551), (108, 4186.009)],
)
def test_a_note_has_the_frequency_of_equal_temperament(pitch: int, expected: float) -> None:
    """A4 = 440 Hz, the others from published tables of MIDI note numbers; a tenth of a percent
    is a sixtieth of a semitone."""
    assert frequency(pitch) == pytest.approx(expected, rel=1e-6)
    sound = read(wav(samples([Tone(pitch, 0.0, 1.0)])))
    assert hertz(sound[: -RATE // 10]) == pytest.approx(expected, rel=1e-3)


def test_a_file_is_as_long_as_its_music() -> None:
    """Two bars of 4/4 at 120 quarters a minute last four seconds, with a bar's count six."""
    music = score(
        [note(q, 1, "A4") for q in range(8)], marks=[Mark("tempo", F(0), value=120.0)], staves=1
    )
    found = tones(music, F(0), F(8))
    assert len(read(wav(samples(found)))) == 4 * RATE
    count = count_before(music, F(0))
    assert len(read(wav(samples(found, count)))) == 6 * RATE


def test_a_rest_is_silent_and_a_note_is_not() -> None:
    sound = samples(tones(score([note(0, 1, "C4"), note(2, 1, "E4")], staves=1), F(0), F(4)))
    assert loudest(sound, 0.1, 0.9) > FULL // 20
    assert loudest(sound, 1.0, 2.0) == 0
    assert loudest(sound, 2.1, 2.9) > FULL // 20


def test_it_begins_and_ends_softly() -> None:
    """No step at either end that would be heard as a click."""
    sound = samples([Tone(60, 0.0, 0.5)])
    assert loudest(sound, 0.0, 0.0003) < FULL // 50
    assert loudest(sound, 0.4997, 0.5) < FULL // 50


def test_a_tone_dies_away() -> None:
    sound = samples([Tone(60, 0.0, 2.0)])
    assert loudest(sound, 1.8, 1.9) < loudest(sound, 0.1, 0.2) / 2


def test_a_chord_is_as_many_tones_and_not_clipped() -> None:
    chord = [note(0, 4, name) for name in ("C2", "G2", "C3", "E3", "G3", "C4", "E4", "G4", "C5")]
    found = tones(score(chord, staves=1), F(0), F(4))
    assert sorted(tone.pitch for tone in found) == sorted(one.pitch for one in chord)
    sound = samples(found)
    assert loudest(sound, 0.0, 4.0) == pytest.approx(PEAK * FULL, abs=2)


def tied(onset: int, length: int, tie: str) -> Note:
    made = note(onset, length, "G4")
    return Note(made.onset, made.length, made.pitch, "G", 0, 4, 0, tie=tie)  # type: ignore[arg-type]


def test_tied_notes_are_one_tone() -> None:
    music = score([tied(0, 2, "start"), tied(2, 2, "continue"), tied(4, 1, "stop")], staves=1)
    assert tones(music, F(0), F(8)) == (Tone(67, 0.0, 5.0),)
    assert tones(music, F(0), F(3)) == (Tone(67, 0.0, 3.0),)
    assert tones(music, F(2), F(8)) == (Tone(67, 0.0, 3.0),)  # who begins here strikes it


def test_a_repeated_note_is_struck_again() -> None:
    found = tones(score([note(0, 1, "G4"), note(1, 1, "G4")], staves=1), F(0), F(4))
    assert found == (Tone(67, 0.0, 1.0), Tone(67, 1.0, 1.0))


def test_a_unison_of_two_hands_is_struck_once() -> None:
    found = tones(score([note(0, 1, "C4", 0), note(0, 3, "C4", 1)]), F(0), F(4))
    assert found == (Tone(60, 0.0, 3.0),)


def test_grace_notes_come_just_before_their_note() -> None:
    def grace(name: str) -> Note:
        made = note(1, 0, name)
        return Note(F(1), F(0), made.pitch, name[0], 0, int(name[1]), 0, grace=True)

    music = score([note(0, 1, "C4"), grace("D4"), grace("E4"), note(1, 1, "F4")], staves=1)
    found = tones(music, F(0), F(4))
    assert [tone.pitch for tone in found] == [60, 62, 64, 65]
    assert [tone.at for tone in found] == sorted(tone.at for tone in found)
    assert 0.5 < found[1].at < found[2].at < found[3].at == 1.0
    first = samples(tones(music, F(1), F(2)))  # one that begins with them is not cut
    assert len(first) > RATE


def test_cue_notes_are_not_heard() -> None:
    cue = Note(F(0), F(1), 60, "C", 0, 4, 0, cue=True)
    assert tones(score([cue], staves=1), F(0), F(4)) == ()
    assert len(samples(())) == 0
    assert len(read(wav(samples(())))) == 0


@settings(max_examples=40, deadline=None)
@given(passages())
def test_every_struck_note_is_heard_within_its_passage(
    passage: tuple[Score, Fraction, Fraction],
) -> None:
    music, begin, end = passage
    found = tones(music, begin, end)
    second = 1 / float(music.bar_at(begin).meter.beat)  # no mark of tempo: a beat a second
    struck = {
        (round(float(n.onset - begin) * second, 6), n.pitch)
        for n in music.notes_between(begin, end)
        if n.sounds and not n.grace
    }
    assert struck <= {(round(tone.at, 6), tone.pitch) for tone in found}
    longest = float(end - begin) * second
    assert all(tone.at + tone.seconds <= longest + 1e-6 for tone in found)
    assert all(tone.seconds > 0 for tone in found)
    sound = samples(found)
    assert max(map(abs, sound), default=0) <= PEAK * FULL + 1
    assert bool(found) == any(sound)


def test_a_passage_that_is_too_long_is_refused() -> None:
    music = score([note(q, 4, "C4") for q in range(0, 160, 4)], bars=40, staves=1)
    assert tones(music, F(0), F(int(LONGEST)))
    with pytest.raises(TrainerError, match="fewer bars"):
        tones(music, F(0), F(160))


def test_a_count_clicks_at_its_beats_the_first_one_higher() -> None:
    music = score([note(0, 4, "C4")], meter=(3, 4), staves=1)
    count = count_before(music, F(0))
    sound = samples((), count)
    for beat in count.beats:
        assert loudest(sound, beat.at, beat.at + 0.02) > FULL // 5
        assert loudest(sound, beat.at + 0.1, beat.at + 0.9) == 0
    one, two = (sound[round(at * RATE) :][: RATE // 50] for at in (0.0, 1.0))
    assert hertz(one) > hertz(two) * 1.2


@settings(max_examples=40, deadline=None)
@given(passages(), st.floats(30, 400))
def test_at_a_tempo_of_ones_own_all_is_so_many_times_as_long(
    passage: tuple[Score, Fraction, Fraction], rate: float
) -> None:
    music, begin, end = passage
    times = 60 / rate  # no mark of tempo: a beat a second
    music = replace(music, notes=tuple(n for n in music.notes if not n.grace))
    written, own = tones(music, begin, end), tones(music, begin, end, rate)
    assert [tone.pitch for tone in own] == [tone.pitch for tone in written]
    assert [t.at for t in own] == pytest.approx([t.at * times for t in written])
    assert [t.seconds for t in own] == pytest.approx([t.seconds * times for t in written])
