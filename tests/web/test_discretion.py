"""What riders take away, whom the desk answers to, what is written down, and presses sent twice."""

from __future__ import annotations

import io
import re
import time
import zipfile

import pytest
import sqlalchemy as sa
from starlette.testclient import TestClient

from terrain.web import schema
from terrain.web.app import create_app
from terrain.web.retention import forget_old
from tests.web.conftest import PASSWORD, Office, replace, sign_in
from tests.web.standin import GPX
from tests.web.test_import import take_in


def test_the_riders_download_holds_no_word_of_staff(office: Office) -> None:
    link = office.booking(remark="haggles, nice dog")
    office.send(link)
    office.work()
    staff = office.as_role("staff")
    take_in(staff, b"ref,remark\nK1,haggles more\n")
    for client, path, all_of_it in (
        (office.client, f"{link}/export.zip", False), (staff.client, "/desk/b/K1/export.zip", True),
    ):  # fmt: skip
        with zipfile.ZipFile(io.BytesIO(client.get(path).content)) as archive:
            names = archive.namelist()
            text = "".join(archive.read(n).decode("utf-8", "replace") for n in names)
        assert any(".html" in n and "rider" in n for n in names)
        assert any("staff" in n or "guide" in n for n in names) is all_of_it
        assert ("haggles" in text) is all_of_it


def test_only_names_of_the_desk_are_answered_to(office: Office) -> None:
    """OWASP WSTG-INPV-17 (from memory): a link in a mail is made of the name that was asked for."""
    ours = replace(office.settings, public_url="https://rides.example/desk")
    asked = (
        (ours, "127.0.0.1", {"rides.example": 200, "127.0.0.1:8000": 200, "evil.example": 421}),
        (office.settings, "192.0.2.7", {"192.0.2.7:8000": 200, "evil.example": 421, "": 421}),
        (office.settings, "0.0.0.0", {"192.0.2.9": 200, "[2001:db8::1]:80": 200, "x.example": 421}),
    )
    for settings, listens_on, hosts in asked:
        with TestClient(create_app(settings, listens_on=listens_on)) as client:
            for host, status in hosts.items():
                got = client.get("/ride", headers={"host": host})
                assert got.status_code == status, (listens_on, host)
                assert client.get("/health", headers={"host": host}).status_code == 200


def test_deletions_and_refused_sign_ins_are_written_down(
    office: Office, admin_with_password: str, capfd: pytest.CaptureFixture[str]
) -> None:
    sign_in(office.client, admin_with_password, "not the password")
    assert re.search(r'"at": "[^"]+", "event": "sign-in refused", "address": "testclient"',
                     capfd.readouterr().err)  # fmt: skip
    office.booking("K1")
    office.booking("K2")
    office.as_role("staff").post("/desk/b/K1/delete", {"sure": "yes"})
    assert office.client.delete("/api/v1/bookings/K2", headers=office.token()).status_code == 204
    text = office.as_role("admin").get("/desk/audit").text
    rows = re.sub(r"<[^>]+>|\s+", " ", text[text.index("<tbody>") :])
    for line in ("testclient sign-in refused", "staff booking deleted: K1",
                 "api: test booking deleted: K2"):  # fmt: skip
        assert line in re.sub(r" +", " ", rows), rows
    assert office.as_role("staff").get("/desk/audit").status_code == 403


def test_the_audit_names_what_was_deleted_brought_back_and_changed(office: Office) -> None:
    staff, admin = office.as_role("staff"), office.as_role("admin")
    staff.post("/desk/notes", {"points": "2.0,1.0", "ground": "track", "date": "2020-05-01",
                               "remark": "asked at Ada Rill's"})  # fmt: skip
    staff.post("/desk/helpers", {"points": "2.0,1.0", "name": "Mill garage", "kind": "mechanic"})
    staff.post("/desk/bikes", {"do": "add", "name": "R-7", "bike": "dual-sport"})
    office.booking("K1")
    office.booking("OLD")
    gone = {
        "note": staff.post("/desk/notes/1/delete"), "helper": staff.post("/desk/helpers/1/delete"),
        "bike": staff.post("/desk/bikes", {"do": "delete", "id": "1"}),
        "booking": staff.post("/desk/b/K1/delete", {"sure": "yes"}),
    }  # fmt: skip
    number = {key: got.headers["location"].rpartition("gone=")[2] for key, got in gone.items()}
    staff.post(f"/desk/deleted/{number['helper']}", {"do": "back"})
    staff.post(f"/desk/deleted/{number['note']}", {"do": "forget"})
    staff.post(f"/desk/deleted/{number['booking']}", {"do": "forget"})
    admin.post("/desk/people", {"name": "Kit", "role": "guide", "password": PASSWORD})
    with office.db.read() as conn:
        kit = conn.execute(
            sa.select(schema.users.c.id).where(schema.users.c.name == "Kit")
        ).scalar()
    admin.post(f"/desk/people/{kit}/role", {"role": "staff"})
    admin.post(f"/desk/people/{kit}/reset")
    admin.post(f"/desk/people/{kit}", {"active": "no"})
    admin.post(f"/desk/people/{kit}", {"active": "yes"})
    admin.post("/desk/tokens", {"name": "shop"})
    admin.post("/desk/tokens/3/delete")
    forget_old(office.db, 30, time.time() + 31 * 86400)  # sessions of today go too
    text = office.as_role("admin").get("/desk/audit").text
    rows = re.sub(r"<[^>]+>|\s+", " ", text[text.index("<tbody>") :])
    said = re.sub(r" +", " ", rows)
    for line in (
        "staff note deleted: track, 2020-05-01", "staff helper deleted: Mill garage",
        "staff bike taken away: R-7", "staff booking deleted: K1",
        "staff taken back: Mill garage", "staff deleted for good: track, 2020-05-01",
        "staff deleted for good: K1", "desk kept long enough, deleted: OLD",
        "admin account made: Kit, guide", "admin account changed: Kit, staff",
        "admin reset link made: Kit", "admin account kept out: Kit", "admin account let in: Kit",
        "admin token made: shop", "admin token deleted: shop",
    ):  # fmt: skip
        assert line in said, (line, said)
    assert "Ada" not in said


def test_the_description_of_the_api_names_its_token(office: Office) -> None:
    """OpenAPI 3.1, Security Scheme Object."""
    told = office.client.get("/api/v1/openapi.json").json()
    assert told["components"]["securitySchemes"] == {"token": {"type": "http", "scheme": "bearer"}}
    assert told["security"] == [{"token": []}]


def test_what_is_sent_twice_is_one(office: Office) -> None:
    def n_bookings() -> int:
        return len(office.client.get("/api/v1/bookings", headers=office.token()).json())

    told = {"rider": "steady", "once": "o" * 16}
    sent = [
        office.client.post("/ride", data=told, files={"files": ("a.gpx", GPX)}) for _ in range(2)
    ]
    assert [got.status_code for got in sent] == [303, 303]
    assert n_bookings() == 1
    assert office.client.get(sent[1].headers["location"]).status_code == 200
    staff = office.as_role("staff")
    once = re.search(r'name="once" value="(\w+)"', staff.get("/desk/new").text)
    assert once
    form = {"customer": "Ada", "once": once[1]}
    assert [staff.post("/desk/new", form).status_code for _ in range(2)] == [200, 303]
    assert n_bookings() == 2
    office.work()
    assert office.client.post("/ride", data={**told, "once": "p" * 16},
                              files={"files": ("a.gpx", GPX)}).status_code == 303  # fmt: skip
    assert n_bookings() == 3
