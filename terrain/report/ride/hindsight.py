"""How well the reports did, on a terminal."""

from __future__ import annotations

from terrain.text.plain import plain_line
from terrain.text.translator import Translator, translator_for
from terrain.values.hindsight import Hindsight


def hindsight_text(told: Hindsight, translator: Translator | None = None) -> str:
    """Some twenty lines, without a final line break."""
    say = translator or translator_for()
    lines = []
    time = told.time
    if time.share is None or told.mean_error is None or told.bias is None:
        lines.append(say.say("No ride with a known time."))
    else:
        lines.append(
            say.say(
                "Of {n_rides} rides {n_held} took a time within the 90 % interval: {held_pct} "
                "({low_pct} to {high_pct}; 90 % is right).",
                n_rides=time.n, n_held=time.held, held_pct=100.0 * time.share,
                low_pct=100.0 * (time.low or 0.0), high_pct=100.0 * (time.high or 0.0),
            )
        )  # fmt: skip
        lines.append(
            say.say(
                "Mean error {error_pct}; rides took {bias_pct} of the expected time.",
                error_pct=100.0 * told.mean_error, bias_pct=100.0 * told.bias,
            )
        )  # fmt: skip
    for miss in told.misses:
        lines.append(
            "  "
            + say.say(
                "{name}, {ride_day}: {moving_s}, expected {expected_s}: {reason}",
                name=plain_line(miss.name), ride_day=miss.day.isoformat(),
                moving_s=miss.moving_s, expected_s=miss.expected_s, reason=miss.reason,
            )
        )  # fmt: skip
    if told.ground is not None:
        lines.append(
            say.say(
                "Ground: {n_right} of {n_told} statements name the likeliest ground of the map; by "
                "its chances {expected_right} should.",
                n_right=told.ground.right, n_told=told.ground.n,
                expected_right=round(told.ground.expected, 1),
            )
        )  # fmt: skip
    return "\n".join(lines).replace("\u00a0", " ").replace("\u202f", " ")
