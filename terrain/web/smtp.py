"""Mails go out over SMTP, always within TLS; the certificate of the server is checked."""

from __future__ import annotations

import smtplib
import ssl
from contextlib import suppress

from terrain.errors import TerrainError
from terrain.text.message import message
from terrain.web.settings import WebSettings

_WAIT_S = 20.0
_PORTS = {"starttls": 587, "implicit": 465}  # RFC 6409, RFC 8314


class MailError(TerrainError):
    """The mail server did not take the mail; nothing of it went out."""

    http_status = 502


def send_mail(settings: WebSettings, mail: bytes, *, to: str) -> None:
    """Hand a mail to the operator's server.

    mail : as RFC 5322 has it; to : the address it goes to
    Raises MailError if the server is not there, is not whom its certificate says, or refuses.
    """
    try:
        context = ssl.create_default_context(cafile=settings.mail_ca or None)
        server = _connect(settings, context)
    except (OSError, smtplib.SMTPException) as exc:
        raise _refused(exc) from exc
    try:
        if settings.mail_user:
            server.login(settings.mail_user, settings.mail_password)
        server.sendmail(settings.mail_from, [to], mail)
    except (OSError, smtplib.SMTPException) as exc:
        raise _refused(exc) from exc
    finally:
        # What was taken is taken, however the server says good-bye.
        with suppress(OSError, smtplib.SMTPException):
            server.quit()


def _connect(settings: WebSettings, context: ssl.SSLContext) -> smtplib.SMTP:
    host = settings.mail_host
    port = settings.mail_port or _PORTS[settings.mail_tls]
    if settings.mail_tls == "implicit":
        return smtplib.SMTP_SSL(host, port, timeout=_WAIT_S, context=context)
    server = smtplib.SMTP(host, port, timeout=_WAIT_S)
    try:
        server.starttls(context=context)
    except BaseException:
        server.close()
        raise
    return server


def _refused(exc: Exception) -> MailError:
    if isinstance(exc, smtplib.SMTPAuthenticationError):
        reason = message("the mail server does not know the user or the password")
    elif isinstance(exc, smtplib.SMTPRecipientsRefused):
        reason = message("the mail server refuses the address")
    elif isinstance(exc, ssl.SSLError):
        reason = message("the mail server's certificate cannot be trusted")
    elif isinstance(exc, smtplib.SMTPException):
        reason = message("the mail server refuses it ({text})", text=str(exc)[:120])
    else:
        reason = message("the mail server does not answer ({text})", text=str(exc)[:120])
    return MailError(
        message("the mail was not sent: {reason}", reason=reason),
        "",
        message("Try again, or download the draft and send it yourself."),
    )
