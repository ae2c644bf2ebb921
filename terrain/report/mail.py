"""The report as a mail draft that staff finish and send.

Plain text and HTML bodies, the PDF and the GPX attached, `X-Unsent: 1` so that common
mail programs open it as a draft. Headers come from the standard library, which refuses a line
break in one; names lose theirs before.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime
from email import policy
from email.errors import MessageError
from email.headerregistry import Address
from email.message import EmailMessage
from email.utils import format_datetime
from functools import lru_cache, partial
from traceback import extract_tb
from typing import Any, NamedTuple

import jinja2
from markupsafe import Markup

from terrain.errors import InputError, UsageError
from terrain.report.data.jsonfile import report_data
from terrain.report.desk.group import group_lines
from terrain.report.desk.strip import mark_runs, strip_of, strip_runs, strip_words
from terrain.report.detours import told_detours
from terrain.report.drawing.ink import LIGHT
from terrain.report.files import asset
from terrain.report.html import whole_words
from terrain.report.page.lead import ShareRow, share_rows
from terrain.report.said import about_line, finding_head, made_lines, more_unsaid
from terrain.text.message import message
from terrain.text.plain import plain_line, shortened
from terrain.text.translator import Translator
from terrain.values.advice import SetupChoice
from terrain.values.answers import PARTS_TICKED, TICKED
from terrain.values.group import Group
from terrain.values.report import Report
from terrain.values.verdict import Audience, Finding, Rank

_LONGEST_SUBJECT = 150
_SHORTEST_TITLE = 24
_MOST_KNOW = 3  # findings beside those that forbid; all dangers are told


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    """A file that goes with the mail. kind : MIME type such as application/pdf"""

    name: str
    kind: str
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class MailDraft:
    """A mail before it has an address: subject and bodies, ready to be kept.

    made_at : of the report, ISO 8601; seed : what the report is told from others by
    route, about : the route's name, and the trip in a line; verdict : its headline
    body, body_html : what stands between greeting and close and says all that decides
    asked : what the rider is asked; footer : what it rests on, a line each
    """

    subject: str
    plain: str
    html: str
    made_at: str
    seed: str
    route: str = ""
    about: str = ""
    verdict: str = ""
    body: str = ""
    body_html: str = ""
    asked: tuple[str, ...] = ()
    footer: tuple[str, ...] = ()

    def to_json(self) -> str:
        return json.dumps(asdict(self), ensure_ascii=False)

    @classmethod
    def from_json(cls, text: str) -> MailDraft:
        told = json.loads(text)
        lists = {key: tuple(told[key]) for key in ("asked", "footer") if key in told}
        return cls(**{**told, **lists})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """One thing to know: what and where without a full stop; why and what to do in sentences."""

    what: str
    then: str


class _MailStrip(NamedTuple):
    """The ground along the ride as rows of cells, ink and share [%] of each, and in words.

    Mail programs hide pictures until they are asked for, and many draw no SVG; they all draw cells.
    """

    closed: tuple[tuple[str, float], ...]
    ground: tuple[tuple[str, float], ...]
    hard: tuple[tuple[str, float], ...]
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _MailPage:
    """What the bodies say of a report, in words."""

    title: str
    about: str
    verdict: str
    lead: str
    certainty: str
    shares: tuple[ShareRow, ...]
    strip: _MailStrip
    know: tuple[_Told, ...]
    more: str
    forbidden: tuple[str, ...]
    forbids: bool
    grave: bool
    detours_title: str
    detours: tuple[str, ...]
    unknown: tuple[str, ...]
    footer: tuple[str, ...]


def make_draft(
    report: Report,
    translator: Translator,
    *,
    template: str | None = None,
    template_source: str = "",
    group: Group | None = None,
) -> MailDraft:
    """The mail to the rider; the same report gives the same draft.

    template : the text of the plain body in place of ours, see templates/mail.txt
    template_source : the template's file, as shown to people
    group : all riders of the report's booking, to stand before what is said to the first
    Raises InputError for a template that cannot be filled in or leaves out what decides the ride.
    """
    page = _page(report, translator)
    told = () if group is None else group_lines(group, translator)
    advice = report.assessed.advice
    values: dict[str, Any] = {
        "page": page,
        "group": told,
        "first": "" if group is None else translator.translate_term(group.riders[0].name),
        "lead": _lead(report, translator),
        "asked": _asked(report, translator),
        "asks_first": report.verdict.answer is SetupChoice.ASK and not _is_grave(report),
        "questions": [plain_line(translator.translate(x.text)) for x in advice.questions],
        "cautions": [
            plain_line(translator.translate(x.text))
            for x in advice.cautions
            if x.is_for(Audience.RIDER.value)
        ],
        "_": translator._,
        "plain": plain_line,
        "inks": LIGHT,
    }
    body = _plain_text(asset("mail_body.txt"), values).rstrip("\n")
    body_html = _html_text("mail_body.html", values)
    values["body"] = body
    if template is None:
        plain = _plain_text(asset("mail.txt"), values)
    else:
        plain = _filled(template, {**values, "facts": report_data(report)}, template_source)
        _check_said(plain, (page.verdict, *told[:1], *page.forbidden), template_source)
    route = report.assessed.route.name
    made_at = report.made_at.isoformat(timespec="seconds")
    return MailDraft(
        subject=_subject(
            page.title, told[0] if told else page.verdict, translator, len(values["asked"])
        ),
        plain=plain,
        html=_html_text(
            "mail.html", {**values, "lang": translator.lang, "body": Markup(body_html)}
        ),
        made_at=made_at,
        route=plain_line(page.title),
        about=plain_line(page.about),
        verdict=plain_line(told[0] if told else page.verdict),
        body=body,
        body_html=body_html,
        asked=tuple(values["asked"]),
        footer=tuple(plain_line(line) for line in page.footer),
        seed=f"{made_at} {route} {round(report.assessed.match.length_m, 1)}",
    )


def render_eml(
    draft: MailDraft,
    *,
    attachments: tuple[Attachment, ...] = (),
    to: str = "",
    sender: str = "",
) -> bytes:
    """The draft as a .eml file; the same draft gives the same bytes.

    to : address of the booking; left open if empty
    sender : whom it comes from, for a mail that goes out as it is; a draft if empty
    Raises UsageError for an address that mail cannot go to.
    """
    message = EmailMessage(policy=policy.SMTP.clone(max_line_length=78))
    message["Subject"] = draft.subject
    message["Date"] = format_datetime(datetime.fromisoformat(draft.made_at))
    if to:
        message["To"] = checked_addresses(to)
    if sender:
        message["From"] = checked_addresses(sender)
        message["Auto-Submitted"] = "no"
    else:
        message["X-Unsent"] = "1"
    message.set_content(draft.plain, cte="quoted-printable")
    message.add_alternative(draft.html, subtype="html", cte="quoted-printable")
    for item in attachments:
        main, sub = item.kind.split("/")
        message.add_attachment(item.data, maintype=main, subtype=sub, filename=item.name)
    _fix_boundaries(message, draft.seed)
    return message.as_bytes()


def _page(report: Report, translator: Translator) -> _MailPage:
    """All that forbids or endangers, and some of the rest, in the rider's words."""
    verdict = report.verdict
    first = verdict.first(_MOST_KNOW)
    shown = [item for item in verdict.findings if item.rank is Rank.DANGER or item in first]
    shares, rests = share_rows(report, translator)
    ways = told_detours(report, translator)
    return _MailPage(
        title=report.assessed.route.name,
        about=about_line(report, translator),
        verdict=translator.translate(verdict.headline),
        lead=translator.translate(verdict.lead),
        certainty=rests,
        shares=shares,
        strip=_strip(report, translator),
        know=tuple(_told(item, translator) for item in shown),
        more=more_unsaid(len(verdict.findings) - len(shown), translator),
        forbidden=tuple(finding_head(item, translator) for item in verdict.forbidden),
        forbids=bool(verdict.forbidden),
        grave=_is_grave(report),
        detours_title=ways.title,
        detours=tuple(translator.translate(way.words) for way in ways.ways),
        unknown=tuple(translator.translate(item.why) for item in verdict.unknown),
        footer=made_lines(report, translator),
    )


def _is_grave(report: Report) -> bool:
    """Whether something forbids or endangers the ride, which is said before what is asked."""
    return bool(report.verdict.of(Rank.FORBIDDEN, Rank.DANGER))


def _strip(report: Report, translator: Translator) -> _MailStrip:
    strip = strip_of(report)
    words = strip_words(strip, translator)
    return _MailStrip(
        closed=mark_runs(strip.closed, strip.length_m), ground=strip_runs(strip),
        hard=mark_runs(strip.hard, strip.length_m), words=f"{words[:1].upper()}{words[1:]}.",
    )  # fmt: skip


def _told(item: Finding, translator: Translator) -> _Told:
    then = (item.why, item.do.to(Audience.RIDER))
    return _Told(
        what=finding_head(item, translator),
        then=" ".join(filter(None, (translator.translate(text) for text in then))),
    )


def _lead(report: Report, translator: Translator) -> str:
    """The desk's reason, the bike, and what to settle first unless the questions below ask it."""
    verdict, setup = report.verdict, report.assessed.advice.setup
    reason = translator.translate(setup.reasons[0].text) if verdict.decided else ""
    bike = translator.translate(verdict.bike_text)
    asks = report.assessed.advice.questions or verdict.asked
    settle = "" if asks else translator.translate(verdict.to_settle)
    left = [translator.translate(part.words) for part in report.assessed.answered]
    return " ".join(part for part in (reason, *left, bike, settle) if part)


def checked_addresses(text: str) -> str:
    """The addresses as a header takes them; a domain in other letters in its plain form.

    Raises UsageError for what mail cannot go to. Sources: RFC 5322 3.4; RFC 3490 for domains.
    """
    try:
        header = policy.SMTP.header_factory("To", plain_line(text))
        found = () if header.defects else header.addresses
        kept = [Address(a.display_name, a.username, _plain_domain(a.domain)) for a in found]
    except (ValueError, IndexError, MessageError):
        kept = []
    if not kept or not all(a.username and a.username.isascii() and "." in a.domain for a in kept):
        raise UsageError(
            message(
                "{shortened} is no address that mail can go to",
                shortened=repr(shortened(plain_line(text), 60)),
            ),
            "--mail-to",
            message("Write it as name@example.org; several with commas between."),
        )
    return ", ".join(map(str, kept))


def _plain_domain(domain: str) -> str:
    return domain.encode("idna").decode("ascii") if domain else ""


def _subject(title: str, verdict: str, translator: Translator, n_questions: int) -> str:
    """Route, verdict and how many questions; the route's name gives way to the verdict, and its
    last sentences to the first."""
    sentences = verdict.rstrip(".").split(". ")
    asked = translator.n_("one question", "{n} questions", n_questions)
    for n in range(len(sentences), 0, -1):
        told = ". ".join(sentences[:n])
        if n_questions:
            told = translator._("{verdict} ({questions})", verdict=told, questions=asked)
        room = max(_SHORTEST_TITLE, _LONGEST_SUBJECT - len(told) - 2)
        named = shortened(title, room)
        text = plain_line(translator._("{route}: {verdict}", route=named, verdict=told))
        if len(text) <= _LONGEST_SUBJECT:
            return text
    return text[: _LONGEST_SUBJECT - 1] + "…"


def _filled(template: str, values: dict[str, Any], source: str) -> str:
    try:
        return _plain_text(template, values)
    except Exception as exc:  # whatever goes wrong in a template of theirs is for them to mend
        said = str(exc) or type(exc).__name__
        raise InputError(
            message("the mail template cannot be filled in ({said})", said=str(said)),
            ", ".join(filter(None, (source, _line_of(exc)))),
            message("Start from the template that comes with terrain."),
        ) from exc


def _check_said(plain: str, needed: Iterable[str], source: str) -> None:
    """Raises InputError if a filled template lacks one of the sentences, in whatever lines."""
    said = " ".join(plain.split())
    for sentence in needed:
        if " ".join(plain_line(sentence).split()) not in said:
            raise InputError(
                message("the mail template leaves out what decides: {sentence}", sentence=sentence),
                source,
                message("Put {field} in: it says all that decides.", field="{{ body }}"),
            )  # fmt: skip


def _plain_text(source: str, values: dict[str, Any]) -> str:
    return str(_template(source, autoescape=False).render(values)).strip() + "\n"


def _line_of(exc: Exception) -> str:
    """Where in the template; "" if that is not told."""
    if isinstance(exc, jinja2.TemplateSyntaxError):
        return f"line {exc.lineno}"
    lines = [row.lineno for row in extract_tb(exc.__traceback__) if row.filename == "<template>"]
    return f"line {lines[-1]}" if lines else ""


def _html_text(name: str, values: dict[str, Any]) -> str:
    return str(_template(asset(name), autoescape=True).render(values))


def _asked(report: Report, translator: Translator) -> list[str]:
    """What the rider is asked: the parts to say yes or no to, with what a no would mean, then
    what needs words."""
    parts = [
        " ".join(
            filter(None, (translator.translate(part.text), translator.translate(part.if_left)))
        )
        for part in report.verdict.asked
        if part.code not in PARTS_TICKED  # all of them are in one question below
    ]
    rest = [x.text for x in report.assessed.advice.questions if x.code not in TICKED]
    return [plain_line(line) for line in (*parts, *map(translator.translate, rest))]


@lru_cache(maxsize=16)
def _template(source: str, *, autoescape: bool) -> jinja2.Template:
    return _environment(autoescape=autoescape).from_string(source)


def _environment(*, autoescape: bool) -> jinja2.Environment:
    # A sandbox: the plain body may come from a file that staff edit, and must not change the facts.
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    environment = ImmutableSandboxedEnvironment(
        autoescape=autoescape,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["whole_words"] = partial(whole_words, keeps='style="white-space:nowrap"')
    return environment


def _fix_boundaries(message: EmailMessage, seed: str) -> None:
    """Boundaries from the report instead of chance, so that the bytes can be compared."""
    for n, part in enumerate(message.walk()):
        if part.is_multipart():
            digest = hashlib.sha256(f"{seed} {n}".encode()).hexdigest()[:32]
            part.set_boundary(f"=_{digest}")


def check_template(text: str, where: str) -> None:
    """Raises InputError for a template that cannot be understood, with its line."""
    try:
        _environment(autoescape=False).parse(text)
    except jinja2.TemplateSyntaxError as exc:
        raise InputError(
            message("the mail template has a fault ({text})", text=str(exc.message)),
            message("{file}, line {line}", file=where, line=str(exc.lineno)),
            message("Start from the template that comes with terrain."),
        ) from exc
