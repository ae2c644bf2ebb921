"""How many pages a paper is reckoned to take."""

from __future__ import annotations

from terrain.report.paper.reckon import PAGE_PT, Piece, pages_of


def test_pieces_fill_pages_as_hand_worked() -> None:
    third = PAGE_PT / 3
    words, drawn = Piece(third), Piece(2 * third + 1.0, whole=True)
    afloat = drawn._replace(floats=True)
    assert pages_of([words] * 3) == 1
    assert pages_of([Piece(3.5 * PAGE_PT)]) == 4
    # A drawing that does not fit leaves the rest of its page empty, and words after it start below.
    assert pages_of([words, drawn, words]) == 3
    # One that floats leaves that room to the words.
    assert pages_of([words, afloat, words, words]) == 2
    # A second one goes to no page before the first, and one taller than a page goes over two.
    assert pages_of([words, afloat, afloat, words]) == 3
    assert pages_of([words, Piece(1.5 * PAGE_PT, whole=True)]) == 3
