"""What the operator may set for the web application; read once, frozen, passed down.

From a TOML file's tables [web] and [mail] and from TERRAIN_WEB_* variables; a variable beats the
file.
"""

from __future__ import annotations

import difflib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any, Literal
from urllib.parse import urlsplit

from terrain.errors import UsageError
from terrain.text.catalogue import LANGUAGES, N_
from terrain.text.message import Message, message

PREFIX = "TERRAIN_WEB_"
_YES = frozenset({"1", "true", "yes", "on"})
_NO = frozenset({"", "0", "false", "no", "off"})


@dataclass(frozen=True, slots=True, kw_only=True)
class WebSettings:
    """Settings of one web application.

    home : TERRAIN_HOME, where the regions lie; data : folder of the application's own files
    database : SQLAlchemy URL; the file desk.sqlite in `data` if empty
    region : region for every route; the one that covers the route if empty
    fleet : the operator's fleet file; fleet.toml in `home` if there is one
    learned : what `terrain learn` wrote; learned.toml in `home` if there is one
    forecast, forecast_credit : address of a weather service that is asked for routes that leave
        within its reach, none if empty; whom to name for it
    public_url : address riders see, such as https://rides.example/desk; its path is where the
        application lies behind the proxy, and https makes cookies secure
    trusted_proxies : addresses whose X-Forwarded-For is believed, separated by commas
    open_upload : whether anybody may send a route without a booking's link
    workers : processes that make reports; 0 leaves them to `python -m terrain.web.worker`
    lease_s : a worker that is silent for so long has lost its job; tries : then it fails
    job_s : the longest a job may take
    max_bytes, max_files, max_queue : most of one upload, files in it, and routes waiting
    uploads_per_minute, guesses_per_minute, sign_ins_per_minute, api_per_minute : of one address;
        guesses are links that lead nowhere
    keep_tracks_days : recordings of rides are kept so long once they are read; 0 deletes them then
    keep_days : routes and people's data are deleted after so many days
    webhook_url, webhook_secret : told when a report is ready, signed with the secret
    mail_... : how mails go out, the table [mail] of the file. host : of the mail server, no mail is
        sent if empty; tls : starttls or implicit, for a mail never goes in the open; port : that
        of the kind of TLS if 0; ca : file of the certificate to trust if no public one; user,
        password : to sign in with; from : whom mails come from; signature : below each
    """

    home: Path
    data: Path
    database: str = ""
    region: str = ""
    fleet: str = ""
    learned: str = ""
    forecast: str = ""
    forecast_credit: str = ""
    public_url: str = ""
    trusted_proxies: str = "127.0.0.1"
    operator: str = N_("The rental desk")
    lang: str = "en"
    units: str = "metric"
    open_upload: bool = False
    workers: int = 1
    lease_s: float = 60.0
    job_s: float = 300.0
    tries: int = 3
    max_bytes: int = 20_000_000
    max_files: int = 5
    max_queue: int = 2000
    uploads_per_minute: int = 30
    guesses_per_minute: int = 60
    sign_ins_per_minute: int = 10
    api_per_minute: int = 600
    keep_days: int = 180
    keep_tracks_days: int = 0
    session_idle_s: float = 8 * 3600.0
    session_s: float = 7 * 86400.0
    webhook_url: str = ""
    webhook_secret: str = ""
    mail_host: str = ""
    mail_port: int = 0
    mail_tls: str = "starttls"
    mail_ca: str = ""
    mail_user: str = ""
    mail_password: str = ""
    mail_from: str = ""
    mail_signature: str = ""

    def __post_init__(self) -> None:
        larger = message("Give a larger number.")
        urls = {key: getattr(self, key) for key in ("public_url", "webhook_url", "forecast")}
        least = {"workers": 0, "tries": 1, "max_bytes": 1000, "max_files": 1, "max_queue": 1}
        checks: tuple[tuple[object, Message, str, Message | Literal[""]], ...] = (
            (self.lang not in LANGUAGES, message("no language {lang}", lang=repr(self.lang)),
             message("lang"), message("Use {words}.", words=", ".join(LANGUAGES))),
            (self.units not in ("metric", "imperial"),
             message("no units {units}", units=repr(self.units)),
             message("units"), message("Use metric or imperial.")),
            *((url and urlsplit(url).scheme not in ("http", "https"),
               message("{url} is no web address", url=repr(url)),
               key, message("Begin it with https://.")) for key, url in urls.items()),
            (self.webhook_url and not self.webhook_secret, message("the webhook has no secret"),
             message("webhook_secret"), message("Set one to sign with.")),
            *((getattr(self, key) < low, message("{key} is below {low}", key=key, low=str(low)),
               key, larger) for key, low in least.items()),
            (self.mail_tls not in ("starttls", "implicit"),
             message("no kind of TLS {tls}", tls=repr(self.mail_tls)),
             "mail_tls", message("Use starttls or implicit.")),
            (self.mail_host and "@" not in self.mail_from, message("mails have no sender"),
             "mail_from", message("Write name@place, as riders will see it.")),
            (self.keep_tracks_days < 0, message("keep_tracks_days is below 0"),
             "keep_tracks_days", larger),
            (self.keep_days < 1 or self.lease_s < 1,
             message("keep_days and lease_s have to be 1 or more"), "", ""),
        )  # fmt: skip
        for is_wrong, what, where, fix in checks:
            if is_wrong:
                raise UsageError(what, where, fix)

    @property
    def database_url(self) -> str:
        return self.database or f"sqlite:///{self.data / 'desk.sqlite'}"

    @property
    def secure(self) -> bool:
        """Whether riders and staff come by https, so that cookies are for https alone."""
        return urlsplit(self.public_url).scheme == "https"

    @property
    def root_path(self) -> str:
        return urlsplit(self.public_url).path.rstrip("/")

    @property
    def fleet_file(self) -> Path | None:
        return self._own_file(self.fleet, "fleet.toml")

    @property
    def learned_file(self) -> Path | None:
        return self._own_file(self.learned, "learned.toml")

    def _own_file(self, given: str, name: str) -> Path | None:
        usual = self.home / name
        return Path(given) if given else usual if usual.is_file() else None

    def to_json(self) -> str:
        """All settings on one line, for a worker process."""
        return json.dumps(asdict(self), default=str)

    @classmethod
    def from_json(cls, text: str) -> WebSettings:
        told = json.loads(text)
        return cls(**{**told, "home": Path(told["home"]), "data": Path(told["data"])})


def read_web_settings(
    home: Path, environ: Mapping[str, str], file: Path | None = None, **given: Any
) -> WebSettings:
    """Settings from a TOML file, the environment, and what the command line gave, in this order.

    file : TOML with a table [web]; web.toml in `home` if None and there
    Raises UsageError for an unknown key or a value that is not of its kind.
    """
    told: dict[str, Any] = {}
    usual = home / "web.toml"
    if file is not None or usual.is_file():
        told.update(_from_toml(file or usual))
    for name, text in environ.items():
        if name.startswith(PREFIX):
            key = name.removeprefix(PREFIX).lower()
            told[_known(key, name)] = _value(key, text, name)
    told.update({key: value for key, value in given.items() if value is not None})
    told["data"] = Path(told.get("data") or home / "web").expanduser()
    return replace(WebSettings(home=home, data=told["data"]), **told)


def _from_toml(path: Path) -> dict[str, Any]:
    try:
        tree = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as exc:
        raise UsageError(
            message("the settings cannot be read ({reason})", reason=str(exc)),
            path.name,
            message("Check it."),
        ) from exc
    table = tree.get("web", {})
    if not isinstance(table, dict):
        raise UsageError(
            message("web has to be a table"), path.name, message("Write [web] above the settings.")
        )
    mail = tree.get("mail", {})
    if not isinstance(mail, dict):
        raise UsageError(
            message("mail has to be a table"),
            path.name,
            message("Write [mail] above the settings."),
        )
    rows = {**table, **{f"mail_{key}": value for key, value in mail.items()}}
    return {_known(key, path.name): _value(key, value, path.name) for key, value in rows.items()}


def _known(key: str, where: str) -> str:
    names = [field.name for field in fields(WebSettings) if field.name != "home"]
    if key in names:
        return key
    near = difflib.get_close_matches(key, names, n=1, cutoff=0.0)
    raise UsageError(
        message("the setting {key} is not known", key=repr(key)),
        where,
        message("Did you mean {near}?", near=str(near[0])),
    )


def _value(key: str, value: Any, where: str) -> Any:
    """The value in the kind that its setting has."""
    kinds = {field.name: str(field.type) for field in fields(WebSettings)}
    kind = kinds.get(key, "str")
    text = str(value).strip()
    try:
        if kind == "bool":
            if text.lower() in _YES | _NO:
                return text.lower() in _YES
            raise ValueError(text)
        return {"int": int, "float": float, "Path": Path}.get(kind, str)(text)
    except ValueError as exc:
        raise UsageError(
            message("{text} does not suit {key}", text=repr(text), key=str(key)),
            where,
            message("It takes a {kind}.", kind=str(kind)),
        ) from exc
