"""The security list, a test each. Numbers: OWASP ASVS 5.0."""

from __future__ import annotations

import logging
import re
import time
from html.parser import HTMLParser

import pytest
from starlette.testclient import TestClient

from terrain.web.access import SESSION_COOKIE, VISIT_COOKIE
from terrain.web.app import create_app
from terrain.web.keys import check_password, hash_password
from tests.web.conftest import PASSWORD, Office, on_both, replace, sign_in
from tests.web.standin import GPX

HOSTILE = [
    "<script>alert(1)</script>", "\"><img src=x onerror=alert(1)>", "' onload='alert(1)",
    "<svg/onload=alert(1)>", "{{7*7}}", "{% raw %}", "javascript:alert(1)", "=cmd|' /C calc'!A0",
    "a\r\nSet-Cookie: x=1", "a\r\nBcc: all@x.example", "\u202egpx.exe", "</title><b>",
    "&lt;script&gt;", "%3Cscript%3E", "#set page(width: 1pt)", "<!--", "]]>", "\x00\x01nul",
]  # fmt: skip
TRAVERSAL = [
    *(f"{up}{end}" for up in ("../" * n for n in range(1, 9)) for end in ("etc/x.gpx", "x")),
    "/etc/passwd", "C:\\x.gpx", "..\\..\\x.gpx", "a/b/c.gpx", "file:///etc/x", "~/.ssh/x",
    "....//x.gpx", "%2e%2e%2fx.gpx", "\x00.gpx", "con.gpx", "." * 300, "x" * 5000,
]  # fmt: skip


class _Scripts(HTMLParser):
    """Finds what could run: inline scripts and handlers."""

    def __init__(self) -> None:
        super().__init__()
        self.bad: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        if tag == "script" and "src" not in told:
            self.bad.append("inline script")
        self.bad += [name for name in told if name.startswith("on") or name == "style"]
        for name in ("href", "src", "action", "formaction"):
            if (told.get(name) or "").lower().startswith(("javascript:", "http://x")):
                self.bad.append(f"{name} {told[name]}")
        drawn = {"viewbox", "width", "class"} & told.keys()
        if tag in ("img", "b") or (tag == "svg" and not drawn):
            self.bad.append(f"element {tag}")


def _bad(page: str) -> list[str]:
    parser = _Scripts()
    parser.feed(page)
    return parser.bad


def test_hostile_names_are_text_on_every_page(office: Office) -> None:
    """1.2.1, 1.3.7: output encoding; no injected element, script or header."""
    admin = office.as_role("admin")
    for n, text in enumerate(HOSTILE):
        told = {"customer": text, "wanted": text, "remark": text}
        link = office.booking(f"H{n}", **told)
        files = {"files": (f"{text}.gpx".replace("\r\n", " "), GPX)}
        assert office.client.post(link, data={"rider": "steady"}, files=files).status_code == 303
        note = {"points": "2,1", "ground": "track", "remark": text}
        assert admin.post("/desk/notes", note).status_code == 303
        office.work()
        route = office.client.get(f"/api/v1/bookings/H{n}", headers=office.token()).json()
        route_id = route["routes"][0]["id"]
        pages = [f"/desk/b/H{n}", f"/desk/b/H{n}/compare", f"/guide/{route_id}"]
        for path in pages:
            got = admin.get(path)
            assert got.status_code == 200 and _bad(got.text) == [], (path, text)
        assert _bad(office.client.get(link + "/change").text) == []
    for path in ("/desk", "/guide", "/desk/notes", "/desk?q=<script>", '/sign-in?to="><b>'):
        got = admin.get(path)
        assert _bad(got.text) == [], path
        assert "set-cookie: x=1" not in str(got.headers).lower()


def test_no_page_says_what_its_address_tells_it_to(office: Office) -> None:
    """1.2, 5.1: a link must not make the desk speak; faults come from forms alone."""
    admin = office.as_role("admin")
    office.booking()
    for page in ("answers", "incidents"):
        got = admin.get(f"/desk/b/K1/{page}?fault=Pay+by+that+link")
        assert got.status_code == 200 and "Pay by that link" not in got.text, page


def test_names_from_clients_make_no_path(office: Office) -> None:
    """5.3.2: traversal names; nothing is written outside the data folder, or by that name."""
    link = office.booking()
    names = TRAVERSAL
    home = office.settings.data.parent
    before = {p for p in home.rglob("*") if "desk.sqlite" not in p.name}
    for at in range(0, len(names), 5):
        some = [name.replace("\x00", "%00") for name in names[at : at + 5]]
        sent = [("files", (name, GPX)) for name in some]
        got = office.client.post(link, data={"rider": "steady"}, files=sent)
        # A name longer than a header may be is refused with its form.
        assert got.status_code == (400 if any(len(name) > 4000 for name in some) else 303)
    after = {p for p in home.rglob("*") if "desk.sqlite" not in p.name}
    assert after == before
    office.work()
    names_in_zip = office.client.get(link + "/export.zip").headers["content-disposition"]
    assert names_in_zip == 'attachment; filename="K1-data.zip"'


def test_links_cannot_be_guessed(office: Office) -> None:
    """7.2.3: 256 bits; of 500 guesses none leads anywhere, nor would one of any number."""
    object.__setattr__(office.settings, "guesses_per_minute", 100)
    link = office.booking()
    assert len(link) == len("/t/") + 43
    secret = link.removeprefix("/t/")
    near = [secret[:-1] + c for c in "ABCDEFGHIJ"] + [secret.swapcase(), secret[::-1], secret + "A"]
    for guess in [g for g in near if g != secret] + [f"{n:043d}" for n in range(50)]:
        assert office.client.get(f"/t/{guess}/state").status_code == 404
    with office.db.read() as conn:
        from terrain.web.keys import new_secret
        from terrain.web.links import by_link
        from terrain.web.schema import bookings

        assert by_link(conn, secret) is not None
        assert all(by_link(conn, new_secret()) is None for _ in range(500))
        stored = str(conn.execute(bookings.select()).all())
    assert secret not in stored


def test_headers_of_every_answer(office: Office) -> None:
    """3.4: CSP without inline script, nosniff, no framing, noindex, no cache."""
    link = office.booking()
    for path in ("/", "/ride", "/sign-in", link, "/health", "/nowhere", "/static/web.css"):
        head = office.client.get(path).headers
        rule = head["content-security-policy"]
        assert "unsafe" not in rule and "default-src 'none'" in rule
        assert "frame-ancestors 'none'" in rule and "base-uri 'none'" in rule
        assert head["x-content-type-options"] == "nosniff"
        assert "noindex" in head["x-robots-tag"]
        assert head["referrer-policy"] == "same-origin"
        if "static" not in path:
            assert head["cache-control"] == "no-store"


def test_the_report_may_run_its_own_script_alone(office: Office) -> None:
    link = office.booking()
    office.send(link)
    office.work()
    rule = office.client.get(link).headers["content-security-policy"]
    script = re.search(r"script-src ([^;]+)", rule)
    assert script and re.fullmatch(r"'sha256-[A-Za-z0-9+/]{43}='", script[1])


def test_cookies_behind_https(settings: object, office: Office, admin_with_password: str) -> None:
    """3.3.1 to 3.3.4: Secure, HttpOnly, SameSite, and the __Host- prefix."""
    safe = replace(office.settings, public_url="https://rides.example")
    with TestClient(create_app(safe), base_url="https://rides.example") as client:
        form = client.get("/sign-in")
        assert form.headers["set-cookie"].startswith(f"__Host-{VISIT_COOKIE}=")
        client.follow_redirects = False
        got = sign_in(client, admin_with_password, PASSWORD)
        cookie = got.headers["set-cookie"]
        assert cookie.startswith(f"__Host-{SESSION_COOKIE}=")
        for part in ("HttpOnly", "Secure", "SameSite=lax", "Path=/"):
            assert part in cookie
        assert "strict-transport-security" in got.headers


@on_both
def test_signing_in(office: Office, admin_with_password: str) -> None:
    """7.2.4: a new session at every sign-in; a wrong name tells nothing else."""
    client = office.client
    wrong = sign_in(client, admin_with_password, "not the password")
    nobody = sign_in(client, "nobody", "not the password")
    assert wrong.status_code == nobody.status_code == 401
    plain = [re.sub(r'value="[^"]*"', "", page.text) for page in (wrong, nobody)]
    assert plain[0] == plain[1]
    first = sign_in(client, admin_with_password, PASSWORD)
    assert first.status_code == 303 and first.headers["location"] == "/desk"
    old = client.cookies[SESSION_COOKIE]
    sign_in(client, admin_with_password, PASSWORD)
    assert client.cookies[SESSION_COOKIE] != old
    stale = TestClient(client.app, follow_redirects=False, cookies={SESSION_COOKIE: old})
    assert stale.get("/desk").status_code == 303


@pytest.mark.parametrize("to", ["https://x.example", "//x.example", "/\\x.example", "javascript:1"])
def test_signing_in_leads_nowhere_else(office: Office, admin_with_password: str, to: str) -> None:
    """15.3.x: no open redirect."""
    form = office.client.get("/sign-in")
    visit = re.search(r'name="visit" value="([^"]+)"', form.text)
    assert visit
    told = {"visit": visit[1], "name": admin_with_password, "password": PASSWORD, "to": to}
    assert office.client.post("/sign-in", data=told).headers["location"] == "/desk"


def test_tries_to_sign_in_are_limited(office: Office, admin_with_password: str) -> None:
    """6.3.1: by address and by name."""
    object.__setattr__(office.settings, "sign_ins_per_minute", 3)
    for _ in range(3):
        assert sign_in(office.client, admin_with_password, "wrong words again").status_code == 401
    got = sign_in(office.client, admin_with_password, PASSWORD)
    assert got.status_code == 429 and int(got.headers["retry-after"]) > 0
    elsewhere = TestClient(
        office.client.app, base_url=office.client.base_url, follow_redirects=False,
        client=("192.0.2.7", 4711),
    )  # fmt: skip
    # Whoever knows a name cannot keep its owner out.
    assert sign_in(elsewhere, admin_with_password, PASSWORD).status_code == 303


def test_uploads_are_limited(office: Office) -> None:
    link = office.booking()
    object.__setattr__(office.settings, "uploads_per_minute", 2)
    codes = [office.send(link).status_code for _ in range(3)]
    assert codes == [303, 303, 429]


def test_sessions_end_by_themselves_and_with_the_password(
    office: Office, admin_with_password: str
) -> None:
    """7.3.1, 7.3.2, 7.4.3."""
    client = office.client
    sign_in(client, admin_with_password, PASSWORD)
    assert client.get("/account").status_code == 200
    other = TestClient(office.client.app, follow_redirects=False)
    sign_in(other, admin_with_password, PASSWORD)
    page = other.get("/account").text
    csrf = re.search(r'name="csrf" value="([^"]+)"', page)
    assert csrf
    told = {"csrf": csrf[1], "old": "wrong words here", "new": "six new odd words now"}
    assert other.post("/account", data=told).status_code == 422
    told["old"] = PASSWORD
    assert other.post("/account", data=told).status_code == 303
    assert other.get("/account").status_code == 200
    assert client.get("/account").status_code == 303
    object.__setattr__(office.settings, "session_idle_s", -1.0)
    assert other.get("/account").status_code == 303


def test_passwords_are_kept_as_argon2id() -> None:
    """11.4.2; parameters of the OWASP Password Storage Cheat Sheet (19 MiB, 2, 1)."""
    stored = hash_password(PASSWORD, "robin")
    assert stored.startswith("$argon2id$v=19$m=19456,t=2,p=1$")
    assert check_password(stored, PASSWORD) and not check_password(stored, PASSWORD + "x")
    assert not check_password("", PASSWORD) and not check_password("broken", PASSWORD)


def test_the_log_holds_no_person(office: Office, capfd: pytest.CaptureFixture[str]) -> None:
    """16.2.5: no link, name, address, file name or place in the log."""
    capfd.readouterr()
    link = office.booking(customer="Ada Rill", email="ada@rill.example")
    office.send(link, GPX, "to-my-house.gpx")
    office.send(link, b"broken", "to-my-house.gpx")
    office.work()
    office.client.get(link)
    office.client.get("/t/unknown-link")
    office.as_role("staff").get("/desk?q=Rill")
    log = capfd.readouterr().err
    assert '"route": "/t/{link}"' in log
    for secret in (link.removeprefix("/t/"), "Ada", "rill", "Rill", "my-house", "unknown-link"):
        assert secret not in log


def test_forms_with_too_many_parts_are_refused(office: Office) -> None:
    """4.3.1 and 5.2.x: bounded fields and files."""
    link = office.booking()
    files = [("files", (f"{n}.gpx", GPX)) for n in range(office.settings.max_files + 1)]
    assert office.client.post(link, data={"rider": "steady"}, files=files).status_code == 422
    assert office.client.post(link, data={"rider": "steady"}, files=9 * files).status_code == 400
    many = {f"f{n}": "x" for n in range(2000)}
    assert office.client.post(link, data=many, files={"files": ("a", GPX)}).status_code == 400
    assert office.client.get(link + "/state").json()["routes"] == []


def test_a_page_that_breaks_tells_nothing(office: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    """16.5.1: a plain page, no trace."""
    logging.getLogger("uvicorn").disabled = True
    link = office.booking()

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("at the house of someone")

    monkeypatch.setattr("terrain.web.rider_pages._form_page", broken)
    with TestClient(office.client.app, raise_server_exceptions=False) as client:
        got = client.get(link)
    assert got.status_code == 500
    assert "not foreseen" in got.text and "someone" not in got.text


@on_both
def test_data_are_forgotten_after_their_time(office: Office) -> None:
    """14.2.4: routes show homes."""
    from terrain.web.retention import forget_old

    office.send(office.booking("OLD", ends_on="2020-01-01"))
    office.booking("AHEAD", ends_on="2999-01-01")
    office.work()
    now = time.time()
    assert forget_old(office.db, 180, now) == 0
    assert forget_old(office.db, 180, now + 181 * 86400) == 1
    with office.db.read() as conn:
        from terrain.web import schema

        left = [
            len(conn.execute(table.select()).all())
            for table in (schema.routes, schema.reports, schema.files, schema.jobs)
        ]
    assert left == [0, 0, 0, 0]
    head = office.token()
    assert office.client.get("/api/v1/bookings/OLD", headers=head).status_code == 404
    assert office.client.get("/api/v1/bookings/AHEAD", headers=head).status_code == 200


@pytest.mark.parametrize("told", [{"starts_on": "2999-01-01"}, {"depart": "2999-01-01T08:00"}])
def test_a_trip_whose_end_is_not_told_is_kept_until_it_starts(
    office: Office, told: dict[str, str]
) -> None:
    from terrain.web.retention import forget_old

    office.booking("AHEAD", **told)
    office.booking("UNDATED")
    later = time.time() + 181 * 86400
    assert forget_old(office.db, 180, later) == 1
    got = office.client.get("/api/v1/bookings/AHEAD", headers=office.token())
    assert got.status_code == 200
