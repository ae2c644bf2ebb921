"""Accounts: names without case, passwords that are hard to guess, roles, links for a new one."""

from __future__ import annotations

import os
import re
import stat
import time
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from click.testing import CliRunner, Result

from terrain.cli import program
from terrain.errors import InputError
from terrain.web import schema
from terrain.web.database import Database
from terrain.web.keys import hash_password
from terrain.web.people import (
    RESET_S,
    Role,
    account_of,
    add_user,
    by_reset_link,
    new_reset_link,
    open_session,
    person_of,
)
from tests.web.conftest import PASSWORD, Office, sign_in

NEW = "grey harbour sings at noon"


@pytest.mark.parametrize(
    ("password", "reason"),
    [
        ("123456789012", "a password that many use"),
        ("password1234", "a password that many use"),
        ("aaaaaaaaaaaaaaa", "repeats"),
        ("abcabcabcabc", "repeats"),
        ("winterfeldmann", "name of the account"),
        ("short", "12 to 128 characters"),
    ],
)
def test_a_password_that_is_easy_to_guess_is_refused_with_the_reason(
    password: str, reason: str
) -> None:
    """NIST SP 800-63B-4, 3.1.1.2: what is commonly used or expected is refused, and why is said."""
    with pytest.raises(InputError, match=reason):
        hash_password(password, "Winterfeldmann")


def test_a_good_password_may_hold_the_name() -> None:
    assert hash_password("robin likes red gates at dawn", "robin").startswith("$argon2id$")
    assert hash_password("x" + "long words of every kind " * 5, "robin")


def test_names_are_one_however_they_are_written(office: Office, admin_with_password: str) -> None:
    with office.db.write() as conn, pytest.raises(InputError, match="already"):
        add_user(conn, "ROBIN", Role.STAFF, PASSWORD, time.time())
    assert sign_in(office.client, "Robin", PASSWORD).headers["location"] == "/desk"


def test_an_administrator_changes_a_role_but_not_his_own(office: Office) -> None:
    admin, staff = office.as_role("admin"), office.as_role("staff")
    with office.db.read() as conn:
        ids = {u.name: u.id for u in conn.execute(sa.select(schema.users))}
    assert admin.post(f"/desk/people/{ids['staff']}/role", {"role": "guide"}).status_code == 303
    assert staff.get("/desk").status_code == 303, "signed out"
    with office.db.read() as conn:
        assert conn.execute(
            sa.select(schema.users.c.role).where(schema.users.c.name == "staff")
        ).scalar() == "guide"  # fmt: skip
    assert admin.post(f"/desk/people/{ids['admin']}/role", {"role": "guide"}).status_code == 422
    assert admin.post(f"/desk/people/{ids['staff']}/role", {"role": "king"}).status_code == 422


def test_a_new_password_is_set_by_a_link_that_works_once(
    office: Office, admin_with_password: str
) -> None:
    admin = office.as_role("admin")
    with office.db.read() as conn:
        robin = conn.execute(
            sa.select(schema.users.c.id).where(schema.users.c.name == "robin")
        ).scalar()
    page = admin.post(f"/desk/people/{robin}/reset").text
    found = re.search(r'value="http://[^/"]+(/new-password/[\w-]{43})"', page)
    assert found
    path = found[1]
    assert "New password for robin" in office.client.get(path).text
    weak = office.client.post(path, data={"new": "password1234"})
    assert weak.status_code == 422 and "easy to guess" in weak.text
    assert office.client.post(path, data={"new": NEW}).headers["location"] == "/sign-in"
    assert office.client.post(path, data={"new": PASSWORD}).status_code == 404
    with office.db.read() as conn:
        assert account_of(conn, "robin", NEW) == robin
        assert path.rpartition("/")[2] not in str(conn.execute(sa.select(schema.resets)).all())
    with office.db.write() as conn:
        _, secret = new_reset_link(conn, robin, time.time()) or ("", "")
        assert by_reset_link(conn, secret, time.time()) is not None
        assert by_reset_link(conn, secret, time.time() + RESET_S + 1) is None


def test_admin_and_desk_mean_the_same_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The folder may stand before or after the command, and is named; a password can be reset."""
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path / "home"))
    data = tmp_path / "elsewhere"

    def run(*args: str, password: str = PASSWORD) -> str:
        told = CliRunner().invoke(program, ["serve", *args], input=password + "\n")
        return told.output if told.exit_code == 0 else f"{told.exit_code}: {told.exception}"

    said = run("admin", "robin", "--password-stdin", "--data", str(data))
    assert f"robin may sign in now at the desk in {data}" in said
    said = run("--data", str(data), "admin", "Robin", "--password-stdin", "--reset", password=NEW)
    assert "Robin may sign in now" in said
    db = Database(f"sqlite:///{data / 'desk.sqlite'}")
    with db.read() as conn:
        assert account_of(conn, "robin", NEW) is not None
    db.close()
    said = run("--data", str(data), "admin", "kit", "--password-stdin", "--reset")
    assert "there is no account 'kit'" in said
    assert not (tmp_path / "home" / "web").exists()


def test_a_password_is_reset_on_the_command_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is asked for, anew if it is weak; sessions end, and who was kept out may come in."""
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path))

    def run(*args: str, typed: str) -> Result:
        return CliRunner().invoke(program, ["serve", "admin", *args], input=typed)

    assert run("robin", "--password-stdin", typed=PASSWORD).exit_code == 0
    with closing(Database(f"sqlite:///{tmp_path / 'web' / 'desk.sqlite'}")) as db:
        with db.write() as conn:
            robin = account_of(conn, "robin", PASSWORD)
            assert robin is not None
            session = open_session(conn, robin, 100.0)
        weak = run("robin", "--password-stdin", "--reset", typed="password1234")
        assert weak.exit_code != 0 and "easy to guess" in str(weak.exception)
        with db.write() as conn:
            assert person_of(conn, session, 101.0, idle_s=60.0, whole_s=60.0) is not None
            conn.execute(schema.users.update().values(active=False))
        typed = f"password1234\npassword1234\n{NEW}\n{NEW}\n"
        with monkeypatch.context() as terminal:
            terminal.setattr("click.testing._NamedTextIOWrapper.isatty", lambda _: True)
            done = run("ROBIN", "--reset", typed=typed)
        assert done.exit_code == 0 and "easy to guess" in done.output
        assert NEW not in done.output
        with db.read() as conn:
            assert account_of(conn, "robin", NEW) == robin
            assert account_of(conn, "robin", PASSWORD) is None
            assert person_of(conn, session, 101.0, idle_s=60.0, whole_s=60.0) is None
            # No second account of the name, and none of another rank.
            assert conn.execute(sa.select(schema.users.c.name, schema.users.c.role)).all() == [
                ("robin", "admin")
            ]
    # Without it an account that is there is left alone.
    again = run("robin", "--password-stdin", typed=PASSWORD)
    assert again.exit_code != 0 and "there is already an account" in str(again.exception)


@pytest.mark.skipif(os.name == "nt", reason="modes of POSIX")
def test_the_data_are_for_the_desk_alone_whatever_the_folder_allows(tmp_path: Path) -> None:
    data = tmp_path / "open"
    data.mkdir()
    data.chmod(0o777)
    (data / "desk.sqlite").touch(0o666)
    (data / "desk.sqlite").chmod(0o666)
    before = os.umask(0)
    try:
        db = Database(f"sqlite:///{data / 'desk.sqlite'}")
        db.create()
        with db.write() as conn:
            conn.execute(schema.meta.update().values(value=schema.meta.c.value))
            modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in data.iterdir()}
        db.close()
    finally:
        os.umask(before)
    assert "desk.sqlite-wal" in modes
    assert set(modes.values()) == {0o600}, modes
