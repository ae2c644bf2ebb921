"""What can hurt, said first; and what always holds."""

from __future__ import annotations

import numpy as np

from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.rider.fit import beyond_part, ford_places, is_hot
from terrain.stages.advice.runs import near, runs_where
from terrain.stages.advice.setup.judge import SOFT_M
from terrain.stages.advice.words import advice_item
from terrain.stages.heat.words import cause_terms
from terrain.tables.advice import HEAT, PRACTICE, REMOTE
from terrain.text.message import Message, term
from terrain.values.advice import AdviceItem, BikeFit, Excluded, RiderFit, RiderVerdict
from terrain.values.ground import GroundKind, SeasonCause, SeasonRisk

# Common practice, no source.
_SHUT_M = 200.0
_TRACK_M = 500.0  # of track that is not ridden at night
_MOST_CLUTCH = 3
_POOR_GROUND = 0.35  # a best bike with less on its ground line is no answer
_FORD_SOURCE = "common practice, no source"


def list_cautions(
    case: AdviceCase,
    rider: RiderFit,
    bikes: tuple[BikeFit, ...],
    excluded: tuple[Excluded, ...],
    helps: tuple[Message, ...],
) -> tuple[AdviceItem, ...]:
    """Cautions, those that can hurt most first. helps : where no class may go, what would help"""
    said: list[AdviceItem] = []
    if rider.verdict is RiderVerdict.BEYOND:
        said.append(_beyond(case, rider))
    said += _impassable(case)
    said += _no_riding(case)
    if not bikes:
        said.append(advice_item("no-class-fits", helps=helps, n_classes=len(case.fleet.classes)))
    said += _poor_fit(case, bikes, excluded)
    if case.month is None:
        said.append(advice_item("undated"))
    said += _season(case)
    said += _help(case)
    said += _heat(case)
    said += _clutch(case)
    if ford_places(case):
        said.append(advice_item("ford-how", source=_FORD_SOURCE))
    said += _unmapped(case)
    if sum(s.length_m for s in case.stretches if s.ground is GroundKind.TRACK) >= _TRACK_M:
        said.append(advice_item("dark", source=PRACTICE))
    return (*said, *_always(case))


def _season(case: AdviceCase) -> list[AdviceItem]:
    said = []
    shut, doubtful = SeasonRisk.CONFIRM_FIRST, SeasonRisk.DOUBTFUL
    for code, risks, causes, least_m in (
        ("season-snow", (shut,), (SeasonCause.SNOW,), _SHUT_M),
        ("season-frost", (shut,), (SeasonCause.FROST,), _SHUT_M),
        ("season-tagged", (shut, doubtful), (SeasonCause.TAGGED,), _SHUT_M),
        ("season-confirm", (shut,), (SeasonCause.RAIN, None), SOFT_M),
        ("season-doubtful", (doubtful,), (SeasonCause.RAIN, None), SOFT_M),
    ):
        rows = [s for s in case.stretches if s.season_risk in risks and s.season_cause in causes]
        length = sum(s.length_m for s in rows)
        if length >= least_m:
            said.append(advice_item(code, from_m=rows[0].from_m, to_m=rows[-1].to_m, soft_m=length,
                            first_at_m=rows[0].from_m, near=near(case, rows[0].from_m),
                            source="monsoon rule: " + PRACTICE))  # fmt: skip
    return said


def _beyond(case: AdviceCase, rider: RiderFit) -> AdviceItem:
    """The ride as a whole, or the one part of it that is too hard."""
    part = beyond_part(case, rider)
    if part is not None:
        from_m, to_m = part
        return advice_item("beyond-rider-part", from_m=from_m, to_m=to_m, run_m=to_m - from_m,
                   from_at_m=from_m, near=near(case, from_m), rider=rider.rider,
                   source=PRACTICE)  # fmt: skip
    return advice_item("beyond-rider", rider=rider.rider, source=PRACTICE)


def _impassable(case: AdviceCase) -> list[AdviceItem]:
    runs = runs_where(case, np.array([s.impassable for s in case.stretches], dtype=np.bool_))
    return [
        advice_item("impassable", from_m=run.from_m, to_m=run.to_m, run_m=run.length_m,
            from_at_m=run.from_m, near=near(case, run.from_m),
            source="OSM wiki, Key:smoothness: impassable; Tag:highway=steps")
        for run in sorted(runs, key=lambda run: -run.length_m)
    ]  # fmt: skip


def _no_riding(case: AdviceCase) -> list[AdviceItem]:
    """Heat in which nobody should ride."""
    heat = case.heat.rider
    if heat is None or (
        heat.max_wbgt_riding_c < HEAT.wbgt_c[2] and heat.max_heat_index_c < HEAT.extreme_index_c
    ):
        return []
    at = heat.max_air_temp_at_m
    return [advice_item("heat-no-riding", from_m=at, to_m=at, max_air_c=heat.max_air_temp_c,
                hot_at_m=at, near=near(case, at),
                riding_wbgt_c=heat.max_wbgt_riding_c, source=HEAT.source)]  # fmt: skip


def _poor_fit(
    case: AdviceCase, bikes: tuple[BikeFit, ...], excluded: tuple[Excluded, ...]
) -> list[AdviceItem]:
    """Where even the first of the list is no good, say so, and what the load costs."""
    if not bikes:
        return []
    ground = _ground_score(bikes[0])
    if ground is None or not has_poor_ground(bikes[0]):
        return []
    kept_out = [e for e in excluded if {r.code for r in e.reasons} <= _BY_LOAD]
    if not kept_out:
        return [advice_item("poor-fit", bike=bikes[0].title, ground_share=ground, source=PRACTICE)]
    return [advice_item("poor-fit-load", bike=bikes[0].title, ground_share=ground,
                others=tuple(term(e.title) for e in kept_out), source=PRACTICE)]  # fmt: skip


def has_poor_ground(fit: BikeFit) -> bool:
    """Whether a bike is no answer for the ground, however it ranks."""
    ground = _ground_score(fit)
    return ground is not None and ground < _POOR_GROUND


def _ground_score(fit: BikeFit) -> float | None:
    return next((row.score for row in fit.table if row.what == "ground"), None)


_BY_LOAD = {"no-seat", "payload", "payload-one"}


def _help(case: AdviceCase) -> list[AdviceItem]:
    said = []
    far_s, far_m = case.mechanic_s, case.mechanic_m
    if far_s is None and far_m is None:
        said.append(advice_item("help-unknown", remote_m=case.remote_m))
    elif (far_s or 0.0) > REMOTE.tools_s or (far_m or 0.0) > REMOTE.tools_m:
        at = case.mechanic_at_m
        said.append(
            advice_item(
                "remote",
                from_m=at,
                to_m=at,
                far_s=far_s,
                far_m=case.mechanic_there_m,
                here_at_m=at,
                near=near(case, at or 0.0),
                source=REMOTE.source,
            )
        )
    if (case.hospital_s or 0.0) > REMOTE.care_s:
        at = case.hospital_at_m
        said.append(
            advice_item(
                "care-far-ferry" if case.hospital_ferry_m else "care-far",
                from_m=at,
                to_m=at,
                care_s=case.hospital_s,
                here_at_m=at,
                near=near(case, at or 0.0),
                source=REMOTE.source,
            )
        )
    return said


def _heat(case: AdviceCase) -> list[AdviceItem]:
    said = []
    heat = case.heat.rider
    if heat is not None and is_hot(heat):
        said.append(advice_item("heat-how", max_air_c=heat.max_air_temp_c, source=PRACTICE))
        if heat.used_to_heat:
            source = "NIOSH 2016: one to two weeks, from memory"
            said.append(advice_item("heat-used", source=source))
    if heat is not None and heat.max_air_temp_c >= HEAT.gear_air_c:
        said.append(advice_item("gear-heat", limit_c=HEAT.gear_air_c, max_air_c=heat.max_air_temp_c,
                        source="de Rome et al. 2016, Ergonomics 59(4):504"))  # fmt: skip
    said += _fans(case)
    return said


def _fans(case: AdviceCase) -> list[AdviceItem]:
    """The classes whose fan has to work, told with the part that is hardest for any of them."""
    fans = [(b, case.heat.engine_of(b.name)) for b in case.fleet.classes if b.fan]
    hot = [(bike, engine) for bike, engine in fans if engine is not None and engine.is_high]
    if not hot:
        return []
    _, worst = max(hot, key=lambda one: one[1].fan_s)
    from_m, to_m = worst.hottest_part
    at = from_m or 0.0
    return [
        advice_item("fan-depends", from_m=from_m, to_m=to_m,
                    classes=tuple(term(bike.title) for bike, _ in hot), from_at_m=at,
                    why=cause_terms(worst.causes), near=near(case, at))
    ]  # fmt: skip


def _clutch(case: AdviceCase) -> list[AdviceItem]:
    """Where a clutch gets hot, the longest first; and once, whose it is."""
    said = [
        advice_item("clutch-hot", from_m=run.from_m, to_m=run.to_m, run_m=run.to_m - run.from_m,
                    hot_s=run.time_s, from_at_m=run.from_m, near=near(case, run.from_m),
                    source=PRACTICE)
        for run in sorted(case.heat.clutch, key=lambda run: -run.time_s)[:_MOST_CLUTCH]
    ]  # fmt: skip
    if not said:
        return []
    mine = advice_item("clutch-contract", source=PRACTICE).only_for("rider")
    return [*said, advice_item("clutch-how", source=PRACTICE), mine]


def _unmapped(case: AdviceCase) -> list[AdviceItem]:
    off = [s.ground is GroundKind.UNMAPPED for s in case.stretches]
    runs = runs_where(case, np.array(off, dtype=np.bool_))
    length = sum(s.length_m for s, yes in zip(case.stretches, off, strict=True) if yes)
    if length < 200:
        return []
    worst = max(runs, key=lambda run: run.length_m)
    return [advice_item("unmapped", from_m=worst.from_m, to_m=worst.to_m, unmapped_m=length,
                from_at_m=worst.from_m, near=near(case, worst.from_m))]  # fmt: skip


def _always(case: AdviceCase) -> list[AdviceItem]:
    return [
        advice_item("not-leave", source="OSM wiki, Key:access: legal tags only; " + PRACTICE),
        advice_item(
            "zones" if case.areas is not None else "zones-unread",
            source="district permit guidelines; OSM wiki, Key:access",
        ),
        advice_item("licence", source="UN road traffic conventions 1949, 1968"),
        advice_item("insurance", source=PRACTICE),
        advice_item("estimates"),
    ]
