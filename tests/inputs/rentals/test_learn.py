"""Rates from the operator's log: the mathematics against a textbook, the practice by cases.

Gelman, Carlin, Stern, Dunson, Vehtari, Rubin: Bayesian Data Analysis, 3rd ed. 2013; figures from
memory of the book.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.inputs.fleet import parse_fleet
from terrain.inputs.fleet.write import fleet_text
from terrain.inputs.rentals.learn import LEARN, beta_binomial, gamma_poisson, learn
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.rentals import Rental


def test_gelman_placenta_previa() -> None:
    """Section 2.4: 437 girls of 980 births, uniform prior: posterior Beta(438, 544).

    Mean .446, 95 % interval [.415, .477].
    """
    found = beta_binomial(437, 980, a=1, b=1, level=0.95)
    assert (found.a, found.b) == (438, 544)
    assert found.mean == pytest.approx(0.446, abs=0.0005)
    assert found.low == pytest.approx(0.415, abs=0.0005)
    assert found.high == pytest.approx(0.477, abs=0.0005)


def test_gelman_asthma_mortality() -> None:
    """Section 2.6: 3 deaths, exposure 2 (of 100 000), prior Gamma(3, 5): posterior Gamma(6, 7).

    Mean 0.86; the chance of a rate above 1.0 is 0.30. With ten years of it, 30 deaths, exposure
    20: Gamma(33, 25), mean 1.32, chance above 1.0 0.93.
    """
    from scipy import stats

    one = gamma_poisson(3, 2.0, a=3, b=5)
    assert (one.a, one.b) == (6, 7)
    assert one.mean == pytest.approx(0.86, abs=0.005)
    assert stats.gamma.sf(1.0, one.a, scale=1 / one.b) == pytest.approx(0.30, abs=0.005)
    ten = gamma_poisson(30, 20.0, a=3, b=5)
    assert (ten.a, ten.b) == (33, 25)
    assert ten.mean == pytest.approx(1.32, abs=0.005)
    assert stats.gamma.sf(1.0, ten.a, scale=1 / ten.b) == pytest.approx(0.93, abs=0.005)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 300), st.integers(0, 300), st.floats(0.5, 50), st.floats(0.5, 50))
def test_intervals_against_scipy(events: int, rest: int, a: float, b: float) -> None:
    from scipy import stats

    found = beta_binomial(events, events + rest, a=a, b=b)
    expected = stats.beta.interval(0.90, a + events, b + rest)
    assert (found.low, found.high) == pytest.approx(expected, rel=1e-6, abs=1e-12)
    counts = gamma_poisson(events, rest + 1.0, a=a, b=b)
    expected = stats.gamma.interval(0.90, a + events, scale=1 / (b + rest + 1.0))
    assert (counts.low, counts.high) == pytest.approx(expected, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(("events", "trials", "a"), [(3, 2, 1), (-1, 2, 1), (1, 2, 0)])
def test_impossible_counts(events: int, trials: int, a: float) -> None:
    with pytest.raises(ValueError, match="prior"):
        beta_binomial(events, trials, a=a, b=1)
    if events < 0 or a <= 0:
        with pytest.raises(ValueError, match="prior"):
            gamma_poisson(events, trials, a=a, b=1)


def rentals(bike: str, n: int, incidents: int, ground: str | None = None) -> list[Rental]:
    return [Rental(bike=bike, incident=i < incidents, ground=ground, km=200.0) for i in range(n)]


def test_never_a_rate_from_three_rentals() -> None:
    lesson = learn(rentals("dual-sport", 3, 3, "track"), DEFAULT_FLEET)
    (whole,) = [r for r in lesson.rates if r.bike == "dual-sport" and r.ground is None]
    assert not whole.used and whole.rate == 0.10
    assert lesson.fleet.classes == DEFAULT_FLEET.classes


def test_a_small_log_moves_the_rate_a_little_and_a_large_one_a_lot() -> None:
    """Prior 10 % worth 20 rentals: 4 in 20 gives (2 + 4) / 40 = 15 %."""
    small = learn(rentals("dual-sport", 20, 4), DEFAULT_FLEET)
    large = learn(rentals("dual-sport", 400, 80), DEFAULT_FLEET)
    rates = [
        next(r for r in lesson.rates if r.bike == "dual-sport" and r.ground is None)
        for lesson in (small, large)
    ]
    assert rates[0].rate == pytest.approx(0.15)
    assert rates[1].rate == pytest.approx((2 + 80) / 420)
    assert rates[0].high - rates[0].low > rates[1].high - rates[1].low
    bike = large.fleet.named("dual-sport")
    assert bike is not None
    assert bike.incident_low is not None and bike.incident_high is not None
    assert bike.incident_low < bike.incident_rate < bike.incident_high
    assert bike.incident_basis.startswith("80 in 400 of your rentals")
    assert large.fleet.rentals == 400


def test_grounds_are_drawn_towards_their_class() -> None:
    log = rentals("light-trail", 60, 2, "paved") + rentals("light-trail", 60, 14, "track")
    log += rentals("light-trail", 5, 5, "gravel")
    lesson = learn(log, DEFAULT_FLEET)
    rate = {r.ground: r for r in lesson.rates if r.bike == "light-trail"}
    whole = rate[None].rate
    assert rate["paved"].rate < whole < rate["track"].rate
    assert rate["paved"].rate > 2 / 60 and rate["track"].rate < 14 / 60
    assert not rate["gravel"].used
    bike = lesson.fleet.named("light-trail")
    assert bike is not None
    assert [i.ground for i in bike.incidents] == ["paved", "track"]


def test_by_distance() -> None:
    """14 incidents in 12,000 km: about 1.2 in 1,000 km (posterior mean 14.5 / 12)."""
    lesson = learn(rentals("light-trail", 60, 14), DEFAULT_FLEET)
    whole = next(r for r in lesson.rates if r.bike == "light-trail")
    assert whole.per_1000_km == pytest.approx(14.5 / 12, rel=1e-6)
    assert whole.per_1000_low is not None and whole.per_1000_high is not None
    assert whole.per_1000_low < 14 / 12 < whole.per_1000_high
    short = learn(rentals("light-trail", 10, 1)[:10], DEFAULT_FLEET)
    first = next(r for r in short.rates if r.bike == "light-trail")
    assert first.km == 2_000 and first.per_1000_km is not None


def test_classes_the_fleet_does_not_have() -> None:
    lesson = learn(rentals("ghost", 50, 1) + rentals("enduro", 12, 1), DEFAULT_FLEET)
    assert lesson.unknown == ("ghost",)
    assert lesson.rentals == 12


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 60), st.data())
def test_the_rate_lies_between_belief_and_log(n: int, data: st.DataObject) -> None:
    hits = data.draw(st.integers(0, n))
    lesson = learn(rentals("dual-sport", n, hits), DEFAULT_FLEET)
    whole = next(r for r in lesson.rates if r.bike == "dual-sport" and r.ground is None)
    if n < LEARN.least_rentals:
        assert whole.rate == 0.10
    else:
        assert min(0.10, hits / n) - 1e-12 <= whole.rate <= max(0.10, hits / n) + 1e-12
        assert whole.low <= whole.rate <= whole.high or hits == 0


def test_rates_by_setup_and_heat_and_what_failed() -> None:
    bike = DEFAULT_FLEET.classes[0].name
    rentals = [
        Rental(
            bike=bike, incident=i < 12, setup="off-road" if i % 2 else "road",
            heat_c=20.0 + 10.0 * (i % 3), failed="chain" if i < 8 else "tyre" if i < 12 else None,
        )
        for i in range(60)
    ]  # fmt: skip
    lesson = learn(rentals, DEFAULT_FLEET)
    by_setup = {r.setup: r for r in lesson.rates if r.setup}
    by_heat = {r.heat: r for r in lesson.rates if r.heat}
    assert (by_setup["road"].rentals, by_setup["off-road"].rentals) == (30, 30)
    assert [by_heat[h].rentals for h in ("under 25 °C", "25 to 35 °C", "over 35 °C")] == [20] * 3
    for rate in (*by_setup.values(), *by_heat.values()):
        assert rate.low < rate.rate < rate.high
        assert rate.ground is None
    assert [(f.part, f.n) for f in lesson.failures] == [("chain", 8), ("tyre", 4)]
    kept = parse_fleet(fleet_text(lesson.fleet), "fleet.toml").named(bike)
    assert kept is not None and kept.failed == ("chain", "tyre")
    # Parts of a class are drawn towards the class.
    raw = by_heat["over 35 °C"].incidents / 20
    whole = next(r for r in lesson.rates if not (r.ground or r.setup or r.heat) and r.bike == bike)
    low, high = sorted((raw, whole.rate))
    assert low <= by_heat["over 35 °C"].rate <= high
