"""The rental desk's own decision in place of the advice, with its reason."""

from __future__ import annotations

from dataclasses import replace

from terrain.tables.verdict import DECIDING
from terrain.text.message import message
from terrain.text.plain import plain_line
from terrain.values.advice import AdviceItem, Decided, SetupChoice
from terrain.values.report import Assessed
from terrain.values.verdict import StaffDecision


def decided(ride: Assessed, decision: StaffDecision) -> Assessed:
    """What was assessed with the desk's decision; what was reckoned stays under `advice.edited`.

    A bike that must not go is never put first.
    """
    advice = ride.advice
    setup, changed = advice.setup, decision.setup is not advice.setup.choice
    said = AdviceItem(
        code="desk-decided",
        text=message("The rental desk decided this: {reason}", reason=plain_line(decision.reason)),
        source="the rental desk",
    )
    new_setup = replace(
        setup,
        choice=decision.setup,
        reasons=(said, *setup.reasons),
        flips=(),
        # How sure the reckoning was says nothing about a decision.
        p_off_road=None if changed else setup.p_off_road,
        # Tyres and pressures were reckoned for the setup that is not taken.
        tyres=None if changed else setup.tyres,
        pressures=() if changed else setup.pressures,
    )
    questions = advice.questions
    if decision.setup is not SetupChoice.ASK:
        questions = tuple(item for item in questions if item.code not in DECIDING)
    was = Decided(
        choice=setup.choice,
        p_off_road=setup.p_off_road,
        bike=advice.bikes[0].name if advice.bikes else None,
        reason=decision.reason,
        unix_s=decision.unix_s,
    )
    bikes = tuple(sorted(advice.bikes, key=lambda fit: fit.name != decision.bike))
    new = replace(advice, setup=new_setup, bikes=bikes, questions=questions, edited=was)
    return replace(ride, advice=new)
