"""Every route of the application and who may use it."""

from __future__ import annotations

import pytest
from fastapi.routing import APIRoute

from terrain.web.access import Allow
from terrain.web.app import inner
from tests.web.conftest import Office, on_both

# The whole list: a route that is new has to be entered here with its permission.
WANTED = {
    ("GET", "/"): "open",
    ("GET", "/static/{name}"): "open",
    ("GET", "/robots.txt"): "open",
    ("GET", "/health"): "open",
    ("GET", "/metrics"): "token",
    ("GET", "/ride"): "open",
    ("POST", "/ride"): "open",
    ("GET", "/t/{link}"): "link",
    ("POST", "/t/{link}"): "link",
    ("GET", "/t/{link}/state"): "link",
    ("GET", "/desk/b/{ref}/state"): "staff",
    ("GET", "/guide/{route_id}/state"): "guide",
    ("GET", "/t/{link}/change"): "link",
    ("GET", "/t/{link}/draw"): "link",
    ("POST", "/t/{link}/draw"): "link",
    ("GET", "/t/{link}/map.svg"): "link",
    ("GET", "/t/{link}/report.{kind}"): "link",
    ("GET", "/t/{link}/export.zip"): "link",
    ("POST", "/t/{link}/delete"): "link",
    ("POST", "/t/{link}/answers"): "link",
    ("GET", "/t/{link}/ride"): "link",
    ("POST", "/t/{link}/ride"): "link",
    ("GET", "/t/{link}/ride/{ride_id}"): "link",
    ("GET", "/desk/b/{ref}/ride/{ride_id}"): "staff",
    ("GET", "/desk/b/{ref}/answers"): "staff",
    ("POST", "/desk/b/{ref}/answers"): "staff",
    ("POST", "/desk/b/{ref}/send/{route_id}"): "staff",
    ("POST", "/desk/b/{ref}/reminded"): "staff",
    ("GET", "/desk/questions"): "staff",
    ("GET", "/desk/audit"): "admin",
    ("POST", "/desk/people/{user_id}/role"): "admin",
    ("POST", "/desk/people/{user_id}/reset"): "admin",
    ("GET", "/new-password/{secret}"): "open",
    ("POST", "/new-password/{secret}"): "open",
    ("POST", "/desk/again"): "staff",
    ("POST", "/desk/again/changed"): "staff",
    ("POST", "/desk/b/{ref}/again/{route_id}"): "staff",
    ("GET", "/desk/letters"): "staff",
    ("POST", "/desk/letters"): "staff",
    ("GET", "/desk/learned"): "staff",
    ("GET", "/desk/true"): "staff",
    ("GET", "/desk/give-back"): "staff",
    ("GET", "/desk/give-back.geojson"): "staff",
    ("GET", "/desk/failures"): "staff",
    ("GET", "/desk/b/{ref}/incidents"): "staff",
    ("POST", "/desk/b/{ref}/incidents"): "staff",
    ("GET", "/desk/rentals.csv"): "staff",
    ("GET", "/sign-in"): "open",
    ("POST", "/sign-in"): "open",
    ("POST", "/sign-out"): "guide",
    ("GET", "/account"): "guide",
    ("POST", "/account"): "guide",
    ("POST", "/account/language"): "guide",
    ("GET", "/desk"): "guide",
    ("POST", "/desk/views"): "staff",
    ("GET", "/desk/new"): "staff",
    ("POST", "/desk/new"): "staff",
    ("GET", "/desk/b/{ref}"): "staff",
    ("POST", "/desk/b/{ref}"): "staff",
    ("POST", "/desk/b/{ref}/link"): "staff",
    ("POST", "/desk/b/{ref}/routes"): "staff",
    ("POST", "/desk/b/{ref}/ruling/{route_id}"): "staff",
    ("GET", "/desk/b/{ref}/report/{route_id}"): "staff",
    ("GET", "/desk/b/{ref}/files/{route_id}/{name}"): "staff",
    ("GET", "/desk/b/{ref}/mail/{route_id}"): "staff",
    ("GET", "/desk/b/{ref}/draft/{route_id}"): "staff",
    ("GET", "/desk/b/{ref}/compare"): "staff",
    ("GET", "/desk/b/{ref}/export.zip"): "staff",
    ("POST", "/desk/b/{ref}/delete"): "staff",
    ("GET", "/desk/notes"): "staff",
    ("POST", "/desk/notes"): "staff",
    ("POST", "/desk/notes/{note_id}/delete"): "staff",
    ("GET", "/desk/helpers"): "staff",
    ("POST", "/desk/helpers"): "staff",
    ("POST", "/desk/helpers/{helper_id}/delete"): "staff",
    ("GET", "/desk/bookings.csv"): "staff",
    ("GET", "/desk/import"): "staff",
    ("POST", "/desk/import"): "staff",
    ("GET", "/desk/import/{number}"): "staff",
    ("POST", "/desk/import/{number}"): "staff",
    ("POST", "/desk/import/{number}/back"): "staff",
    ("GET", "/desk/bikes"): "staff",
    ("GET", "/desk/b/{ref}/riders"): "staff",
    ("POST", "/desk/b/{ref}/riders"): "staff",
    ("GET", "/desk/deleted"): "staff",
    ("POST", "/desk/deleted/{gone_id}"): "guide",
    ("GET", "/season"): "guide",
    ("POST", "/desk/bikes"): "staff",
    ("GET", "/desk/b/{ref}/sheet/{route_id}"): "staff",
    ("GET", "/desk/people"): "admin",
    ("POST", "/desk/people"): "admin",
    ("POST", "/desk/people/{user_id}"): "admin",
    ("POST", "/desk/tokens"): "admin",
    ("POST", "/desk/tokens/{token_id}/delete"): "admin",
    ("GET", "/guide"): "guide",
    ("GET", "/guide/{route_id}"): "guide",
    ("POST", "/guide/{route_id}"): "guide",
    ("GET", "/guide/{route_id}/report"): "guide",
    ("GET", "/guide/{route_id}/files/{name}"): "guide",
    ("GET", "/api/v1/openapi.json"): "open",
    ("GET", "/api/v1/bookings"): "token",
    ("POST", "/api/v1/bookings"): "token",
    ("GET", "/api/v1/bookings/{ref}"): "token",
    ("PATCH", "/api/v1/bookings/{ref}"): "token",
    ("DELETE", "/api/v1/bookings/{ref}"): "token",
    ("POST", "/api/v1/bookings/{ref}/routes"): "token",
    ("GET", "/api/v1/bookings/{ref}/report"): "token",
}
_RANK = {"guide": 0, "staff": 1, "admin": 2}
_FILL = {"{link}": "x" * 43, "{ref}": "NONE", "{name}": "web.css", "{kind}": "pdf"}


def _routes(office: Office) -> dict[tuple[str, str], APIRoute]:
    found = {}
    for context in inner(office.client.app).routes:  # type: ignore[arg-type]
        for route in _flat(context):
            for method in route.methods - {"HEAD"}:
                found[method, route.path] = route
    return found


def _flat(route: object) -> list[APIRoute]:
    if isinstance(route, APIRoute):
        return [route]
    inside = getattr(route, "effective_route_contexts", None)
    if inside is None:
        raise AssertionError(f"a route of an unknown kind: {route!r}")
    return [context for context in inside() if context is not None]  # type: ignore[misc]


def _path(pattern: str) -> str:
    for key, value in _FILL.items():
        pattern = pattern.replace(key, value)
    for key in ("route_id", "ride_id", "note_id", "helper_id", "token_id", "number", "gone_id"):
        pattern = pattern.replace(f"{{{key}}}", "9")
    return pattern.replace("{user_id}", "999")


def test_every_route_names_one_permission(office: Office) -> None:
    told = {}
    for key, route in _routes(office).items():
        allows = [d.dependency for d in route.dependencies if isinstance(d.dependency, Allow)]
        assert len(allows) == 1, f"{key} has {len(allows)} permissions"
        told[key] = allows[0].who
    assert told == WANTED


@on_both
def test_nobody_gets_further_than_allowed(office: Office) -> None:
    people = {role: office.as_role(role) for role in _RANK}
    for (method, pattern), who in WANTED.items():
        if who == "open":
            continue
        path = _path(pattern)
        stranger = office.client.request(method, path)
        assert stranger.status_code == {"link": 404, "token": 401}.get(
            who, 303 if method == "GET" else 401
        ), (method, path)
        if stranger.status_code == 303:
            assert stranger.headers["location"].startswith("/sign-in")
        if who not in _RANK:
            continue
        for role, person in people.items():
            got = person.get(path) if method == "GET" else person.post(path)
            enough = _RANK[role] >= _RANK[who]
            assert (got.status_code == 403) is not enough, (method, path, role, got.status_code)
            assert got.status_code < 500
            if path == "/sign-out":
                people[role] = office.as_role(role)
        if path == "/account":
            people = {role: office.as_role(role) for role in _RANK}


@pytest.mark.parametrize("form", [{}, {"csrf": ""}, {"csrf": "x" * 32}, {"csrf": "é"}])
def test_every_form_of_the_desk_needs_its_token(office: Office, form: dict[str, str]) -> None:
    """OWASP ASVS 5.0, 3.5.1: forged requests from other sites are refused."""
    admin = office.as_role("admin")
    for (method, pattern), who in WANTED.items():
        if method == "POST" and who in _RANK:
            got = admin.client.post(_path(pattern), data=form)
            assert got.status_code == 403, pattern


def test_forms_from_other_sites_are_refused(office: Office) -> None:
    link = office.booking()
    for path in (link, "/ride", "/sign-in"):
        got = office.client.post(path, data={}, headers={"sec-fetch-site": "cross-site"})
        assert got.status_code == 403


def test_a_session_that_ended_opens_nothing(office: Office) -> None:
    staff = office.as_role("staff")
    assert staff.get("/desk").status_code == 200
    assert staff.post("/sign-out").status_code == 303
    assert staff.get("/desk").status_code == 303


def test_a_refusal_leaves_a_way_back(office: Office) -> None:
    """In the language the account has chosen, with the pages it may open."""
    guide = office.as_role("guide")
    guide.post("/account/language", {"lang": "fr"})
    refused = guide.get("/desk/people")
    assert refused.status_code == 403
    assert '<html lang="fr">' in refused.text
    assert 'href="/guide"' in refused.text
    assert 'href="/desk/people"' not in refused.text
