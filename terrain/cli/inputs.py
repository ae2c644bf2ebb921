"""The trip and the operator's own files, as given on the command line."""

from __future__ import annotations

from datetime import datetime
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from terrain.errors import InputError, UsageError
from terrain.text.message import message

if TYPE_CHECKING:
    from terrain.region.forecast import Service
    from terrain.report.formats import Asked
    from terrain.settings import Settings
    from terrain.text.translator import Translator
    from terrain.values.fleet import Fleet
    from terrain.values.trip import Trip


def read_trip(options: dict[str, Any], fleet: Fleet | None = None) -> Trip:
    """The trip that `trip_options` describe. fleet : the generic one if None"""
    from terrain.values.trip import Luggage, Rider, Riding, Trip, Wants

    return Trip(
        depart=options["depart"],
        rider=Rider(options["rider"]),
        riding=Riding(options["riding"]) if options["riding"] else None,
        pillion=options["pillion"],
        luggage=Luggage(options["luggage"]),
        guided=options["guided"],
        wants=Wants(options["wants"]) if options.get("wants") else None,
        wanted_class=_wanted(options, fleet),
    )


def _wanted(options: dict[str, Any], fleet: Fleet | None) -> str | None:
    """The class asked for."""
    from terrain.text.translator import translator_for

    translator = translator_for(options["lang"], options["units"])
    return class_meant(options["wanted"], "--wanted", fleet, translator)


def class_meant(
    asked: str | None, option: str, fleet: Fleet | None, translator: Translator
) -> str | None:
    """The name of a class given by its name, or by its title as it is printed; None if not given.

    fleet : the generic one if None. Raises UsageError for a class that is not in it.
    """
    from terrain.tables.fleet import DEFAULT_FLEET

    if asked is None:
        return None
    fleet = fleet or DEFAULT_FLEET
    bike = fleet.meant(asked, translator.translate_term)
    if bike is None:
        known = ", ".join(f"{bike.name} ({bike.title})" for bike in fleet.classes)
        raise UsageError(
            message("there is no class {asked} in the fleet", asked=repr(asked)),
            option,
            message("Choose from {known}.", known=known),
        )
    return bike.name


def read_operator(options: dict[str, Any]) -> dict[str, Any]:
    """The files that `operator_options` name, read; only those that were given."""
    given: dict[str, Any] = {}
    for name in ("fleet", "notes", "helpers", "pins", "learned"):
        if options[name]:
            reader = getattr(import_module(f"terrain.inputs.{name}"), f"read_{name}")
            given[name] = reader(options[name])
    return given


def service_asked(settings: Settings, depart: datetime | None) -> Service:
    """The weather service of the settings. Raises UsageError if none is set, or no departure."""
    from terrain.region.forecast import Service

    if depart is None:
        raise UsageError(
            message("a forecast needs the day of departure"),
            "--forecast",
            message("Give it with --depart."),
        )
    if settings.forecast is None:
        raise UsageError(
            message("no weather service is set"),
            "--forecast",
            message("Set TERRAIN_FORECAST to its address; README says of which form."),
        )
    return Service(url=settings.forecast, credit=settings.forecast_credit)


def read_asked(options: dict[str, Any]) -> Asked:
    """How the files are to speak, by `audience_options` and `mail_options`."""
    from terrain.report.formats import Asked
    from terrain.text.translator import translator_for

    path: Path | None = options["mail_template"]
    return Asked(
        translator=translator_for(options["lang"], options["units"]),
        audience=options["audience"],
        mail_to=_addresses(options["mail_to"]),
        mail_template=None if path is None else _template(path),
        template_source="" if path is None else str(path),
    )


def _addresses(text: str | None) -> str:
    if not text:
        return ""
    from terrain.report.mail import checked_addresses

    return checked_addresses(text)


def _template(path: Path) -> str:
    from terrain.report.mail import check_template

    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as exc:
        raise InputError(
            message("the mail template cannot be read"), str(path), message("Check the file.")
        ) from exc
    check_template(text, str(path))
    return text
