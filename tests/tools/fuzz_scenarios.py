"""Ten thousand random scenarios: each ends in finite figures or in one error in words. Not collected by pytest.

Run `python tests/tools/fuzz_scenarios.py [FIRST [LAST]]`: chunks of a hundred scenarios, by the number of their seed
(0 to 99 when left out), so that any chunk can be run again. Every fourth scenario has one to three faults planted in
it, and the error must name each. Every fiftieth is also asked for its smallest team with probability, as JSON and as
Markdown. Prints counts, rate, the slowest and every finding with its data.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parents[2]))


from ergo.assessment import Demand, demand_of, judge
from ergo.errors import InputError
from ergo.inputs.scenario import Scenario, parse_scenario
from ergo.report.documents.assessment import assessment_answer
from ergo.report.documents.case import case_report
from ergo.report.json_export import to_json
from ergo.report.markdown import markdown_page
from ergo.report.terminal import terminal_text
from ergo.teams.smallest_team import smallest_team
from ergo.teams.team_search import smallest_typical
from tests.tools.random_scenarios import FAULTS, planted, wide_scenarios

CHUNKS, IN_CHUNK = 100, 100
LONGEST_S = 5.0  # processor time of one scenario; nobody waits longer for a verdict
NOT_A_NUMBER = (" nan", "(nan", " inf", "-inf", "None")


class FindingError(AssertionError):
    """What should not have happened."""


def whole(text: str) -> None:
    """Refuse text in which a figure failed."""
    found = [word for word in NOT_A_NUMBER if word in text]
    if found:
        raise FindingError(f"the text says {found}")


def without_the_users_words(text: str, scenario: Scenario) -> str:
    """Leave out what a user may have named "inf"."""
    layers = [word for own in scenario.own_aids for pair in own.interfaces for word in (pair.upper, pair.lower)]
    names = [scenario.name, scenario.aid, *(move.name for move in scenario.moves), *layers]
    for name in sorted(names, key=len, reverse=True):
        text = text.replace(name, "") if len(name) > 2 else text
    return text


def with_faults(data: dict[str, Any], which: set[int]) -> str:
    """One error must name every planted fault."""
    try:
        parse_scenario(planted(data, sorted(which)))
    except InputError as error:
        missing = {FAULTS[i][2] for i in which} - {f.field for f in error.faults}
        if missing:
            raise FindingError(f"not named: {missing}") from None
        return "faults named"
    raise FindingError("faults not seen")


def answered(data: dict[str, Any], in_full: bool) -> str:
    """Assess, find the smallest typical team, and every so often everything."""
    scenario = parse_scenario(data)
    try:
        demand = demand_of(scenario)
    except InputError as error:
        if not error.faults or {f.field for f in error.faults} != {"aid"}:
            raise FindingError(str(error)) from None
        return "refused in words"
    verdict = finite(demand, scenario)
    if in_full:
        answer = smallest_team(scenario)
        to_json(answer)
        if not 0.0 <= answer.probability <= 1.0:
            raise FindingError(f"probability {answer.probability}")
        whole(without_the_users_words(markdown_page(case_report(answer)).split("## Sources")[0], scenario))
        return f"{verdict}, in full"
    return verdict


def finite(demand: Demand, scenario: Scenario) -> str:
    result = judge(demand, scenario.team.left, scenario.team.right)
    said = json.loads(to_json(result))  # NaN and infinity raise
    if said["verdict"] not in ("within", "close", "over", "not applicable") or not said["why"]:
        raise FindingError(f"verdict {said['verdict']!r}, why {said['why']!r}")
    whole(without_the_users_words(terminal_text(assessment_answer(result)), scenario))
    for move in result.moves:
        for effort in move.efforts:
            if min(float(effort.effort.start_n), float(effort.effort.steady_n)) < 0:
                raise FindingError("a negative force")
        for check in move.limits:
            if check.ratio is not None and not (math.isfinite(check.ratio) and check.ratio >= 0):
                raise FindingError(f"{check.key}: ratio {check.ratio}")
            if (check.limit is None) != (check.verdict == "not applicable"):
                raise FindingError(f"{check.key}: a verdict without a limit")
    best = smallest_typical(demand)
    if best is not None and best.verdict not in ("within", "close"):
        raise FindingError(f"the smallest team is {best.verdict}")
    return str(result.verdict)


def chunk(number: int, counts: Counter[str], findings: list[str], slowest: list[tuple[float, str]]) -> int:
    """Run the scenarios of one seed; return how many there were."""
    done = 0

    @seed(number)
    @settings(
        max_examples=IN_CHUNK,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(wide_scenarios(), st.sets(st.integers(0, len(FAULTS) - 1), min_size=1, max_size=3))
    def one(data: dict[str, Any], which: set[int]) -> None:
        nonlocal done
        done += 1
        began = time.process_time()
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error")  # a division by zero on the way is a finding too
                said = with_faults(data, which) if done % 4 == 0 else answered(data, done % 50 == 1)
            counts[said] += 1
        except Exception:
            counts["FINDING"] += 1
            findings.append(f"seed {number}, case {done}: {json.dumps(data)}\n{traceback.format_exc(limit=-3)}")
        took = time.process_time() - began
        slowest.append((took, f"seed {number}, case {done}"))
        if took > LONGEST_S and done % 50 != 1:
            findings.append(f"seed {number}, case {done}: took {took:.1f} s: {json.dumps(data)}")

    one()
    return done


def asked_for(arguments: Sequence[str] | None = None) -> tuple[int, int]:
    """Return the first and the last seed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("first", type=int, nargs="?", default=0, help="seed of the first chunk, 0 when left out")
    parser.add_argument(
        "last", type=int, nargs="?", default=CHUNKS - 1, help=f"seed of the last chunk, {CHUNKS - 1} when left out"
    )
    options = parser.parse_args(arguments)
    if not 0 <= options.first <= options.last:
        parser.error("the first seed is 0 or more and not after the last")
    return options.first, options.last


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the chunks asked for."""
    first, last = asked_for(arguments)
    counts: Counter[str] = Counter()
    findings: list[str] = []
    slowest: list[tuple[float, str]] = []
    began, cases = time.process_time(), 0
    for number in range(first, last + 1):
        seen = len(findings)
        cases += chunk(number, counts, findings, slowest)
        for finding in findings[seen:]:
            print(finding, flush=True)
        if number % 10 == 9:
            print(f"seed {number} done, {cases} scenarios, {time.process_time() - began:.0f} s", flush=True)
    took = time.process_time() - began
    print(f"seeds {first} to {last}: {cases} scenarios in {took:.0f} s of processor time, {cases / took:.1f} a second")
    for said, count in counts.most_common():
        print(f"{count:7d}  {said}")
    print(f"slowest: {', '.join(f'{t:.2f} s ({where})' for t, where in sorted(slowest)[-3:])}")
    print(f"{len(findings)} findings")
    return int(bool(findings))


if __name__ == "__main__":
    sys.exit(main())
