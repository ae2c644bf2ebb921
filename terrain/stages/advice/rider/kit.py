"""Spares, checks and tyre pressures that this ride asks for."""

from __future__ import annotations

from terrain.stages.advice.bikes.measures import carried_kg, range_m
from terrain.stages.advice.burden import OffRoadTime
from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.rider.fit import ford_places, is_hot
from terrain.stages.advice.words import advice_item
from terrain.tables.advice import ALTITUDE, PRACTICE, REMOTE, BikeModel
from terrain.tables.advice_kit import CHECKS, SPARES, KitRow, When
from terrain.tables.heat import COLD_TOLD_C, FREEZING_C
from terrain.text.catalogue import N_
from terrain.text.message import Number, message, term
from terrain.values.advice import AdviceItem, SetupChoice
from terrain.values.fleet import BikeClass, Cooling

# Common practice, no source.
_OFF_ROAD_S = 600.0
_RAIN_MM = 1.0  # wet day: WMO ETCCDI
_HARD_DAY_S = 2 * 3600.0
_HEAVY_KG, _LOADED_KG = 160.0, 110.0  # the bike; a rider with hard boxes
_CLASSES = "classes"
_MOST_FAILED = 4
_LOG = N_("the operator's rental log")


def conditions(
    case: AdviceCase, burden: OffRoadTime, bikes: tuple[BikeClass, ...], model: BikeModel
) -> dict[When, dict[str, Number]]:
    """The conditions that hold, with the numbers that make them hold.

    bikes : the classes of the fleet, the one that fits best first
    """
    bike = bikes[0] if bikes else None
    liquid = [b.title for b in bikes if b.cooling is Cooling.LIQUID]
    air = [b.title for b in bikes if b.cooling is not Cooling.LIQUID]
    off_s = float((burden.time_s * (1 - burden.p[:, 0])).sum())
    far_s, far_m = _help(case, bike)
    heat, engine = case.heat.rider, case.heat.hardest
    hot = engine is not None and engine.is_high
    gap = case.fuel_gap_m
    reach = range_m(case, bike) if bike else None
    fords = len(ford_places(case))
    top = case.max_ele_m
    remote: dict[str, Number] = {"far_s": far_s, "far_m": far_m}
    unknown = far_s is None and far_m is None
    tools = unknown or case.alone or _past(far_s, REMOTE.tools_s) or _past(far_m, REMOTE.tools_m)
    held: dict[When, tuple[bool, dict[str, Number]]] = {
        When.ALWAYS: (True, {}),
        When.OFF_ROAD: (off_s >= _OFF_ROAD_S, {"off_s": off_s}),
        When.REMOTE_TOOLS: (tools, remote),
        When.REMOTE_VEHICLE: (
            _past(far_s, REMOTE.vehicle_s) or _past(far_m, REMOTE.vehicle_m), remote,
        ),
        When.CARE_FAR: (
            _past(case.hospital_s, REMOTE.care_s), {"care_s": case.hospital_s},
        ),
        When.HOT: (heat is not None and is_hot(heat), {} if heat is None else {
            "max_air_c": heat.max_air_temp_c, "max_heat_index_c": heat.max_heat_index_c}),
        When.HOT_ENGINE: (hot, {}),
        When.HARD_OR_HOT: (hot or off_s >= _HARD_DAY_S, {"off_s": off_s}),
        When.LIQUID: (bool(liquid), {_CLASSES: _some(liquid, bikes)}),
        When.AIR: (bool(air), {_CLASSES: _some(air, bikes)}),
        When.GUIDE: (case.trip.guided, {}),
        When.ALONE: (not case.trip.guided, {}),
        When.FUEL_FAR: (
            gap is not None and reach is not None and gap > REMOTE.fuel_share * reach,
            {"gap_m": gap, "range_m": reach},
        ),
        When.FORDS: (fords > 0, {"n_fords": fords}),
        When.HIGH: (_past(top, ALTITUDE.risk_m), {"max_ele_m": top}),
        When.TUBES: (off_s >= _OFF_ROAD_S or tools, {"off_s": off_s, **remote}),
        When.COLD: (heat is not None and heat.min_wind_chill_c < COLD_TOLD_C, {}),
        When.FROST: (heat is not None and heat.min_air_temp_c < FREEZING_C, {}),
        When.RAIN: ((case.heat.rain_mm or 0.0) >= _RAIN_MM, {"rain_mm": case.heat.rain_mm}),
        When.DUST: (heat is None or heat.max_air_temp_c > FREEZING_C, {}),
    }  # fmt: skip
    return {when: numbers for when, (holds, numbers) in held.items() if holds}


def _some(titles: list[str], bikes: tuple[BikeClass, ...]) -> tuple[str, ...] | None:
    """The classes by title; None if they are all."""
    return None if len(titles) == len(bikes) else tuple(term(title) for title in titles)


def _past(value: float | None, limit: float) -> bool:
    return value is not None and value > limit


def _help(case: AdviceCase, bike: BikeClass | None) -> tuple[float | None, float | None]:
    """The farthest from any mechanic, or from one who helps this class if that is farther."""
    far_s, far_m = case.mechanic_s, case.mechanic_m
    reach = case.reach_of(bike.name) if bike else None
    if reach is not None and reach.known:
        far_s = max(far_s or 0.0, reach.farthest_s or 0.0)
        far_m = max(far_m or 0.0, reach.farthest_m or 0.0)
    return far_s, far_m


def pick(rows: tuple[KitRow, ...], held: dict[When, dict[str, Number]]) -> tuple[AdviceItem, ...]:
    """The rows whose conditions all hold, with the numbers behind them."""
    return tuple(
        _kit(row, tuple((k, v) for when in row.when for k, v in held[when].items()))
        for row in rows
        if all(when in held for when in row.when)
    )


def _kit(row: KitRow, numbers: tuple[tuple[str, Number], ...]) -> AdviceItem:
    told = dict(numbers)
    classes = told.pop(_CLASSES, None)
    if classes:
        text = message("{kit} Only for: {classes}.", kit=term(row.text), classes=classes, **told)
    else:
        text = message(row.text, **told)
    return AdviceItem(code=row.code, text=text, source=row.source)


def spares(
    held: dict[When, dict[str, Number]], bikes: tuple[BikeClass, ...]
) -> tuple[AdviceItem, ...]:
    """What to carry; first of all what failed before, by the operator's log.

    bikes : the classes that may go
    """
    broke = tuple(
        AdviceItem(
            code="failed-before",
            text=message(
                "On the {bike} these failed before: {parts}. Carry what mends them.",
                bike=term(b.title), parts=b.failed[:_MOST_FAILED],
            ),
            source=_LOG,
        )
        for b in bikes
        if b.failed
    )  # fmt: skip
    return broke + pick(SPARES, held)


def checks(
    held: dict[When, dict[str, Number]], bikes: tuple[BikeClass, ...]
) -> tuple[AdviceItem, ...]:
    """What to check; with where the coolant cap of a class is, by the operator."""
    caps = tuple(
        AdviceItem(
            code="coolant-where",
            text=message(
                "Coolant of the {bike}: {where}", bike=term(b.title), where=b.coolant_check
            ),
        )
        for b in bikes
        if b.coolant_check and b.cooling is Cooling.LIQUID
    )
    return pick(CHECKS, held) + caps


def pressures(
    case: AdviceCase,
    choice: SetupChoice,
    bikes: tuple[BikeClass, ...],
    held: dict[When, dict[str, Number]],
    model: BikeModel,
) -> tuple[AdviceItem, ...]:
    """Tyre pressures: the maker's on road; lower on loose ground, by weight."""
    said = [advice_item("pressure-road", source=PRACTICE)]
    if choice is SetupChoice.ROAD or When.OFF_ROAD not in held or not bikes:
        return tuple(said)
    bike = bikes[0]
    load = carried_kg(case.trip, model)
    # Boxes that it cannot take do not load it.
    loaded = load >= _LOADED_KG and case.trip.luggage in bike.luggage
    heavy = bike.mass_kg >= _HEAVY_KG or case.trip.pillion or loaded
    if heavy:
        said.append(
            advice_item(
                "pressure-heavy",
                low_bar=1.5,
                bike=bike.title,
                mass_kg=bike.mass_kg,
                load_kg=load,
                source=PRACTICE,
            )
        )
    else:
        said.append(advice_item("pressure-light", low_bar=1.2, high_bar=1.4, bike=bike.title,
                        mass_kg=bike.mass_kg, source="18 to 20 psi on loose ground, "
                        "light bikes (press 2024); " + PRACTICE))  # fmt: skip
    return tuple(said)
