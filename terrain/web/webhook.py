"""Tells the operator's booking system that a report is ready.

The body is signed: X-Terrain-Signature is "sha256=" and the HMAC-SHA-256 of the body with the
shared secret (RFC 2104), in hex. It names no person; the system asks the API for more.
"""

from __future__ import annotations

import hashlib
import hmac
import http.client
import json
import urllib.request
from typing import Any

from terrain.web.log import say
from terrain.web.settings import WebSettings
from terrain.web.summary import Told

_TIMEOUT_S = 10.0


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_: Any, **__: Any) -> None:
        return None


def signature(secret: str, body: bytes) -> str:
    return "sha256=" + hmac.new(secret.encode(), body, hashlib.sha256).hexdigest()


def send_webhook(
    settings: WebSettings, job_id: int, ref: str, report_id: int, summary: Told
) -> bool:
    """Send one message; True if it was taken (2xx). Redirects are not followed."""
    told = summary.model_dump(include={"setup", "bike", "verdict", "forbidden", "mismatch"})
    body = json.dumps({"event": "report.ready", "ref": ref, "report_id": report_id, **told})
    data = body.encode()
    request = urllib.request.Request(
        settings.webhook_url,
        data=data,
        method="POST",
        headers={
            "Content-Type": "application/json",
            # The same message sent twice has the same key.
            "Idempotency-Key": f"terrain-{job_id}",
            "X-Terrain-Signature": signature(settings.webhook_secret, data),
        },
    )
    opener = urllib.request.build_opener(_NoRedirect)
    try:
        with opener.open(request, timeout=_TIMEOUT_S) as answer:
            return 200 <= int(answer.status) < 300
    except (http.client.HTTPException, OSError, ValueError) as exc:
        say("webhook not taken", error=type(exc).__name__)
        return False
