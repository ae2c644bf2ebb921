"""Messages and numbers in one language and one system of units, by the catalogue."""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from terrain.text.catalogue import catalogue
from terrain.text.figures import Figures, Units
from terrain.text.message import Message, Number

# A capital that a sentence begins with; a word of capitals stays.
_FIRST_WORD = re.compile(r"\A[¿¡]?[^\W\d_](?=[^\W\d_A-ZÀ-Þ]|[\s’])")

# In English a whole sentence keeps its capital there, in German also every noun.
_CAPITAL_AFTER_COLON = ("en", "de")
# How the first day of a month is written.
_FIRST = {"fr": "1er", "pt": "1º", "it": "1º"}

# Little words that change before the name filled in after them: "près d’Ulerambe", "Sill e Ibo".
_BEFORE_NAMES: dict[str, tuple[tuple[re.Pattern[str], str], ...]] = {
    "fr": (
        (re.compile(r"\b([Dd])e (?=[AEIOUÀÂÉÈÊÎÔÛ]\w)"), r"\1’"),
        (re.compile(r"\b([Ll])a (?=enduro)"), r"\1’"),
    ),
    "es": (
        (re.compile(r"(?<= )y (?=[IÍ]|Hi[^ae])"), "e "),
        (re.compile(r"(?<= )o (?=[OÓ]|Ho)"), "u "),
    ),
    "it": (
        (re.compile(r"(?<= )a (?=A)"), "ad "),
        (re.compile(r"(?<= )e (?=E|enduro)"), "ed "),
        # "gli 8 km", "dagli 11 km": otto and undici begin with a vowel.
        (re.compile(r"\b([Dd]e|[Dd]a|[Ss]u|[Nn]e|[Aa])i (?=8|11(?!\d))"), r"\1gli "),
        (re.compile(r"\bi (?=8|11(?!\d))"), "gli "),
        # A class of bikes that begins with a vowel: "dell’enduro leggera".
        (re.compile(r"\b([Ll]|[Dd]ell|[Aa]ll|[Uu]n)a (?=enduro)"), r"\1’"),
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Translator(Figures):
    """Says messages in one language and one system of units.

    lang : one of LANGUAGES; units : metric or imperial
    """

    _catalogue: gettext.NullTranslations = field(
        default_factory=gettext.NullTranslations, repr=False, compare=False
    )

    def translate(self, said: Any) -> str:
        """A message in this language and these units; a plain text as it stands.

        said : a text, or a row of the JSON with `text`, `message` and `numbers`
        """
        message = _message_of(said)
        if message is None:
            return str(said)
        return self.fill(message.message, message.many, dict(message.numbers))

    def say(self, message: str, many: str = "", /, **numbers: Number) -> str:
        """A message that was not made before, see `message`."""
        return self.fill(message, many, numbers)

    def translate_all(self, said: Iterable[Any]) -> list[str]:
        return [self.translate(item) for item in said]

    def translate_term(self, text: str) -> str:
        """A message, or a word or title where the catalogue holds it; else the text as it is."""
        return self.translate(text) if isinstance(text, Message) else self._(text)

    def in_a_row(self, parts: Iterable[str]) -> str:
        """Texts of this language one after the other, parted by semicolons as it sets them."""
        first, *rest = list(parts) or [""]
        for then in rest:
            first = self._("{first}; {then}", first=first, then=then)
        return first

    def after_colon(self, said: Any) -> str:
        """A message told after a colon: the Romance languages go on with a small letter."""
        text = self.translate(said)
        if self.lang in _CAPITAL_AFTER_COLON or _starts_with_name(said):
            return text
        return _FIRST_WORD.sub(lambda first: first[0].lower(), text, count=1)

    def day(self, moment: date) -> str:
        """A date in words; some languages count the first of a month: "1er mars 2027"."""
        text = Figures.day(self, moment)
        return f"{_FIRST[self.lang]}{text[1:]}" if moment.day == 1 and self.lang in _FIRST else text

    def _(self, message: str, **values: Any) -> str:
        """The message in this language, its {named} fields filled in."""
        text = self._catalogue.gettext(message) if message else ""
        return self._joined(text.format(**values)) if values else text

    def n_(self, one: str, many: str, n: int, **values: Any) -> str:
        """The message for n things, in this language's plural."""
        return self._joined(self._catalogue.ngettext(one, many, n).format(n=n, **values))

    def _joined(self, text: str) -> str:
        """The text with the little words as the names after them want them."""
        for little, instead in _BEFORE_NAMES.get(self.lang, ()):
            text = little.sub(instead, text)
        return text


def _message_of(said: Any) -> Message | None:
    """A message, also of a row of the JSON; None for a plain text."""
    if isinstance(said, Message):
        return said
    if not isinstance(said, str) and isinstance(said, Mapping):
        text = said["text"]
        if isinstance(text, Message):
            return text
        return Message(text, said["message"], "", tuple(said["numbers"].items()))
    return None


def _starts_with_name(said: Any) -> bool:
    """Whether a message may begin with a name or a number filled in."""
    message = _message_of(said)
    if message is None:
        return True
    if not message.message.startswith("{"):
        return False
    first = message.message[1:].partition("}")[0]
    return _starts_with_name(dict(message.numbers).get(first))


def translator_for(lang: str = "en", units: str | Units = Units.METRIC) -> Translator:
    """The translator into a language.

    Raises ValueError for a language or unit system that is not there.
    """
    return Translator(lang=lang, units=Units(units), _catalogue=catalogue(lang))
