"""Two people on one booking or plan: the second is told, and neither loses what is typed."""

from __future__ import annotations

import re

import sqlalchemy as sa

from terrain.web import schema
from tests.web.conftest import Office, Visitor, on_both


def _route(office: Office) -> int:
    told = office.client.get("/api/v1/bookings/K1", headers=office.token()).json()
    return int(told["routes"][0]["id"])


def _form(text: str, action: str) -> dict[str, str]:
    """The hidden fields of the form with this action."""
    form = re.search(rf'<form[^>]*action="{action}"[^>]*>(.*?)</form>', text, re.S)
    assert form, action
    return dict(re.findall(r'name="(\w+)" value="([^"]*)"', form[1]))


@on_both
def test_of_two_who_decide_the_second_is_told(office: Office) -> None:
    office.send(office.booking())
    office.work()
    here = f"/desk/b/K1/ruling/{_route(office)}"
    first, second = office.as_role("staff"), office.as_role("admin")
    seen = [_form(who.get("/desk/b/K1").text, here)["seen"] for who in (first, second)]
    told = {"setup": "off-road", "reason": "Wet clay by noon.", "seen": seen[0]}
    assert first.post(here, told).status_code == 303
    late = second.post(here, {"setup": "ask", "reason": "Ask about boots.", "seen": seen[1]})
    assert late.status_code == 409
    assert "Somebody else decided meanwhile" in late.text
    assert "Wet clay by noon." in late.text and 'value="Ask about boots."' in late.text
    assert '<option value="ask" selected>' in late.text
    assert _decided(office) == "Wet clay by noon."
    again = {"setup": "ask", "reason": "Ask about boots.", "seen": _form(late.text, here)["seen"]}
    assert second.post(here, again).status_code == 303
    assert _decided(office) == "Ask about boots."


def _decided(office: Office) -> str:
    with office.db.read() as conn:
        return str(conn.execute(sa.select(schema.rulings.c.reason)).scalar())


@on_both
def test_a_decision_without_reason_keeps_what_was_chosen(office: Office) -> None:
    office.send(office.booking())
    office.work()
    page = office.as_role("staff").post(
        f"/desk/b/K1/ruling/{_route(office)}", {"setup": "ask", "bike": "dual-sport", "reason": " "}
    )
    assert page.status_code == 422
    assert "The decision has no reason" in page.text
    assert '<option value="ask" selected>' in page.text
    assert '<option value="dual-sport" selected>' in page.text


@on_both
def test_of_two_who_plan_the_second_is_told(office: Office) -> None:
    office.send(office.booking())
    office.work()
    here = f"/guide/{_route(office)}"
    first, second = office.as_role("guide"), office.as_role("staff")
    seen = [_form(who.get(here).text, here)["seen"] for who in (first, second)]

    def wish(who: Visitor, name: str, mark: str) -> int:
        told = {"stop_km.0": "3", "stop_kind.0": "lunch", "stop_name.0": name, "seen": mark}
        answer = who.post(here, told)
        if answer.status_code == 409:
            assert "Somebody else changed this plan meanwhile" in answer.text
            assert f'value="{name}"' in answer.text
            told["seen"] = _form(answer.text, here)["seen"]
            assert who.post(here, told).status_code == 303
        return int(answer.status_code)

    assert wish(first, "Mill", seen[0]) == 303
    assert wish(second, "Ford", seen[1]) == 409
    with office.db.read() as conn:
        assert "Ford" in str(conn.execute(sa.select(schema.pins.c.body)).scalar())
