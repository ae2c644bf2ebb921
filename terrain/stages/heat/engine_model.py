"""Power a ride asks of a motorcycle, and how warm its engine gets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.calc.kernels import kernel, plain
from terrain.tables.engine import ENGINE, EngineModel
from terrain.values.arrays import BoolArray, FloatArray
from terrain.values.fleet import BikeClass, Cooling

# Handbook values at sea level and 20 C, from memory.
GRAVITY = 9.81
_AIR_HEAT = 1005.0  # of air at constant pressure [J/(kg K)]


def tractive_power_w(
    speed_m_s: FloatArray,
    grade_pct: FloatArray,
    *,
    mass_kg: float,
    rolling: FloatArray,
    drag_area_m2: float,
    density_kg_m3: FloatArray,
) -> FloatArray:
    """Power at the wheel [W]; below 0 where the bike rolls downhill by itself.

    P = (m g Crr cos a + m g sin a + 0.5 rho CdA v^2) v (textbook).
    """
    angle = np.arctan(grade_pct / 100.0)
    force = (
        mass_kg * GRAVITY * (rolling * np.cos(angle) + np.sin(angle))
        + 0.5 * density_kg_m3 * drag_area_m2 * speed_m_s**2
    )
    out: FloatArray = force * speed_m_s
    return out


def rolling_resistance(
    p: FloatArray, severity: FloatArray, model: EngineModel = ENGINE
) -> FloatArray:
    """Crr expected over ground probabilities (n, 3); severity 0..1, NaN counts as 0.3."""
    paved, gravel, easy, hard = model.rolling
    track = easy + (hard - easy) * np.nan_to_num(severity, nan=0.3)
    out: FloatArray = p[:, 0] * paved + p[:, 1] * gravel + p[:, 2] * track
    return out


def coolant_heat_w(
    power_w: FloatArray,
    speed_m_s: FloatArray,
    displacement_cc: float,
    model: EngineModel = ENGINE,
) -> FloatArray:
    """Heat the engine must get rid of through coolant or fins [W], for power at the wheel [W]."""
    scale = (model.turning_cc / displacement_cc) ** model.turning_exponent
    turning_hz = (model.turning_min + model.turning_min_kph * 3.6 * speed_m_s) * scale / 60.0
    # A four-stroke engine works once in two turns.
    friction = model.friction_pa * displacement_cc * 1e-6 * turning_hz / 2.0
    crank = np.maximum(power_w, 0.0) / model.drive_share
    out: FloatArray = model.coolant_share * (crank + friction) / model.indicated_share
    return out


def radiator_w_k(
    speed_m_s: FloatArray,
    density_kg_m3: FloatArray,
    *,
    power_kw: float,
    fan: bool,
    air_c: FloatArray | float,
    coolant_l: float | None = None,
    model: EngineModel = ENGINE,
) -> FloatArray:
    """Heat a radiator gives off per kelvin above the air [W/K].

    Air stream times effectiveness 1 - exp(-NTU), with the fan's air and the draught of the hot core
    itself added to the road's. Less coolant than is usual for the power goes with a smaller core.
    """
    area = model.core_m2_at_1kw * power_kw**model.core_exponent
    if coolant_l is not None:
        share = coolant_l / usual_coolant_l(power_kw, model)
        area *= float(np.clip(share, model.coolant_least, 1 / model.coolant_least))
    fan_m_s = model.fan_m_s if fan else 0.0
    core = np.sqrt(
        (model.core_air_share * speed_m_s) ** 2 + fan_m_s**2 + draught_m_s(air_c, model) ** 2
    )
    # By the mass of the air, not by its speed alone: thin air takes its heat on with less of it.
    stream = core * density_kg_m3
    ntu = model.core_ntu * (model.core_ntu_at_m_s * model.core_ntu_at_kg_m3 / stream) ** 0.4
    out: FloatArray = density_kg_m3 * _AIR_HEAT * area * core * (1.0 - np.exp(-ntu))
    return out


def draught_m_s(air_c: FloatArray | float, model: EngineModel = ENGINE) -> FloatArray:
    """Air speed that a core at the fan's switch point draws through itself in no wind [m/s].

    It grows with the root of what the core is warmer than the air (buoyancy, textbook), so an
    engine left on in the cold stays below its fan, and one in the heat does not.
    """
    warmer_k = np.maximum(model.fan_on_c - np.asarray(air_c, dtype=np.float64), 0.0)
    out: FloatArray = model.draught_m_s * np.sqrt(warmer_k / model.draught_at_k)
    return out


def usual_coolant_l(power_kw: float, model: EngineModel = ENGINE) -> float:
    """Coolant of a usual engine of this power [L]."""
    return model.coolant_l_at_1kw * float(power_kw**model.core_exponent)


def fins_w_k(
    speed_m_s: FloatArray,
    density_kg_m3: FloatArray,
    *,
    displacement_cc: float,
    oil_cooler: bool,
    model: EngineModel = ENGINE,
) -> FloatArray:
    """Heat cooling fins give off per kelvin above the air [W/K]."""
    stream = (speed_m_s * 3.6 / 80.0 * density_kg_m3 / 1.2) ** 0.6
    gain = model.oil_gain if oil_cooler else 1.0
    out: FloatArray = displacement_cc * gain * (model.fin_still_w_k_cc + model.fin_w_k_cc * stream)
    return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EngineRun:
    """An engine's temperatures over a ride in steps, shape (n,).

    bare_c : at the end of each step with the airflow of riding alone; hot : True where that is
        above what the fan holds (liquid) or thins the oil (fins)
    cooled_c : with the fan where there is one, else the same as bare_c
    power_w : power at the wheel
    ratio : heat over what the road's airflow carries away at the temperature of `hot`
    """

    bare_c: FloatArray
    cooled_c: FloatArray
    hot: BoolArray
    power_w: FloatArray
    ratio: FloatArray


def run_engine(
    bike: BikeClass,
    *,
    time_s: FloatArray,
    power_w: FloatArray,
    speed_m_s: FloatArray,
    air_c: FloatArray,
    density_kg_m3: FloatArray,
    running: BoolArray | None = None,
    model: EngineModel = ENGINE,
) -> EngineRun:
    """Temperatures of one bike's engine, by one lump of heat that warms and cools.

    All arrays shape (n,), one value per step of time_s seconds. Within a step the lump goes
    exponentially to its balance, so long steps are exact for steady conditions.
    running : False where the engine is off, as on a ferry; on everywhere if None
    """
    heat = coolant_heat_w(power_w, speed_m_s, bike.displacement_cc, model)
    if running is not None:
        heat = np.where(running, heat, 0.0)
    liquid = bike.cooling is Cooling.LIQUID
    if liquid:
        give, fanned = (
            radiator_w_k(
                speed_m_s,
                density_kg_m3,
                power_kw=bike.power_kw,
                fan=fan,
                coolant_l=bike.coolant_l,
                air_c=air_c,
                model=model,
            )
            for fan in (False, bike.fan)
        )
        start, limit = model.thermostat_c, model.fan_on_c
    else:
        give = fanned = fins_w_k(
            speed_m_s,
            density_kg_m3,
            displacement_cc=bike.displacement_cc,
            oil_cooler=bike.cooling is Cooling.OIL,
            model=model,
        )
        start, limit = model.fin_start_c, model.fin_hot_c
    store = model.mass_j_k + model.mass_j_k_cc * bike.displacement_cc
    if liquid and bike.coolant_l is not None:
        more_l = bike.coolant_l - usual_coolant_l(bike.power_kw, model)
        store = max(model.mass_j_k, store + model.coolant_j_k_l * more_l)
    # A thermostat keeps coolant from falling below its opening; fins have none.
    floor = start if liquid else -np.inf
    bare = _lump(start, floor, time_s, heat, give, air_c, store)
    cooled = _lump(start, floor, time_s, heat, fanned, air_c, store)
    return EngineRun(
        bare_c=bare,
        cooled_c=cooled,
        hot=bare > limit,
        power_w=power_w,
        ratio=heat / (give * (limit - air_c)),
    )


def _lump(
    start: float,
    floor: float,
    time_s: FloatArray,
    heat_w: FloatArray,
    give_w_k: FloatArray,
    air_c: FloatArray,
    store_j_k: float,
) -> FloatArray:
    balance = air_c + heat_w / give_w_k
    return _settle(start, floor, plain(balance), plain(np.exp(-time_s * give_w_k / store_j_k)))


@kernel
def _settle(start: float, floor: float, balance: FloatArray, stay: FloatArray) -> FloatArray:
    """Temperature after each step: the share `stay` of its distance from the balance is left."""
    out = np.empty(len(balance))
    temp = start
    for i in range(len(balance)):
        temp = max(balance[i] + (temp - balance[i]) * stay[i], floor)
        out[i] = temp
    return out
