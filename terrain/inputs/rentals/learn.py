"""Incident rates from the operator's own log, drawn towards what was believed before."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from scipy.special import betaincinv, gammaincinv

from terrain.text.catalogue import N_
from terrain.values.fleet import BikeClass, Fleet, IncidentRate
from terrain.values.rentals import Failure, LearnedRate, RateUpdate, Rental

GROUNDS = ("paved", "gravel", "track", "mixed")
SETUPS = ("road", "off-road")
# Upper ends of the bands of the hottest air [C]; common practice, no source.
HEATS = ((25.0, N_("under 25 °C")), (35.0, N_("25 to 35 °C")), (float("inf"), N_("over 35 °C")))


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnModel:
    """How far a log is believed.

    class_strength : rentals that the rate believed before counts as
    ground_strength : rentals that the class's own rate counts as, for one ground, setup or heat
    least_rentals : with fewer, no rate is given at all
    least_km : kilometres from which a rate by distance is given
    level : of the intervals
    source : project choice; the mathematics are in calc/shrinkage.py
    """

    class_strength: float = 20.0
    ground_strength: float = 20.0
    least_rentals: int = 10
    least_km: float = 2_000.0
    level: float = 0.90
    source: str = "project choice"


LEARN = LearnModel()


def learn(rentals: Sequence[Rental], fleet: Fleet, model: LearnModel = LEARN) -> RateUpdate:
    """Rates per class, and per ground within a class, with shrinkage and intervals.

    A class is drawn towards the rate in the fleet, a ground towards its class. With fewer than
    `least_rentals` the rate believed before stands, and `used` is False.
    """
    rates: list[LearnedRate] = []
    classes: list[BikeClass] = []
    for bike in fleet.classes:
        own = [r for r in rentals if r.bike == bike.name]
        whole = _learnt(bike.name, None, own, bike.incident_rate, model.class_strength, model)
        by_ground = [
            _learnt(
                bike.name, ground, [r for r in own if r.ground == ground], whole.rate,
                model.ground_strength, model,
            )
            for ground in GROUNDS
        ]  # fmt: skip
        rates += [whole, *(g for g in by_ground if g.rentals), *_by_use(own, whole, model)]
        classes.append(_with_rates(bike, whole, by_ground))
    known = {bike.name for bike in fleet.classes}
    counted = [r for r in rentals if r.bike in known]
    failures = _failures(counted)
    learned = replace(
        fleet, classes=tuple(classes), rentals=len(counted) or None, rentals_span=_span(counted)
    )
    return RateUpdate(
        fleet=learned.failing(parts_by_class(failures)),
        rates=tuple(rates),
        rentals=len(counted),
        unknown=tuple(sorted({r.bike for r in rentals} - known)),
        failures=failures,
    )


def _by_use(own: Sequence[Rental], whole: LearnedRate, model: LearnModel) -> Iterator[LearnedRate]:
    """Rates of a class by setup and by the heat of the ride, of those the log tells of."""
    for setup in SETUPS:
        some = [r for r in own if r.setup == setup]
        if some:
            rate = _learnt(whole.bike, None, some, whole.rate, model.ground_strength, model)
            yield replace(rate, setup=setup)
    for heat in (word for _, word in HEATS):
        some = [r for r in own if r.heat_c is not None and _heat_of(r.heat_c) == heat]
        if some:
            rate = _learnt(whole.bike, None, some, whole.rate, model.ground_strength, model)
            yield replace(rate, heat=heat)


def _heat_of(heat_c: float) -> str:
    return next(word for most, word in HEATS if heat_c < most)


def _failures(rentals: Sequence[Rental]) -> tuple[Failure, ...]:
    """What broke, by class, most often first: the order in which to carry spares."""
    counts = Counter((r.bike, r.failed) for r in rentals if r.incident and r.failed)
    rows = sorted(counts.items(), key=lambda item: (item[0][0], -item[1], item[0][1] or ""))
    return tuple(Failure(bike=bike, part=part or "", n=n) for (bike, part), n in rows)


def parts_by_class(failures: Iterable[Failure]) -> dict[str, tuple[str, ...]]:
    """What broke by class, in the given order."""
    parts: dict[str, tuple[str, ...]] = {}
    for failure in failures:
        parts[failure.bike] = (*parts.get(failure.bike, ()), failure.part)
    return parts


def _learnt(
    bike: str,
    ground: str | None,
    rentals: Sequence[Rental],
    prior: float,
    strength: float,
    model: LearnModel,
) -> LearnedRate:
    n, hits = len(rentals), sum(r.incident for r in rentals)
    # A prior of exactly 0 or 1 could never be corrected by any log.
    mean = min(max(prior, 0.005), 0.995)
    posterior = beta_binomial(
        hits, n, a=strength * mean, b=strength * (1 - mean), level=model.level
    )
    used = n >= model.least_rentals
    km = sum(r.km for r in rentals if r.km is not None) if rentals else 0.0
    per_km = _per_km(rentals, km, model) if used else None
    return LearnedRate(
        bike=bike,
        ground=ground,
        rentals=n,
        incidents=hits,
        used=used,
        prior=prior,
        rate=posterior.mean if used else prior,
        low=posterior.low,
        high=posterior.high,
        km=km or None,
        per_1000_km=None if per_km is None else per_km.mean,
        per_1000_low=None if per_km is None else per_km.low,
        per_1000_high=None if per_km is None else per_km.high,
    )


def _per_km(rentals: Sequence[Rental], km: float, model: LearnModel) -> Posterior | None:
    """Incidents per 1000 km of the rentals whose kilometres are known; None with too few.

    The prior is worth half an incident, the usual vague one for counts (Jeffreys).
    """
    if km < model.least_km:
        return None
    hits = sum(r.incident for r in rentals if r.km is not None)
    return gamma_poisson(hits, km / 1000.0, a=0.5, b=1e-9, level=model.level)


def _with_rates(bike: BikeClass, whole: LearnedRate, by_ground: Sequence[LearnedRate]) -> BikeClass:
    if not whole.used:
        return bike
    return replace(
        bike,
        incident_rate=round(whole.rate, 4),
        incident_low=round(min(whole.low, whole.rate), 4),
        incident_high=round(max(whole.high, whole.rate), 4),
        incident_basis=f"{whole.incidents} in {whole.rentals} of your rentals, drawn towards "
        f"{whole.prior:.0%} believed before",
        incidents=tuple(
            IncidentRate(
                ground=g.ground or "",
                rate=round(g.rate, 4),
                low=round(min(g.low, g.rate), 4),
                high=round(max(g.high, g.rate), 4),
                rentals=g.rentals,
                incidents=g.incidents,
            )
            for g in by_ground
            if g.used
        ),
    )


def _span(rentals: Sequence[Rental]) -> str | None:
    days = sorted(r.day for r in rentals if r.day is not None)
    return f"{days[0].isoformat()} to {days[-1].isoformat()}" if days else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """A rate with its interval: mean, low, high; shape parameters a and b of the posterior."""

    mean: float
    low: float
    high: float
    a: float
    b: float


def beta_binomial(
    events: int, trials: int, *, a: float, b: float, level: float = 0.90
) -> Posterior:
    """Chance of an event per trial, prior Beta(a, b).

    Returns: posterior Beta(a + events, b + trials - events) with its equal-tailed interval.
    Raises ValueError for impossible counts or priors.
    """
    if not 0 <= events <= trials or a <= 0 or b <= 0:
        raise ValueError(f"{events} events in {trials} trials with prior Beta({a}, {b})")
    a, b = a + events, b + trials - events
    tail = (1 - level) / 2
    return Posterior(
        mean=a / (a + b),
        low=float(betaincinv(a, b, tail)),
        high=float(betaincinv(a, b, 1 - tail)),
        a=a,
        b=b,
    )


def gamma_poisson(
    events: int, exposure: float, *, a: float, b: float, level: float = 0.90
) -> Posterior:
    """Events per unit of exposure, prior Gamma(shape a, rate b).

    Returns: posterior Gamma(a + events, b + exposure) with its equal-tailed interval.
    Raises ValueError for impossible counts or priors.
    """
    if events < 0 or exposure < 0 or a <= 0 or b <= 0:
        raise ValueError(f"{events} events in {exposure} with prior Gamma({a}, {b})")
    a, b = a + events, b + exposure
    tail = (1 - level) / 2
    return Posterior(
        mean=a / b,
        low=float(gammaincinv(a, tail)) / b,
        high=float(gammaincinv(a, 1 - tail)) / b,
        a=a,
        b=b,
    )
