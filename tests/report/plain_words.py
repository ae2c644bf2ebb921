"""Whether keys of our data reach the eye of a reader."""

from __future__ import annotations

import html
import re

# key=value as maps have it, and words as programs have them.
_RAW = re.compile(r"\b[a-z][\w:]*=[\w:]+\b|\b[a-z]+_[a-z_]+\b")
_UNSEEN = re.compile(r"<(script|style|textarea hidden)\b.*?</\1>|<[^>]*>", re.S)


def raw_words(page: str) -> set[str]:
    """Keys in the text of a page or mail, as it is seen."""
    seen = html.unescape(_UNSEEN.sub(" ", page))
    return set(_RAW.findall(re.sub(r"https?://\S+", " ", seen)))
