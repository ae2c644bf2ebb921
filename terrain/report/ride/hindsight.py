"""How well the reports did, in words."""

from __future__ import annotations

from terrain.text.message import Message, message
from terrain.text.plain import plain_line
from terrain.text.translator import Translator, translator_for
from terrain.values.hindsight import Hindsight


def times_said(told: Hindsight) -> tuple[Message, ...]:
    """How well the times of the reports held."""
    time = told.time
    if time.share is None or told.mean_error is None or told.bias is None:
        return (message("No ride with a known time."),)
    said = [
        message(
            "Rides within their 90 % interval of time: {n_held} of {n_rides}, {held_pct} "
            "({low_pct} to {high_pct}; 90 % is right).",
            n_rides=time.n, n_held=time.held, held_pct=100.0 * time.share,
            low_pct=100.0 * (time.low or 0.0), high_pct=100.0 * (time.high or 0.0),
        ),
        message(
            "Mean error {error_pct}; rides took {bias_pct} of the expected time.",
            error_pct=100.0 * told.mean_error, bias_pct=100.0 * told.bias,
        ),
    ]  # fmt: skip
    if told.learned_error is not None:
        said.append(
            message(
                "By the times learned from these rides, their mean error is {error_pct}.",
                error_pct=100.0 * told.learned_error,
            )
        )
    return tuple(said)


def ground_said(told: Hindsight) -> Message | None:
    """How well the map's ground held; None if nobody who is heard told of any."""
    if told.ground is None:
        return None
    return message(
        "Ground: {n_right} of {n_told} statements name the likeliest ground of the map; by "
        "its chances {expected_right} should.",
        n_right=told.ground.right, n_told=told.ground.n,
        expected_right=round(told.ground.expected, 1),
    )  # fmt: skip


def hindsight_text(told: Hindsight, translator: Translator | None = None) -> str:
    """Some twenty lines for a terminal, without a final line break."""
    say = translator or translator_for()
    lines = [say.translate(said) for said in times_said(told)]
    for miss in told.misses:
        lines.append(
            "  "
            + say.say(
                "{name}, {ride_day}: {moving_s}, expected {expected_s}: {reason}",
                name=plain_line(miss.name), ride_day=miss.day.isoformat(),
                moving_s=miss.moving_s, expected_s=miss.expected_s, reason=miss.reason,
            )
        )  # fmt: skip
    if (ground := ground_said(told)) is not None:
        lines.append(say.translate(ground))
    return "\n".join(lines).replace("\u00a0", " ").replace("\u202f", " ")
