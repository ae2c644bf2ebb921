"""The JSON API: its own way through, and a fuzzer over its description."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings

from terrain.web.app import inner
from terrain.web.webhook import signature
from tests.web.conftest import Office, on_both
from tests.web.standin import GPX


def test_a_booking_system_gets_from_booking_to_report(office: Office) -> None:
    head = office.token()
    link = office.booking("A-1", wanted="dual-sport", rider="expert")
    assert link.startswith("/t/")
    client = office.client
    url = "/api/v1/bookings/A-1"
    assert client.get(url + "/report", headers=head).status_code == 404
    sent = client.post(url + "/routes?name=x.gpx&once=1", content=GPX,
                       headers={**head, "content-type": "application/gpx+xml"})  # fmt: skip
    assert sent.status_code == 202 and sent.json()["routes"][0]["state"] == "waiting"
    office.work()
    told = client.get(url, headers=head).json()
    assert told["state"] == "analysed"
    assert told["routes"][0]["summary"]["verdict"] == "Road setup, likely right."
    assert client.get(url + "/report", headers=head).json()["days"] == []
    assert client.get(url + "/report?kind=pdf", headers=head).status_code == 200
    dated = {"starts_on": "2027-03-14", "ends_on": "2027-03-20"}
    assert client.patch(url, json=dated, headers=head).status_code == 200
    assert client.patch(url, json={"ends_on": "2027-03-13"}, headers=head).status_code == 422
    assert client.patch(url, json={"ends_on": "2027-03-13xyz"}, headers=head).status_code == 422
    changed = client.patch(url, json={"state": "settled"}, headers=head)
    assert changed.json()["state"] == "settled"
    assert client.delete(url, headers=head).status_code == 204
    assert client.get(url, headers=head).status_code == 404


def test_every_fault_has_one_shape(office: Office) -> None:
    head = office.token()
    client = office.client
    answers = [
        client.get("/api/v1/bookings"),
        client.get("/api/v1/bookings/none", headers=head),
        client.post("/api/v1/bookings", json={"rider": "hero"}, headers=head),
        client.post("/api/v1/bookings", json={"email": "x"}, headers=head),
        client.post("/api/v1/bookings", content=b"{", headers=head),
        client.get("/api/nowhere", headers=head),
        client.put("/api/v1/bookings", headers=head),
    ]
    assert [a.status_code for a in answers] == [401, 404, 422, 422, 422, 404, 405]
    for answer in answers:
        assert set(answer.json()["error"]) == {"what", "where", "fix"}


@on_both
def test_a_reference_is_given_once(office: Office) -> None:
    office.booking("A-1")
    got = office.client.post("/api/v1/bookings", json={"ref": "A-1"}, headers=office.token())
    assert got.status_code == 422 and "already" in got.json()["error"]["what"]


def test_the_description_holds_the_api_alone(office: Office) -> None:
    told = office.client.get("/api/v1/openapi.json").json()
    assert told["openapi"].startswith("3.1")
    assert {path.split("/")[1] for path in told["paths"]} == {"api"}


def test_a_signature_is_that_of_rfc_4231() -> None:
    """RFC 4231, test case 2."""
    want = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    assert signature("Jefe", b"what do ya want for nothing?") == f"sha256={want}"


@on_both
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_a_fuzzer_finds_no_server_error(office: Office) -> None:
    """schemathesis, 25 requests an operation (10 on Postgres): no answer of 500 and up."""
    head = office.token()
    office.send(office.booking("A-1"))
    office.work()
    import schemathesis  # takes two seconds, which no other test needs

    schema = schemathesis.openapi.from_dict(inner(office.client.app).openapi())  # type: ignore[arg-type]
    tried = 0
    quick = hypothesis_settings(
        max_examples=25 if office.db.is_sqlite else 10, deadline=None, database=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    for found in schema.get_all_operations():
        operation = found.ok()

        @quick
        @given(case=operation.as_strategy())
        def ask(case: schemathesis.Case) -> None:
            nonlocal tried
            tried += 1
            asked = case.as_transport_kwargs(base_url="http://testserver")
            if not isinstance(asked.get("data") or {}, dict):
                asked["content"] = asked.pop("data")
            asked["headers"] = {**dict(asked["headers"]), **head}
            asked.pop("cookies", None)
            answer = office.client.request(**asked)
            assert answer.status_code < 500, (asked, answer.text)

        ask()
    assert tried > 60
