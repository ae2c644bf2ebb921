"""Words of one language and one system of units, from the catalogues.

Nothing here knows a report; `terrain.report.findings` says what is worth saying. Numbers and
sentences are told as `terrain.text.figures` and `terrain.text.message` say.
"""

from __future__ import annotations

import gettext
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from terrain.text.figures import N_ as N_
from terrain.text.figures import Units as Units
from terrain.text.message import Sentence, Teller

_LOCALES = Path(__file__).parent / "locales"

# A capital that a sentence begins with; a word of capitals stays.
_FIRST_WORD = re.compile(r"\A[¿¡]?[^\W\d_](?=[^\W\d_A-ZÀ-Þ]|[\s’])")

LANGUAGES: tuple[str, ...] = ("en", "es", "fr")


@dataclass(frozen=True, slots=True, kw_only=True)
class Words(Teller):
    """Text in one language and one system of units.

    lang : one of LANGUAGES; units : metric or imperial
    """

    _catalogue: gettext.NullTranslations = field(
        default_factory=gettext.NullTranslations, repr=False, compare=False
    )

    def _(self, message: str, **values: Any) -> str:
        """The message in this language, its {named} fields filled in."""
        text = self._catalogue.gettext(message) if message else ""
        return text.format(**values) if values else text

    def n_(self, one: str, many: str, n: int, **values: Any) -> str:
        """The message for n things, in this language's plural."""
        return self._catalogue.ngettext(one, many, n).format(n=n, **values)

    def day(self, moment: date) -> str:
        """A date in words; French counts the first of a month: "1er mars 2027"."""
        text = Teller.day(self, moment)
        return f"1er{text[1:]}" if self.lang == "fr" and moment.day == 1 else text

    def after_colon(self, said: Any) -> str:
        """A sentence told after a colon: Spanish and French go on there with a small letter."""
        text = self.tell(said)
        if self.lang == "en" or _starts_with_name(said):
            return text
        return _FIRST_WORD.sub(lambda first: first[0].lower(), text, count=1)

    def said(self, text: str) -> str:
        """A word or title, in this language where the catalogue holds it."""
        return self._(text)


def _starts_with_name(said: Any) -> bool:
    """Whether a sentence may begin with a name or a number filled in."""
    if isinstance(said, Mapping):
        said = Sentence(said["text"], said["message"], "", tuple(said["numbers"].items()))
    if not isinstance(said, Sentence):
        return True
    if not said.message.startswith("{"):
        return False
    first = said.message[1:].partition("}")[0]
    return _starts_with_name(dict(said.numbers).get(first))


def words_for(lang: str = "en", units: str | Units = Units.METRIC) -> Words:
    """The words of a language; English needs no catalogue.

    Raises ValueError for a language or unit system that is not there.
    """
    if lang not in LANGUAGES:
        raise ValueError(f"no language {lang!r}; choose from {', '.join(LANGUAGES)}")
    if lang == "en":
        return Words(units=Units(units))
    catalogue = gettext.translation("terrain", localedir=_LOCALES, languages=[lang])
    return Words(lang=lang, units=Units(units), _catalogue=catalogue)
