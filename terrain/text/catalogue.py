"""What is said in which language: marks for the extraction tool, languages, catalogues.

One gettext domain, `terrain`, holds every text that a person reads.
"""

from __future__ import annotations

import gettext
from functools import cache
from pathlib import Path

_LOCALES = Path(__file__).parent / "locales"

#: Each language by its own name. Portuguese is that of Brazil, as `pt` is in Unicode CLDR.
LANG_NAMES: dict[str, str] = {
    "en": "English", "es": "Español", "fr": "Français", "pt": "Português", "de": "Deutsch",
    "it": "Italiano",
}  # fmt: skip
LANGUAGES: tuple[str, ...] = tuple(LANG_NAMES)


def N_(message: str) -> str:  # noqa: N802 - the name extraction tools look for
    """Marks a message that is translated later."""
    return message


def NN_(one: str, many: str) -> tuple[str, str]:  # noqa: N802
    """Marks a message with its plural that is translated later."""
    return one, many


@cache
def catalogue(lang: str) -> gettext.NullTranslations:
    """The catalogue of a language; English, which is the key, needs none.

    Raises ValueError for a language that is not there.
    """
    if lang not in LANGUAGES:
        raise ValueError(f"no language {lang!r}; choose from {', '.join(LANGUAGES)}")
    if lang == "en":
        return gettext.NullTranslations()
    return gettext.translation("terrain", localedir=_LOCALES, languages=[lang])


def asked_language(header: str, usual: str) -> str:
    """The language of an Accept-Language header (RFC 9110, 12.5.4) that we speak best."""
    wanted = []
    for n, part in enumerate(header[:400].split(",")):
        name, _, rest = part.partition(";")
        weight = rest.strip().removeprefix("q=")
        try:
            wanted.append((-float(weight or 1), n, name.strip().lower().partition("-")[0]))
        except ValueError:
            continue
    return next((name for _, _, name in sorted(wanted) if name in LANGUAGES), usual)
