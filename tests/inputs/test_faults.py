"""Every fault of an operator's file is said in the reader's language, none in part."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from terrain.errors import InputError
from terrain.inputs.debriefs import parse_debriefs
from terrain.inputs.fleet import parse_fleet
from terrain.inputs.helpers import parse_helpers
from terrain.inputs.learned import parse_learned
from terrain.inputs.notes import parse_notes
from terrain.inputs.pins import parse_pins
from terrain.inputs.rentals import parse_log
from terrain.text.catalogue import LANGUAGES
from terrain.text.translator import translator_for

_FLEET = 'name = "x"\n[class.a]\nlike = "enduro"\n'
_FILES: tuple[tuple[Callable[[], object], tuple[str, ...]], ...] = (
    (lambda: parse_fleet(_FLEET + "mas_kg = 3\nseats = 9\n", "f"), ("no key", "at most")),
    (lambda: parse_fleet(_FLEET + "tank_l = true\n", "f"), ("must be", "a number")),
    (lambda: parse_fleet(_FLEET + 'fan = true\ncooling = "air"\n', "f"), ("does not go",)),
    (
        lambda: parse_notes(b"way_id,ground,date\n7,mud!,\nx,track,soon\n", "n"),
        ("is not known", "number of a way", "is not a date"),
    ),
    (
        lambda: parse_helpers(b"name,lon,lat,kind\n,1,2,\nA,x,2,\nB,1,99,\nC,1,2,wizard\n", "h"),
        ("no name", "not a number", "not between", "none of"),
    ),
    (
        lambda: parse_debriefs(b"way_id,said,who,date\n1,lava,a,2027-01-01\n1,track,,\n", "d"),
        ("is not paved", "is not a date"),
    ),
    (
        lambda: parse_log("class,incident,km\na,perhaps,5\na,no,far\nb,perhaps,5\n", "l"),
        ("must be yes", "must be a number", "lines"),
    ),
    (lambda: parse_pins(b"[[stop]]\nkm = -4\nkin = 3\n", "p"), ("has to be", "is not known")),
    (
        lambda: parse_learned(b'schema = "terrain-learned/9"\nnews = 1\n', "t"),
        ("is not known", "there is no key"),
    ),
)  # fmt: skip


@pytest.mark.parametrize(("read", "english"), _FILES)
def test_no_fault_is_told_in_another_language(
    read: Callable[[], object], english: tuple[str, ...]
) -> None:
    with pytest.raises(InputError) as caught:
        read()
    said = caught.value.say(translator_for())
    assert all(words in said for words in english), said
    for lang in set(LANGUAGES) - {"en"}:
        other = caught.value.say(translator_for(lang))
        assert not [words for words in english if words in other], (lang, other)
        # Each fault stays a line of its own.
        assert other.count("\n") == said.count("\n")
