"""Figures for those who watch over the server, in the text format of Prometheus or as OpenMetrics.

Rules
-----
- Read from the database at each asking: every process gives the same, and none keeps counts of its own.
- Behind a token of its own, ``TACKWATCH_METRICS_TOKEN``. Where none is set there is nothing at this address.
- Nothing names a refit or a person.

Source
------
OpenMetrics 1.0; the package prometheus-client writes both formats.
"""

from __future__ import annotations

import hmac
from collections.abc import Iterator

from flask import Blueprint, Response, abort, request
from prometheus_client import CollectorRegistry
from prometheus_client.core import (
    CounterMetricFamily,
    GaugeMetricFamily,
    HistogramMetricFamily,
    InfoMetricFamily,
    Metric,
)
from prometheus_client.exposition import choose_encoder
from prometheus_client.registry import Collector

from tackwatch.api.current import house
from tackwatch.work.errors import NotSignedInError
from tackwatch.work.health import Figures, channel_health, figures
from tackwatch.work.health_tally import ALARM, CHANNELS, NO_BOUND

blueprint = Blueprint("metrics", __name__)

_WAITING = ("to_come", "due", "overdue", "claimed", "retrying")
_RESULTS = ("sent", "failed", "refused", "dropped")


@blueprint.get("/metrics")
def get_metrics() -> Response:
    """Give the figures."""
    here = house()
    _check_token(here.settings.metrics_token)
    registry = CollectorRegistry(auto_describe=False)
    registry.register(_Once(figures(here.ports.clock.now())))
    encode, media_type = choose_encoder(request.headers.get("Accept", ""))
    answer = Response(encode(registry), content_type=media_type)
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _check_token(token: str) -> None:
    if not token:
        abort(404)
    scheme, _, given = request.headers.get("Authorization", "").partition(" ")
    if scheme.lower() != "bearer" or not hmac.compare_digest(given.encode(), token.encode()):
        raise NotSignedInError("token-wrong", "The token of the figures is needed to come in.")


class _Once(Collector):
    """Hands out figures that were read once."""

    def __init__(self, found: Figures) -> None:
        self._found = found

    def collect(self) -> Iterator[Metric]:
        """Give the families of figures."""
        found = self._found
        yield InfoMetricFamily("tackwatch", "The program.", value={"version": found.version})
        yield from _of_bells(found)
        yield _waiting(found)
        yield from _counts(found)


def _of_bells(found: Figures) -> Iterator[Metric]:
    alive = GaugeMetricFamily(
        "tackwatch_alarm_process_alive", "1: it keeps its promise.", labels=["process"]
    )
    beat = GaugeMetricFamily(
        "tackwatch_alarm_process_beat_timestamp_seconds", "Heard of last.", labels=["process"]
    )
    promised = GaugeMetricFamily(
        "tackwatch_alarm_process_next_beat_timestamp_seconds",
        "To be heard of by then.",
        labels=["process"],
    )
    for one in found.bells:
        alive.add_metric([one.name], float(one.alive))
        beat.add_metric([one.name], one.beat_at.timestamp())
        promised.add_metric([one.name], one.next_beat_by.timestamp())
    number = sum(one.alive for one in found.bells)
    yield GaugeMetricFamily(
        "tackwatch_alarm_processes", "Alarm processes that are alive.", value=number
    )
    yield from (alive, beat, promised)


def _waiting(found: Figures) -> Metric:
    waiting = GaugeMetricFamily(
        "tackwatch_alarms_waiting",
        "Alarms not told yet. overdue: due for two minutes and untaken.",
        labels=["state"],
    )
    for state in _WAITING:
        waiting.add_metric([state], getattr(found.waiting, state))
    return waiting


def _counts(found: Figures) -> Iterator[Metric]:
    ended = CounterMetricFamily("tackwatch_alarms", "Alarms that ended.", labels=["state"])
    by_state = {one.result: one.count for one in found.counts if one.channel == ALARM}
    for state in ("told", "missed"):
        ended.add_metric([state], by_state.get(state, 0))
    tries = CounterMetricFamily(
        "tackwatch_tries", "Attempts, by how they ended.", labels=["channel", "result"]
    )
    late = HistogramMetricFamily(
        "tackwatch_late_seconds",
        "From when an alarm was due until a channel took it.",
        labels=["channel"],
    )
    for name in CHANNELS:
        channel = channel_health(name, found.counts)
        for result in _RESULTS:
            tries.add_metric([name, result], getattr(channel, result))
        buckets = [(_bound(bound), float(n)) for bound, n in channel.late_up_to.items()]
        total_s = (channel.late_mean_s or 0.0) * channel.sent
        late.add_metric([name], buckets, total_s)
    yield from (ended, tries, late)


def _bound(text: str) -> str:
    """Write a bucket's bound as OpenMetrics has it: a float, or +Inf."""
    return text if text == NO_BOUND else str(float(text))
