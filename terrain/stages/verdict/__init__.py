"""The answer: what forbids a ride, what endangers it, what to send out, what is not known."""

from terrain.stages.verdict.judge import judge_verdict as judge_verdict
from terrain.stages.verdict.ruling import decided as decided
