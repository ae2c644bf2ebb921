"""What goes wrong is said in the reader's language, in the desk's look, with a way back."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from terrain.web.app import inner
from tests.web.conftest import Office
from tests.web.standin import GPX

HUGE = "9" * 21


def _is_ours(text: str, lang: str) -> None:
    assert f'<html lang="{lang}">' in text
    assert "/static/web.css" in text and "<h1>" in text


def test_six_files_are_told_beside_what_was_typed(office: Office) -> None:
    link = office.booking(lang="es")
    files = [("files", (f"{n}.gpx", GPX)) for n in range(6)]
    told = {"rider": "expert", "depart": "2027-03-14T07:30", "lang": "es"}
    for path in (link, "/ride"):
        got = office.client.post(path, data=told, files=files)
        assert got.status_code == 422
        _is_ours(got.text, "es")
        assert "Son 6 archivos; se aceptan hasta 5" in got.text
        assert 'value="2027-03-14T07:30"' in got.text
        assert '<option value="expert" selected>' in got.text
    staff = office.as_role("staff")
    got = staff.post("/desk/b/K1/routes", files=files)
    assert got.status_code == 422 and "These are 6 files" in got.text


def test_a_body_too_large_is_refused_in_the_readers_language(office: Office) -> None:
    link = office.booking(lang="fr")
    big = {"files": ("a.gpx", b"x" * 21_000_000)}
    got = office.client.post(link, data={"rider": "steady"}, files=big)
    assert got.status_code == 413
    _is_ours(got.text, "fr")
    assert "plus de 20 MB" in got.text and f'href="{link}"' in got.text
    admin = office.as_role("admin")
    admin.post("/account/language", {"lang": "es"})
    got = admin.post("/desk/tokens", {"name": "x" * 400_000})
    assert got.status_code == 413
    _is_ours(got.text, "es")
    assert "300 kB" in got.text and 'href="/desk"' in got.text
    got = office.client.post("/api/v1/bookings", headers=office.token(), content=b"x" * 21_000_000)
    assert got.status_code == 413 and "more than" in got.json()["error"]["what"]


def test_pages_that_are_not_there_leave_a_way_back(office: Office) -> None:
    admin, link = office.as_role("admin"), office.booking(lang="es")
    admin.post("/account/language", {"lang": "fr"})
    for path in (f"/guide/{HUGE}", "/guide/abc", "/guide/-1", "/nowhere", "/guide?page=x",
                 f"/desk/b/K1/report/{HUGE}", f"/desk/import/{HUGE}"):  # fmt: skip
        got = admin.get(path)
        assert got.status_code == 404, path
        _is_ours(got.text, "fr")
        assert 'href="/desk"' in got.text, path
    for path in (f"/desk/notes/{HUGE}/delete", f"/desk/people/{HUGE}", f"/guide/{HUGE}"):
        assert admin.post(path).status_code == 404, path
    for path in (f"{link}/nothing", f"{link}?route=x"):
        got = office.client.get(path)
        assert got.status_code == 404
        _is_ours(got.text, "es")
        assert f'href="{link}"' in got.text
    got = office.client.get("/nowhere")
    assert got.status_code == 404 and 'href="/ride"' in got.text


def test_an_address_says_all_that_it_takes(office: Office) -> None:
    """RFC 9110, 10.2.1 and 15.5.6: Allow lists the methods of the resource."""
    token = office.token()
    got = office.client.put("/api/v1/bookings/K1", headers=token)
    assert got.status_code == 405 and got.headers["allow"] == "DELETE, GET, PATCH"
    assert office.client.put("/api/v1/bookings").headers["allow"] == "GET, POST"
    got = office.as_role("staff").client.delete("/desk/new")
    assert got.status_code == 405 and got.headers["allow"] == "GET, POST"
    _is_ours(got.text, "en")
    assert 'href="/desk"' in got.text


def test_a_page_that_breaks_leaves_a_way_back(
    office: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    link = office.booking(lang="es")

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError

    monkeypatch.setattr("terrain.web.rider_pages._form_page", broken)
    with TestClient(office.client.app, raise_server_exceptions=False) as client:
        got = client.get(link)
    assert got.status_code == 500
    _is_ours(got.text, "es")
    assert f'href="{link}"' in got.text


_ODD = ("0", "-1", HUGE, "abc", "%00", "1e309", "nan", "é", "a" * 400, "..%2f..", "'\"<>")


def test_no_page_breaks_on_an_odd_address(office: Office) -> None:
    """Every address that is read, with odd texts in each of its places and in its query: a number
    past all others at each of them, of the rest three by turns."""
    link = office.booking()
    office.send(link)
    office.work()
    admin, token = office.as_role("admin"), office.token()
    paths = {
        route.path for route in inner(office.client.app).state.page_routes  # type: ignore[arg-type]
        if "GET" in route.methods
    }  # fmt: skip
    assert len(paths) > 30
    for n, pattern in enumerate(sorted(paths)):
        for odd in {HUGE, *(_ODD[(n + turn) % len(_ODD)] for turn in (0, 4, 8))}:
            path = pattern.replace("/t/{link}", link)
            path = re.sub(r"\{[^}]+\}", odd, path)
            query = f"?page={odd}&level={odd}&lon={odd}&lat={odd}&change={odd}&q={odd}&route={odd}"
            for address in (path, path.replace(odd, "1") + query):
                got = admin.client.get(address, headers=token)
                assert got.status_code < 500, address
    for query in ("level=3&lon=nan&lat=nan", "level=3&lon=inf&lat=1e308", "level=99999999999"):
        for path in ("/desk/notes", "/desk/helpers", f"{link}/map.svg"):
            assert admin.get(f"{path}?{query}").status_code < 500, (path, query)
