"""The route over repeats and endings, and the bars that a page shows."""

from fractions import Fraction

from tests.pieces import piece_of, tune
from trainer.deck.page import before_join, join_span, opening_span, page_span


def numbers(route: tuple[str, ...]) -> list[int]:
    return [int(start.split("-s")[1]) for start in route]


def test_a_repeat_comes_back_to_its_first_start() -> None:
    piece = piece_of(tune(16, repeat=8), [0, 12, 24, 36])
    assert numbers(piece.deck.route) == [1, 2, 1, 2, 3, 4]


def test_an_upbeat_goes_with_the_bar_it_leads_into() -> None:
    """With a pickup, phrase 3's upbeat is the last quarter before the repeat sign: it is not
    played on the way back to bar 1, whose own start is the pickup."""
    piece = piece_of(tune(16, upbeat=True, repeat=8), [0, 12, 24, 36])
    assert numbers(piece.deck.route) == [1, 2, 1, 2, 3, 4]


def test_first_and_second_endings() -> None:
    score = tune(10, repeat=8, endings={7: (1,), 8: (1,), 9: (2,), 10: (2,)})
    piece = piece_of(score, [0, 12, 18, 24])  # bars 1, 5, 7 (first ending), 9 (second)
    assert numbers(piece.deck.route) == [1, 2, 3, 1, 2, 4]
    assert [numbers((s,))[0] for s in piece.deck.following("deck-s2")] == [3, 4]


def test_a_page_ends_at_the_bar_line_before_the_next_start() -> None:
    piece = piece_of(tune(16, upbeat=True), [0, 12, 25])
    first, second, last = piece.deck.starts
    assert page_span(piece, first) == (Fraction(0), Fraction(10))  # next: upbeat in bar 4
    assert page_span(piece, second) == (Fraction(12), Fraction(25))  # next: on a bar line
    assert page_span(piece, last) == (Fraction(25), Fraction(49))


def test_a_phrase_within_one_bar_is_shown_to_its_end() -> None:
    piece = piece_of(tune(4), [0, 2])
    assert page_span(piece, piece.deck.starts[0]) == (Fraction(0), Fraction(2))


def test_a_join_is_begun_a_bar_before_the_next_start() -> None:
    piece = piece_of(tune(16, upbeat=True), [0, 12, 25, 26])
    begins = [before_join(piece, start) for start in piece.deck.starts]
    assert begins == [Fraction(10), Fraction(22), Fraction(25), Fraction(46)]


def test_an_opening_is_the_first_bars_of_its_page() -> None:
    """An upbeat goes with the bar it leads into, and nothing beyond the page is told."""
    piece = piece_of(tune(16, upbeat=True), [0, 12, 25])
    first, second, last = piece.deck.starts
    assert opening_span(piece, first, 1) == (Fraction(0), Fraction(4))
    assert opening_span(piece, first, 2) == (Fraction(0), Fraction(7))
    assert opening_span(piece, first, 9) == page_span(piece, first)
    assert opening_span(piece, second, 1) == (Fraction(12), Fraction(16))
    assert opening_span(piece, last, 99) == page_span(piece, last)


def test_the_join_goes_from_the_bar_before_into_the_next_beat() -> None:
    piece = piece_of(tune(16), [0, 12, 24, 36])
    assert join_span(piece, piece.deck.starts[0]) == (Fraction(9), Fraction(13))
    last = piece.deck.starts[-1]
    assert join_span(piece, last)[1] == piece.score.end
