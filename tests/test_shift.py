"""The queue of people: queueing theory, an independent simulator, conservation, what more people can do."""

from __future__ import annotations

import math
import tracemalloc

import numpy as np
import pytest
import simpy
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import t as student

from ergo.unit.run_statistics import Job, Spread, Tally
from ergo.unit.simulation import ShiftPattern, serve

ALL_DAY = (0.0,)


def run(jobs, people, airway=0, lifts=0, changes=False):
    tally = Tally(1, 1, 0.0, 0.0)
    serve([jobs], ShiftPattern(ALL_DAY, (people,), (airway,), lifts, changes), tally, 1440.0)
    return tally


def poisson(rate, n, minutes, rng, k=1):
    return [
        Job(float(a), 0, float(d), k) for a, d in zip(np.cumsum(rng.exponential(1 / rate, n)), minutes, strict=True)
    ]


def interval(values):
    half = student.ppf(0.995, len(values) - 1) * np.std(values, ddof=1) / math.sqrt(len(values))
    return np.mean(values) - half, np.mean(values) + half


def erlang_c(servers, load):
    """Probability to wait in M/M/c (Erlang 1917, textbook form, from memory)."""
    terms = [load**k / math.factorial(k) for k in range(servers)]
    last = load**servers / math.factorial(servers) * servers / (servers - load)
    return last / (sum(terms) + last)


@pytest.mark.parametrize(("servers", "load"), [(1, 0.6), (3, 2.1), (8, 6.4)])
def test_waits_of_m_m_c_lie_within_the_confidence_interval_of_the_runs(servers, load):
    mean = 5.0
    shares, waits = [], []
    for seed in range(20):
        rng = np.random.default_rng([seed, servers])
        tally = run(poisson(load / mean, 4000, rng.exponential(mean, 4000), rng), servers)
        shares.append(1 - tally.on_time[0] / tally.events[0])
        waits.append(tally.wait_total[0] / tally.events[0])
    low, high = interval(shares)
    assert low <= erlang_c(servers, load) <= high
    low, high = interval(waits)
    assert low <= erlang_c(servers, load) * mean / (servers - load) <= high


def test_people_at_work_of_m_g_infinity_lie_within_the_confidence_interval_of_the_runs():
    """Mean number in service is rate x mean time, whatever the distribution (textbook, from memory)."""
    rate, mean, n = 0.5, 8.0, 3000
    busy = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        jobs = poisson(rate, n, rng.lognormal(math.log(mean) - 0.5, 1.0, n), rng)
        tally = run(jobs, 200)
        assert tally.wait_total[0] == 0.0
        busy.append(tally.given / jobs[-1].arrival)
    low, high = interval(busy)
    assert low <= rate * mean <= high


def test_one_by_one_the_waits_equal_those_of_an_independent_simulator():
    rng = np.random.default_rng(5)
    jobs = poisson(0.4, 500, rng.exponential(6.0, 500), rng)
    env = simpy.Environment()
    staff = simpy.Resource(env, 3)
    waits = []

    def move(arrival, minutes):
        yield env.timeout(arrival)
        with staff.request() as asked:
            yield asked
            waits.append(env.now - arrival)
            yield env.timeout(minutes)

    for job in jobs:
        env.process(move(job.arrival, job.minutes))
    env.run()
    tally = run(jobs, 3)
    assert tally.wait_total[0] == pytest.approx(sum(waits), rel=1e-9)


def test_for_teams_the_waits_equal_those_of_an_independent_simulator():
    """A team is as many requests with the priority of its place in the order: nobody overtakes."""
    rng = np.random.default_rng(6)
    jobs = poisson(0.3, 400, rng.exponential(6.0, 400), rng)
    for job, people in zip(jobs, rng.integers(1, 5, 400), strict=True):
        job.handlers = int(people)
    env = simpy.Environment()
    staff = simpy.PriorityResource(env, 6)
    waits = []

    def move(order, arrival, minutes, people):
        yield env.timeout(arrival)
        asked = [staff.request(priority=order) for _ in range(people)]
        yield simpy.AllOf(env, asked)
        waits.append(env.now - arrival)
        yield env.timeout(minutes)
        for one in asked:
            staff.release(one)

    for order, job in enumerate(jobs):
        env.process(move(order, job.arrival, job.minutes, job.handlers))
    env.run()
    assert sum(waits) > 100
    assert run(jobs, 6).wait_total[0] == pytest.approx(sum(waits), rel=1e-9)


def test_hand_computed_waits_to_the_minute():
    """Four people. 0:00 three for 10 min; 0:02 two for 5 min wait 8; 0:03 one may not overtake, waits 7."""
    jobs = [Job(0.0, 0, 10.0, 3), Job(2.0, 0, 5.0, 2), Job(3.0, 0, 4.0, 1)]
    tally = run(jobs, 4)
    assert tally.wait_total[0] == 15.0
    assert (tally.needed, tally.given, tally.missing) == (44.0, 44.0, 0.0)


def test_an_emergency_interrupts_the_last_started_move_which_goes_on_afterwards():
    """Four people: 0:00 two for 10, 0:01 two for 10; emergency at 0:05 for three for 6 min takes both teams.

    At 0:11 the first goes on for 5 and the second for 6 min: people-minutes 20 + 20 + 18.
    """
    jobs = [Job(0.0, 0, 10.0, 2), Job(1.0, 0, 10.0, 2), Job(5.0, 0, 6.0, 3, emergency=True)]
    tally = run(jobs, 4)
    assert tally.wait_total[0] == 0.0
    assert (tally.interruptions, tally.emergencies, tally.emergencies_covered) == (2, 1, 1)
    assert tally.given == 58.0


def test_a_team_larger_than_the_shift_gets_everybody_and_counts_as_not_staffed():
    tally = run([Job(0.0, 0, 10.0, 6), Job(1.0, 0, 2.0, 1)], 4)
    assert (tally.full[0], tally.covered[0]) == (1, 0)
    assert (tally.needed, tally.given, tally.missing) == (62.0, 42.0, 20.0)


def test_who_is_in_a_move_at_the_end_of_the_shift_stays_beside_the_next():
    """Two people from 0:00 and from 12:00. 11:55 two for 20 min; 12:01 two for 5 min start at once."""
    tally = Tally(2, 1, 0.0, 0.0)
    jobs = [Job(715.0, 0, 20.0, 2), Job(721.0, 0, 5.0, 2)]
    serve([jobs], ShiftPattern((0.0, 720.0), (2, 2), (0, 0), 0), tally, 1440.0)
    assert tally.covered == [1, 1]
    assert tally.people_minutes == [40.0, 10.0]
    assert tally.overtime_minutes == [30.0, 0.0]


def test_an_airway_lead_and_a_lift_are_waited_for():
    jobs = [
        Job(0.0, 0, 10.0, 2, airway=1, lift=1),
        Job(1.0, 0, 5.0, 2, airway=1),
        Job(2.0, 0, 5.0, 1, lift=1),
    ]
    assert run(jobs, 9, airway=1, lifts=1).wait_total[0] == 9.0 + 8.0
    jobs = [Job(0.0, 0, 10.0, 2, airway=1), Job(1.0, 0, 10.0, 2, lift=1)]
    without = run(jobs, 9)
    assert (without.full[0], without.given, without.missing) == (0, 40.0, 10.0)


def test_pull_goes_to_the_pullers_in_turn_and_is_summed_over_the_shift():
    """Three people, two pull 100 N s in each of three moves: 600 N s in all, each of them twice."""
    jobs = [Job(10.0 * i, 0, 5.0, 2, pullers=2, pull=100.0, loadings=3.0) for i in range(3)]
    tally = run(jobs, 3, changes=True)
    assert (tally.pulls[0].count, tally.pulls[0].total, tally.pulls[0].most) == (3, 600.0, 200.0)
    assert tally.loads[0].mean == 6.0


MOVES = st.lists(
    st.tuples(
        st.floats(0, 9), st.floats(0.5, 40), st.integers(1, 6), st.integers(0, 1), st.integers(0, 1),
        st.booleans()
    ),
    min_size=1,
    max_size=60,
)  # fmt: skip


def jobs_of(moves, start=0.0):
    """Moves around the change of shift at noon, so that people stay on and emergencies meet both shifts."""
    now = 600.0 + start
    jobs = []
    for gap, minutes, people, airway, lift, emergency in moves:
        now += gap
        jobs.append(Job(now, 0, minutes, people, airway, lift, emergency))
    return jobs


class Starts(Tally):
    """Keeps the first start of every move, for the test only."""

    def __init__(self):
        super().__init__(2, 1, 5.0, 1.0)
        self.starts = {}

    def start(self, job, wait, full):
        super().start(job, wait, full)
        self.starts[job.arrival, job.order] = (job.arrival + wait, full)


def starts(moves, people, airway=(1, 1)):
    tally = Starts()
    serve([jobs_of(moves)], ShiftPattern((0.0, 720.0), people, airway, 1), tally, 1440.0)
    return tally


@settings(max_examples=300, deadline=None)
@given(MOVES, st.integers(0, 6), st.integers(0, 6), st.integers(0, 2), st.sampled_from([(1, 0), (0, 1), (1, 1)]))
def test_one_person_more_never_lets_a_move_start_later_nor_lowers_coverage(moves, day, night, leads, added):
    """Common random numbers: the same moves, one person more of either duty on both shifts."""
    fewer = starts(moves, (day, night), (leads, leads))
    more = starts(moves, (day + added[0], night + added[0]), (leads + added[1], leads + added[1]))
    assert all(more.starts[key][0] <= when + 1e-6 for key, (when, _) in fewer.starts.items())
    assert sum(more.on_time) >= sum(fewer.on_time)
    if day == night:  # or else an earlier start may fall to the smaller shift
        assert sum(more.full) >= sum(fewer.full)
        assert sum(more.covered) >= sum(fewer.covered)


def test_a_move_that_starts_earlier_may_fall_to_the_smaller_shift():
    """One lead more lets a move that needs three begin a minute before the night, with the two of the day."""
    moves = [(0.0, 119.0, 1, 1, 0, False), (0.0, 2.0, 1, 1, 0, False), (119.0, 1.0, 3, 0, 0, False)]
    fewer, more = starts(moves, (2, 3), (1, 1)), starts(moves, (2, 3), (2, 2))
    assert all(more.starts[key][0] <= when for key, (when, _) in fewer.starts.items())
    assert (sum(fewer.full), sum(more.full)) == (3, 2)


@settings(max_examples=200, deadline=None)
@given(MOVES, st.integers(0, 6), st.integers(0, 6))
def test_people_minutes_needed_are_given_or_missing_and_every_move_is_done(moves, day, night):
    tally = starts(moves, (day, night))
    assert sum(tally.events) == len(moves)
    assert tally.given + tally.missing == pytest.approx(tally.needed, rel=1e-9, abs=1e-6)
    assert tally.given == pytest.approx(sum(tally.people_minutes))
    assert tally.needed == pytest.approx(sum(m[1] * (m[2] + m[3]) for m in moves))


def test_memory_does_not_grow_with_the_number_of_moves():
    def days(n):
        rng = np.random.default_rng(2)
        for day in range(n):
            times = np.sort(rng.random(300)) * 1440 + day * 1440
            yield [Job(float(a), 0, 5.0, 2, pullers=2, pull=50.0) for a in times]

    peaks = []
    for n in (5, 40):
        tracemalloc.start()
        serve(days(n), ShiftPattern((0.0, 720.0), (6, 5), (0, 0), 0), Tally(2, 1, 15.0, 2.0), n * 1440.0)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.2 * peaks[0]


@given(st.lists(st.floats(0, 1e5), min_size=1, max_size=200), st.sampled_from([50, 95]))
def test_a_streamed_percentile_is_the_exact_one_within_two_percent(values, percent):
    spread = Spread()
    for value in values:
        spread.add(value)
    exact = np.percentile(values, percent, method="inverted_cdf")
    assert exact * (1 - 1e-9) <= spread.percentile(percent) * (1 + 1e-9)
    assert spread.percentile(percent) <= exact * 1.0201 + 1e-9
