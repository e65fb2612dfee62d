"""Everything the pages remember in one place, and cached answers keyed on the frozen scenario.

The scenario in SI units is the only truth; every input widget is a view of it. Nothing here is shared between users.
"""

from __future__ import annotations

import ipaddress
import math
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, cast
from urllib.parse import urlsplit

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from ergo.assessment import Assessment, Demand, demand_of, judge, place_people
from ergo.errors import Fault, InputError
from ergo.inputs.examples import FIRST, shipped
from ergo.inputs.scenario import (
    NAMES,
    Scenario,
    dump_scenario,
    parse_scenario,
    read_scenario,
    title_of,
    with_usual_people,
    without_names,
)
from ergo.teams.aid_trial import Trial
from ergo.teams.bed_height import NoHeight, TeamHeight
from ergo.teams.knife_edge import KnifeEdge
from ergo.teams.lift_option import LiftOption
from ergo.teams.size_curve import CurvePoint
from ergo.teams.smallest_team import AidOption, FirstAnswer, Needs, TeamAnswer, aid_names, own_option, with_options
from ergo.teams.this_team import BesideTeam, ThisTeam
from ergo.teams.who_works import WayOfWorking
from ergo.uncertainty.sensitivity import Drivers
from ergo.uncertainty.two_kinds import ProbabilityBand
from ergo.units import Units
from ergo.web import jobs
from ergo.web.link import pack_case, unpack_case

__all__ = [
    "LINK",
    "answer",
    "answer_with_aids",
    "begin",
    "beside",
    "change",
    "curve",
    "demand_for",
    "drivers",
    "enter",
    "expect_answer",
    "expect_rest",
    "first_answer",
    "height",
    "host",
    "is_reached_by_others",
    "keep_opened",
    "knife_edge",
    "lift",
    "link",
    "opened",
    "own_team",
    "page",
    "pause",
    "people",
    "placed_people",
    "replace",
    "result",
    "scenario",
    "stated_team",
    "take_faults",
    "team_helps",
    "tell",
    "trials",
    "turned_back",
    "two_kinds",
    "units",
    "ways",
]

LINK = "case"
LOOK_S = 0.1  # how often a page that waits looks whether its reader has changed something or left
_SCENARIO = "ergo.inputs.scenario"
_FAULTS = "ergo.faults"
_LINKED = "ergo.linked"
_HEARD_S = 1.5  # within this time a browser has heard of a new address
_PAGE = "ergo.page"
MASS, FORCE, LENGTH = "ergo.mass", "ergo.force", "ergo.length"
GUESSES = "ergo.guesses"
STEP = "ergo.step"
_OPENED = "ergo.opened"  # the figures that a page opened with and that are live since


def begin() -> None:
    """Set what is not set yet: once a session, from the link where there is one."""
    state = st.session_state
    state.setdefault(_FAULTS, [])
    for key, unit in ((MASS, "kg"), (FORCE, "N"), (LENGTH, "cm")):
        # Written again in every run: a widget's value is forgotten with the page that showed it.
        state[key] = state.get(key, unit)
    state.setdefault(GUESSES, {})
    state.setdefault(STEP, 0)
    state.setdefault(_OPENED, set())
    if _SCENARIO not in state:
        state[_SCENARIO] = shipped()[FIRST]
        state[_LINKED] = _Linked(None, state[_SCENARIO])


@dataclass(frozen=True, slots=True)
class _Linked:
    """What the address held when this session last read or wrote it, what it held before, and the case of it."""

    packed: str | None
    case: Scenario
    before: str | None = None
    written: float = -math.inf


def _follow_address() -> None:
    """Open the case of an address that the reader came to: by a link, or by going back and forth in the history.

    An address that is as old as the last change comes from a page that had not heard of it yet.
    """
    state, linked = st.session_state, cast(_Linked, st.session_state[_LINKED])
    packed = st.query_params.get(LINK)
    if packed is None or packed == linked.packed or state[_SCENARIO] != linked.case:
        return
    if packed == linked.before and time.monotonic() - linked.written < _HEARD_S:
        return
    try:
        case = unpack_case(packed, st.toast)
    except InputError as error:
        said = Fault("the case", "not opened", f"“{state[_SCENARIO].name}” is shown instead")
        state[_FAULTS] = [*error.shown, said]
        state[_LINKED] = _Linked(packed, state[_SCENARIO])
        return
    replace(case)
    state[_LINKED] = _Linked(packed, case)


def enter(page: str) -> None:
    """Remember on which page the reader is, the first one has no name; open or keep the case of its address."""
    other_page = st.session_state.get(_PAGE, page) != page
    st.session_state[_PAGE] = page
    _follow_address()
    _keep_address(other_page)


def page() -> str:
    """Return the page that the reader is on."""
    return str(st.session_state.get(_PAGE, ""))


def opened(figure: str) -> bool:
    """Return whether a figure that a page opens with was drawn live before."""
    return figure in st.session_state[_OPENED]


def keep_opened(figure: str) -> None:
    """Remember that a figure was drawn live: the browser has loaded what draws it."""
    st.session_state[_OPENED].add(figure)


def scenario() -> Scenario:
    """Return the case that every page shows."""
    return cast(Scenario, st.session_state[_SCENARIO])


def units() -> Units:
    """Return the units that the reader chose; they change what is shown and nothing else."""
    state = st.session_state
    return Units(state[MASS], state[FORCE], state[LENGTH])


def replace(new: Scenario) -> None:
    """Show another case."""
    st.session_state[_SCENARIO] = new
    st.session_state[_FAULTS] = []
    st.session_state[STEP] = 0


def change(updates: Mapping[str, Any]) -> None:
    """Change fields of the case, given by dotted name; a fault leaves the case as it was and is told."""
    before = scenario()
    if updates.get("name") == "":  # who empties the title has none of their own
        updates = {**updates, "name": title_of(before)}
    data = before.model_dump(mode="python", exclude_none=True)
    for path, value in updates.items():
        *parents, field = path.split(".")
        owner = data
        for part in parents:
            owner = owner.setdefault(part, {})
        if value is None:
            owner.pop(field, None)
        else:
            owner[field] = value
    try:
        changed = parse_scenario(data, "the case")
    except InputError as error:
        st.session_state[_FAULTS] = list(error.shown)
        return
    if not set(updates) <= set(NAMES):
        changed = changed.model_copy(update=_new_names(before, changed))
    st.session_state[_SCENARIO] = changed
    st.session_state[_FAULTS] = []


def _new_names(before: Scenario, changed: Scenario) -> dict[str, str]:
    """What a changed case is called: what came with an example speaks of that case, what the reader typed stays."""
    examples = shipped().values()
    found = {}
    if before.name == title_of(before) or before.name in {one.name for one in examples}:
        found["name"] = title_of(changed)
    if before.question in {one.question for one in examples}:
        found["question"] = ""
    return found


def tell(error: InputError) -> None:
    """Keep faults to be shown at the top of the page."""
    st.session_state[_FAULTS] = list(error.shown)


def take_faults() -> list[Fault]:
    """Return the faults of the last input, to be shown."""
    return list(st.session_state[_FAULTS])


def _keep_address(other_page: bool) -> None:
    """Keep a changed case in the page's address, so that reloading and going back find it.

    A page that was changed to has lost it. Who goes back to where there was none yet keeps the case that is open, and
    none is written: else the history would end there.
    """
    linked, case = cast(_Linked, st.session_state[_LINKED]), scenario()
    known = case == linked.case
    packed = linked.packed if known else pack_case(case)  # as it came, in whatever words
    stands = st.query_params.get(LINK)
    if packed != stands and not (stands is None and known and not other_page):
        if packed is None:
            st.query_params.pop(LINK, None)
        else:
            st.query_params[LINK] = packed
    if not known:  # last: a run that is ended before the address is written leaves the case to the next run
        st.session_state[_LINKED] = _Linked(packed, case, linked.packed, time.monotonic())


def link() -> str | None:
    """Return the whole address that opens the case again; None where the case is too large for one."""
    base, packed = (st.context.url or "").split("?")[0], pack_case(scenario())
    return None if packed is None else f"{base}?{LINK}={packed}"


def host() -> str:
    """Return the machine of the page's address as the reader's browser has it; "" where there is no browser."""
    return urlsplit(st.context.url or "").hostname or ""


def is_reached_by_others() -> bool:
    """Return whether the page's address means the same page on another computer."""
    found = host()
    try:
        return not ipaddress.ip_address(found).is_loopback
    except ValueError:
        return found not in ("", "localhost") and not found.endswith(".localhost")


# What is kept holds frozen results, never a user's state; the key is the scenario's own text.


@st.cache_resource(max_entries=64, show_spinner=False)
def _demand(text: str) -> Demand:
    return demand_of(read_scenario(text.encode()))


def expect_answer(case: Scenario) -> bool:
    """Ask for the answer of a case, and return whether it is there already: a page need not fill the time then."""
    text = _usual(case)
    if jobs.kept(jobs.answer, text) is None:
        jobs.ask(jobs.CURVE, jobs.curve, text)
        jobs.ask(jobs.FIRST, jobs.first, text)
        jobs.ask(jobs.ANSWER, jobs.answer, text)
    return jobs.kept(jobs.answer, text) is not None


def result(job: jobs.Job, heard: Callable[[float], object] | None = None) -> Any:
    """Return what was asked for, telling the part done; a change on the page or a stop ends the wait."""
    while not job.done():
        try:
            job.exception(LOOK_S)
        except TimeoutError:
            if heard is not None:
                heard(min(job.part, 1.0))
            _stop_where_changed()
    return job.result()


def pause(seconds: float) -> None:
    """Wait until what was shown is painted in the browser; a change on the page ends the wait."""
    end = time.monotonic() + seconds
    while (left := end - time.monotonic()) > 0:
        time.sleep(min(left, LOOK_S))
        _stop_where_changed()


def _stop_where_changed() -> None:
    """End this run where the reader has asked for another one or has left."""
    if get_script_run_ctx(suppress_warning=True) is not None:
        _ = "ergo" in st.session_state


def curve(case: Scenario) -> tuple[CurvePoint, ...]:
    """Return the curve over team size at typical values, the first that is known."""
    return cast("tuple[CurvePoint, ...]", _result(jobs.CURVE, jobs.curve, case))


def first_answer(case: Scenario) -> FirstAnswer:
    """Return the smallest team of a case, the second that is known."""
    return cast(FirstAnswer, _result(jobs.FIRST, jobs.first, case))


def answer(case: Scenario, urgency: int = jobs.FIRST) -> TeamAnswer:
    """Return the smallest team of a case, without the other aids."""
    return cast(TeamAnswer, _result(urgency, jobs.answer, case))


def _result(urgency: int, task: Callable[..., object], case: Scenario, *more: int) -> object:
    """Of a question about the people whom a unit usually has: who is on shift changes nothing, nor is it asked anew."""
    return result(jobs.ask(urgency, task, _usual(case), *more))


def _usual(case: Scenario) -> str:
    return dump_scenario(with_usual_people(case))


def answer_with_aids(case: Scenario) -> TeamAnswer:
    """Return the smallest team with the other aids; a change on the page ends the wait."""
    found, asked = answer(case), _ask_other_aids(case)
    bar = st.empty()
    options: list[AidOption | None] = [own_option(found)]
    for i, one in enumerate(asked):
        bar.progress(i / len(asked), "Looking at the other aids")
        options.append(result(one))
    bar.empty()
    return with_options(found, options)


def _ask_other_aids(case: Scenario) -> list[jobs.Job]:
    return [jobs.ask(jobs.AIDS, jobs.option, _text(case, name)) for name in aid_names(case) if name != case.aid]


def expect_rest(case: Scenario, answer: TeamAnswer) -> None:
    """Ask for what is shown beside an answer before any of it is waited for, so that several processes work on it."""
    text = _usual(case)
    jobs.ask(jobs.AIDS, jobs.beside, text)
    jobs.ask(jobs.AIDS, jobs.ways, text)
    if answer.team is not None and answer.probability:
        jobs.ask(jobs.AIDS, jobs.two_kinds, text, *answer.team)
    jobs.ask(jobs.AIDS, jobs.edge, text)
    _ask_other_aids(case)


def _text(case: Scenario, aid: str) -> str:
    """A case with another aid, named by nothing else: cases that differ in words only share their results."""
    return dump_scenario(without_names(with_usual_people(case)).model_copy(update={"aid": aid}))


def people(cases: Sequence[Scenario]) -> list[Needs | Literal["cannot serve"]]:
    """Return only how many people each case needs, or why there is no number."""
    asked = [jobs.ask(jobs.MAP, jobs.option, _text(case, case.aid)) for case in cases]
    options: list[AidOption | None] = [result(one) for one in asked]
    return ["cannot serve" if option is None else option.needs for option in options]


def ways(case: Scenario) -> tuple[WayOfWorking, ...]:
    """Return how many people force alone would take with each choice of who works; none where it is all the same."""
    return cast("tuple[WayOfWorking, ...]", _result(jobs.AIDS, jobs.ways, case))


def drivers(case: Scenario, left: int, right: int) -> Drivers:
    """Return what drives the answer of a case with a team."""
    return cast(Drivers, _result(jobs.FIRST, jobs.drivers, case, left, right))


def height(case: Scenario) -> TeamHeight | NoHeight:
    """Return the best bed height for the smallest team of a case."""
    return cast("TeamHeight | NoHeight", _result(jobs.FIRST, jobs.height, case))


def trials(case: Scenario, aids: Sequence[str]) -> Iterator[Trial]:
    """Yield what a trial of each aid would have to show for a case."""
    asked = [jobs.ask(jobs.AIDS, jobs.trial, dump_scenario(case), aid) for aid in aids]
    return (result(one) for one in asked)


def stated_team(case: Scenario) -> ThisTeam:
    """Return whether the people of a case, or so many on each side, are enough."""
    return cast(ThisTeam, result(jobs.ask(jobs.AIDS, jobs.stated_team, dump_scenario(case), units())))


def team_helps(case: Scenario) -> tuple[str, ...]:
    """Return what would make that team enough."""
    return cast("tuple[str, ...]", result(jobs.ask(jobs.AIDS, jobs.team_helps, dump_scenario(case), units())))


def knife_edge(case: Scenario) -> KnifeEdge | None:
    """Return whether a small change would lead to another number of people."""
    return cast("KnifeEdge | None", _result(jobs.AIDS, jobs.edge, case))


def two_kinds(case: Scenario, left: int, right: int) -> tuple[ProbabilityBand, float]:
    """Return how far the probability of a team may move, and that nobody is asked more than they accept."""
    return cast("tuple[ProbabilityBand, float]", _result(jobs.AIDS, jobs.two_kinds, case, left, right))


def lift(case: Scenario) -> LiftOption:
    """Return a lift as an option of a case's move."""
    return cast(LiftOption, _result(jobs.AIDS, jobs.lift, case))


def beside(case: Scenario) -> BesideTeam:
    """Return what stands beside the smallest team of a case on paper."""
    return cast(BesideTeam, _result(jobs.AIDS, jobs.beside, case))


def turned_back(case: Scenario, left: int, right: int) -> ThisTeam:
    """Return whether a team, or the people of the case, could turn the patient back."""
    return cast(ThisTeam, result(jobs.ask(jobs.AIDS, jobs.turned_back, dump_scenario(case), left, right)))


def own_team(case: Scenario) -> Assessment:
    """Return the assessment of a case with its own team, its people where they fit best."""
    placed = placed_people(case)
    return judge(_demand(dump_scenario(placed)), placed.team.left, placed.team.right)


def placed_people(case: Scenario) -> Scenario:
    """Return a case with its people where they fit best; as it is where nobody is stated or somebody is missing."""
    try:
        return _placed(dump_scenario(case)) if case.team.members else case
    except InputError:
        return case


@st.cache_resource(max_entries=64, show_spinner=False)
def _placed(text: str) -> Scenario:
    return place_people(read_scenario(text.encode()))


def demand_for(case: Scenario) -> Demand:
    """Return what a case asks before a team is chosen; shared between users, so never to be changed."""
    return _demand(dump_scenario(case))
