"""Names: invented, unique, and none of a real place, car, bike or great river."""

from __future__ import annotations

import re

from tests.island import names
from tests.island.island import Island

# From memory: capitals, large cities, islands and rivers a reader would know at once.
_REAL = frozenset(
    """
    abidjan accra adelaide aden agra algiers amman amsterdam ankara antwerp athens auckland
    baghdad baku bali bamako bangkok barcelona basel beijing beirut belem belgrade berlin bern
    bogota bombay boston brasilia bremen brisbane brussels budapest busan cairo calcutta
    canberra caracas cardiff casablanca chennai chicago cologne colombo copenhagen cork corsica
    crete cuba cyprus dakar dallas delhi denver dhaka doha dresden dubai dublin durban fiji
    florence geneva genoa ghent goa graz guam haifa hamburg hanoi harare havana helsinki hobart
    honolulu houston istanbul jakarta java kabul kampala karachi kathmandu kiev kigali kobe
    kyoto lagos lahore leh lima lisbon ljubljana lombok london luanda lusaka luzon lyon madrid
    malaga malta manali manila maputo melbourne menorca milan minsk mombasa monaco montreal
    moscow mumbai munich mustang nairobi naples oran osaka oslo palermo panama paris penang perth
    phuket porto prague pretoria quito rabat riga rome samoa sarajevo seoul sicily sofia sumatra
    surabaya sydney taipei tallinn tasmania tehran timor tirana tokyo toronto tripoli tunis turin
    utrecht valletta vienna vilnius warsaw yangon zagreb zanzibar zurich amazon congo danube
    ganges indus jordan mekong niger nile rhine tigris volga yukon zambezi
    aprilia benelli bajaj bmw ducati hero honda husqvarna kawasaki ktm suzuki triumph vespa
    yamaha ford toyota volvo tata
    """.split()  # noqa: SIM905
)


def _all_names(island: Island) -> list[str]:
    tags = (*island.drawing.spot_tags, *island.drawing.way_tags)
    return [t["name"] for t in tags if "name" in t]


def test_settlements_have_names_of_their_own(island: Island) -> None:
    assert len(island.places.names) > 100
    assert len(set(island.places.names)) == len(island.places.names)


def test_no_word_is_a_well_known_real_one(island: Island) -> None:
    words = {w.lower() for name in _all_names(island) for w in re.findall(r"[A-Za-z]+", name)}
    assert words & _REAL == set()
    assert len(words) > 200


def test_given_names_are_spoken_like_the_built_ones() -> None:
    heads, hearts, tails = ("|".join(s) for s in (names._HEADS, names._HEARTS, names._TAILS))
    spoken = re.compile(f"({heads})({hearts}){{1,2}}({tails})")
    for name in (*names.TOWNS, names.ISLAND, names.ISLET.split()[-1], *names.words("x", 50, set())):
        assert spoken.fullmatch(name.lower()), name
