"""The operator's own letter round what the report says: greeting, questions, link, signature.

A template is plain text with named fields in braces, so that whoever writes letters can change it.
What decides the ride stands in one field, which no letter may leave out.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from enum import StrEnum

from markupsafe import Markup, escape

from terrain.errors import InputError
from terrain.report.mail import MailDraft
from terrain.text.catalogue import N_
from terrain.text.message import message
from terrain.text.plain import one_line
from terrain.text.translator import Translator

_LONGEST = 8000
_FIELD = re.compile(r"\{([^{}\s]{0,40})\}")


class LetterKind(StrEnum):
    """What a letter is for."""

    ANSWER = "answer"  # the report, with what is asked
    REMINDER = "reminder"  # of what was asked before


#: The fields of a letter, with what each says.
FIELDS: dict[str, str] = {
    "greeting": N_("Dear Ada Rill, or Hello without a name"),
    "customer": N_("the customer's name"),
    "route": N_("the route's name"),
    "about": N_("length, riding time, dates and load in a line"),
    "verdict": N_("the verdict in a sentence, what forbids first"),
    "report": N_("all that decides: verdict, bikes, what forbids, ways round, questions"),
    "questions": N_("what is asked, a line each"),
    "link": N_("the rider's page"),
    "days": N_("for how long the question is open"),
    "signature": N_("your name and the desk's"),
}
#: What a letter of each kind has to say: what forbids a ride is left out of none.
NEEDED: dict[LetterKind, tuple[str, ...]] = {
    LetterKind.ANSWER: ("report", "link"),
    LetterKind.REMINDER: ("verdict", "questions", "link"),
}
#: The letters that come with the program, a paragraph each.
OURS: dict[LetterKind, tuple[str, ...]] = {
    LetterKind.ANSWER: (
        "{greeting}",
        N_("we have read your route {route}. {about}"),
        "{report}",
        N_("Your page, to answer and to read the whole report: {link}"),
        N_("The full report is attached."),
        "{signature}",
    ),
    LetterKind.REMINDER: (
        "{greeting}",
        N_("{days} ago we asked you about your route {route}. We need your answer to get the "
           "right bike ready."),
        "{verdict}",
        "{questions}",
        N_("One page, one press: {link}"),
        "{signature}",
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """Whom a letter goes to and from. link : of the rider's page; days : the question is open"""

    kind: LetterKind
    customer: str
    link: str
    signature: str
    days: int = 0


def ours(kind: LetterKind, translator: Translator) -> str:
    """The letter that comes with the program, its fields open."""
    return "\n\n".join(translator._(paragraph) for paragraph in OURS[kind])


def checked_letter(kind: LetterKind, text: str) -> str:
    """A template as it may be kept.

    Raises InputError for a field that is not known or one that is missing.
    """
    text = text.replace("\r\n", "\n").strip()
    if len(text) > _LONGEST:
        raise InputError(
            message("the letter is longer than {n} characters", n=str(_LONGEST)), "",
            message("Shorten it."),
        )  # fmt: skip
    found = _FIELD.findall(text)
    for name in found:
        if name not in FIELDS:
            raise InputError(
                message("the letter has no field {name}", name=repr(name)), "",
                message("Use {words}.", words=", ".join(f"{{{field}}}" for field in FIELDS)),
            )  # fmt: skip
    for name in NEEDED[kind]:
        if name not in found:
            raise InputError(
                message("the letter lacks the field {name}", name=f"{{{name}}}"), "",
                message("Put it in: without it the rider does not hear what decides."),
            )  # fmt: skip
    return text


def write_letter(
    draft: MailDraft, letter: Letter, translator: Translator, *, template: str = ""
) -> MailDraft:
    """The mail as it goes: the template's fields filled in, in plain text and HTML.

    template : the operator's own; ours if empty
    """
    customer = one_line(letter.customer, 120)
    greeting = translator._("Dear {customer},", customer=customer)
    told = {
        "greeting": greeting if customer else translator._("Hello,"),
        "customer": customer,
        "route": draft.route,
        "about": draft.about,
        "verdict": draft.verdict,
        "report": draft.body,
        "questions": "\n".join(f"{n}. {line}" for n, line in enumerate(draft.asked, 1)),
        "link": letter.link,
        "days": translator.n_("One day", "{n} days", letter.days)
        if letter.days
        else translator._("Less than a day"),
        "signature": letter.signature,
    }
    text = "\n\n".join(
        paragraph
        for paragraph in (template or ours(letter.kind, translator)).split("\n\n")
        # Without a link nothing leads to a page.
        if letter.link or "{link}" not in paragraph
    )
    plain = _filled(text, told)
    footer = "\n".join(draft.footer) if letter.kind is LetterKind.ANSWER else ""
    subject = draft.subject
    if letter.kind is LetterKind.REMINDER:
        subject = translator._("A question about your route {route}", route=draft.route)
    return replace(
        draft,
        subject=one_line(subject, 150),
        plain="\n\n".join(filter(None, (plain, footer))) + "\n",
        html=_html(text, told, draft, footer, translator.lang),
    )


def _filled(text: str, told: dict[str, str]) -> str:
    # Names come from forms: a brace in one is no field.
    return re.sub(r"\n{3,}", "\n\n", _FIELD.sub(lambda m: told.get(m[1], m[0]), text)).strip()


def _html(text: str, told: dict[str, str], draft: MailDraft, footer: str, lang: str) -> str:
    """The same as a page of paragraphs; the report keeps its lists."""
    parts = []
    for paragraph in text.strip().split("\n\n"):
        if paragraph.strip() == "{report}":
            parts.append(Markup(draft.body_html))
            continue
        filled = _filled(paragraph, told)
        if filled:
            lines = Markup("<br>").join(_linked(line, told["link"]) for line in filled.split("\n"))
            parts.append(Markup("<p>{}</p>").format(lines))
    small = "font-size:13px;color:#595959;margin:4px 0"
    parts += [Markup('<p style="{}">{}</p>').format(small, line) for line in footer.split("\n")]
    style = (
        "font:16px/1.5 system-ui,'Segoe UI',Roboto,Arial,sans-serif;color:#1a1a1a;"
        "background:#ffffff;max-width:640px"
    )
    page = Markup(
        '<!doctype html>\n<html lang="{}"><head><meta charset="utf-8"><title>{}</title></head>\n'
        '<body style="{}">\n{}\n</body></html>\n'
    )
    return str(page.format(lang, draft.route, style, Markup("\n").join(parts)))


def _linked(line: str, link: str) -> Markup:
    """The line with the link to press."""
    if not link or link not in line:
        return escape(line)
    before, _, after = line.partition(link)
    return escape(before) + Markup('<a href="{}">{}</a>').format(link, link) + escape(after)
