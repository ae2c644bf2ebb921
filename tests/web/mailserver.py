"""A mail server of our own on loopback, with a certificate that only who is told so trusts."""

from __future__ import annotations

import email
import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import policy
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import trustme
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

USER, SECRET = "desk", "rill-over-stones"


@dataclass
class MailServer:
    """port, ca : where it listens, and the file of the certificate that vouches for it
    mails : what came in, with the addresses they were sent to"""

    port: int
    ca: Path
    mails: list[EmailMessage] = field(default_factory=list)
    sent_to: list[list[str]] = field(default_factory=list)

    async def handle_DATA(self, _: Any, __: Any, envelope: Any) -> str:  # noqa: N802 - its name
        told = email.message_from_bytes(envelope.content, policy=policy.default)
        assert isinstance(told, EmailMessage)
        self.mails.append(told)
        self.sent_to.append(list(envelope.rcpt_tos))
        return "250 OK"


def _knows(_: Any, __: Any, ___: Any, ____: str, given: Any) -> AuthResult:
    assert isinstance(given, LoginPassword)
    right = (given.login, given.password) == (USER.encode(), SECRET.encode())
    return AuthResult(success=right, handled=right)


@contextmanager
def mail_server(folder: Path) -> Iterator[MailServer]:
    """A server that takes mails by STARTTLS from who signs in."""
    authority = trustme.CA()
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    authority.issue_cert("localhost").configure_cert(context)
    ca = folder / "ca.pem"
    authority.cert_pem.write_to_path(str(ca))
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = MailServer(port=port, ca=ca)
    controller = Controller(
        server, hostname="127.0.0.1", port=port, tls_context=context, require_starttls=True,
        auth_required=True, authenticator=_knows,
    )  # fmt: skip
    controller.start()
    try:
        yield server
    finally:
        controller.stop()
