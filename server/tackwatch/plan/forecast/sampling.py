"""Draws all that a sample hangs on, before anything is dispatched.

Rules
-----
* Durations, found work and weather have a stream of chance each, so that a change in one leaves the others alone.
  What a job reveals is drawn before it is known whether the job is dropped: samples with and without it differ in
  nothing else.
* Slots are whole: a length between two is rounded up with the chance of its fraction, so that the mean is kept.
* Work that was begun takes a slot at least. Nobody's time (a wait, a cure) is as long as it is.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.forecast import columns as k
from tackwatch.plan.forecast import durations, found, weather
from tackwatch.plan.forecast.calendars import LATER
from tackwatch.plan.forecast.dispatch import PART, Draws, in_parts, play
from tackwatch.plan.forecast.net import Drawn, Jobs, Net
from tackwatch.plan.forecast.record import Record
from tackwatch.plan.model import Plan

Ints = NDArray[np.int32]
FOUND_PER_JOB: Final = 10
FOUND_AT_LEAST: Final = 60
NOTHING: Final = np.zeros(0, dtype=np.int32)


@dataclass(frozen=True, slots=True, eq=False)
class Beliefs:
    """What the record says."""

    durations: durations.DurationBelief
    rate: found.RateBelief

    @classmethod
    def of(cls, record: Record) -> "Beliefs":
        """Learn from the record."""
        return cls(durations.learn(record.took), found.learn_rate(record.found_while))


def draw(
    net: Net, jobs: Jobs, drawn: Drawn, record: Record, beliefs: Beliefs, samples: int, seed: int
) -> Draws:
    """Draw samples, part by part; the same seed gives the same, and fewer parts the first of them."""
    streams = np.random.SeedSequence(seed).spawn(-(-samples // PART))
    work = np.empty((samples, len(drawn.steps)), dtype=np.int32)
    wet = np.zeros((samples, net.days), dtype=np.bool_)
    outdoors = bool(net.column(k.OUTDOORS).any())
    revealed: list[tuple[found.Trees, Ints]] = [(found.none(0), NOTHING)] * len(streams)

    def part(at: slice) -> None:
        stream = streams[at.start // PART].spawn(3)
        length_rng, found_rng, day_rng = (np.random.default_rng(one) for one in stream)
        many = work[at].shape[0]
        lengths = durations.draw(beliefs.durations, length_rng, many)
        factor = durations.factors(lengths, length_rng, drawn.job, drawn.piece)
        work[at] = _work(net, drawn, lengths, length_rng, factor)
        revealed[at.start // PART] = _found(jobs, record, beliefs, lengths, found_rng, many)
        if outdoors:
            wet[at] = weather.draw_wet_days(record.weather, day_rng, many, net.days)

    in_parts(part, samples)
    trees = found.joined([one for one, _ in revealed])
    return Draws(work, wet, trees, np.concatenate([NOTHING, *(one for _, one in revealed)]))


def _found(
    jobs: Jobs,
    record: Record,
    beliefs: Beliefs,
    lengths: durations.DurationDraw,
    rng: np.random.Generator,
    samples: int,
) -> tuple[found.Trees, Ints]:
    """Draw what is found, and the slots that it takes."""
    rate, shape = found.draw_rate(beliefs.rate, rng, samples)
    limit = FOUND_PER_JOB * len(jobs.ids) + FOUND_AT_LEAST
    trees = found.grow(rng, rate, shape, jobs.share_left, limit)
    known = [float(one) for one in jobs.labour if one > 0]
    labour = found.draw_labour(rng, trees, known, record.found_labour)
    labour *= _found_factor(lengths, rng, trees)
    return trees, _whole(labour, rng)


def without_chance(net: Net, drawn: Drawn) -> Draws:
    """Give one sample in which everything takes what it is reckoned to, and nothing is found."""
    dry = np.zeros((1, net.days), dtype=np.bool_)
    return Draws(np.ascontiguousarray(drawn.left[None, :]), dry, found.none(1), NOTHING)


def floors(net: Net, drawn: Drawn, plan: Plan) -> Ints:
    """Give slots before which steps wait because the plan holds them back for the sake of a window.

    The plan is played without chance; where a window is missed that the plan keeps, what comes before
    it is not begun sooner than planned.
    """
    kept = {one.step_id: len(one.missed) for one in plan.placed}
    allowed = np.array([kept[step.id] for step in drawn.steps], dtype=np.int32)
    planned, floor = net.column(k.PLANNED), np.zeros(len(drawn.steps), dtype=np.int32)
    draws = without_chance(net, drawn)
    for _ in drawn.steps:
        missed = play(net, draws, floor=floor, starts=True).missed[0]
        before = _windows_before(net, np.flatnonzero(missed > allowed))
        if (floor[before] == planned[before]).all():
            break
        floor[before] = planned[before]
    return floor


def _windows_before(net: Net, steps: NDArray[np.intp]) -> Ints:
    links = [
        net.flat[u : u + k.LINK_N]
        for i in steps
        for u in range(net.row[i, k.LINK], net.row[i, k.LINK + 1], k.LINK_N)
    ]
    found = [int(link[k.BEFORE]) for link in links if link[k.MAX_GAP] < LATER or link[k.LAST] >= 0]
    return np.array(sorted(set(found)), dtype=np.int32)


def _work(
    net: Net,
    drawn: Drawn,
    lengths: durations.DurationDraw,
    rng: np.random.Generator,
    factor: NDArray[np.float32],
) -> Ints:
    planned, left = net.column(k.WORK), drawn.left
    nobodys = np.array([step.crew == 0 for step in drawn.steps], dtype=np.bool_)
    under_way = (net.column(k.FIXED) > 0) & ~nobodys & (left > 0) & (left < planned)
    for i in np.flatnonzero(under_way):
        done = int(planned[i] - left[i])
        longer = durations.longer_than(lengths, rng, done / int(planned[i]), factor[:, i])
        factor[:, i] = (longer * planned[i] - done) / left[i]
    factor *= left
    work = _whole(factor, rng)
    work[:, nobodys] = left[nobodys]
    np.maximum(work, np.minimum(left, 1), out=work)
    return work


def _whole(lengths: NDArray[np.floating], rng: np.random.Generator) -> Ints:
    up = rng.random(lengths.shape, dtype=np.float32)
    return np.asarray(np.minimum(lengths + up, LATER // 1024).astype(np.int32))


def _found_factor(
    lengths: durations.DurationDraw, rng: np.random.Generator, trees: found.Trees
) -> NDArray[np.float64]:
    sizes = np.diff(trees.start)
    sd = np.repeat(np.hypot(lengths.job_sd, lengths.own_sd), sizes)
    common = np.repeat(lengths.common, sizes)
    return np.asarray(np.exp(common + sd * rng.standard_normal(trees.root.size)))
