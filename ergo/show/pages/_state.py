"""Everything the pages remember in one place, and cached answers keyed on the frozen scenario.

The scenario in SI units is the only truth; every input widget is a view of it. Nothing here is shared between users.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

import streamlit as st

from ergo.assessment import Assessment, Demand, demand_of, judge
from ergo.errors import Fault, InputError
from ergo.mechanics.case import aid_of
from ergo.plan.team import (
    AidOption,
    TeamAnswer,
    aid_names,
    aid_option,
    own_option,
    smallest_team,
    with_options,
)
from ergo.plan.team_curve import CurvePoint, typical_curve
from ergo.plan.trial import Trial, trial_of
from ergo.scenario import Scenario, dump_scenario, parse_scenario, read_scenario
from ergo.show.examples import FIRST, examples
from ergo.show.link import pack_case, unpack_case
from ergo.show.pages import _turns
from ergo.units import Units

__all__ = [
    "LINK",
    "NOT_SERVING",
    "answer",
    "answer_with_aids",
    "answered",
    "begin",
    "change",
    "curve",
    "demand_for",
    "enter",
    "keep_link",
    "keep_opened",
    "link",
    "opened",
    "own_team",
    "page",
    "people",
    "replace",
    "scenario",
    "take_faults",
    "tell",
    "trial",
    "units",
]

LINK = "case"
NOT_SERVING = "not for this"
_SCENARIO = "ergo.scenario"
_FAULTS = "ergo.faults"
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
    if _SCENARIO in state:
        return
    state[_SCENARIO] = examples()[FIRST]
    packed = st.query_params.get(LINK)
    if packed is None:
        return
    try:
        state[_SCENARIO] = unpack_case(packed)
    except InputError as error:
        said = Fault("the case", "not opened", f"“{state[_SCENARIO].name}” is shown instead")
        state[_FAULTS] = [*error.faults, said]


def enter(page: str) -> None:
    """Remember on which page the reader is; the first one has no name."""
    st.session_state[_PAGE] = page


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
    data = scenario().model_dump(mode="python", exclude_none=True)
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
        st.session_state[_SCENARIO] = parse_scenario(data, "the case")
        st.session_state[_FAULTS] = []
    except InputError as error:
        st.session_state[_FAULTS] = list(error.faults)


def tell(error: InputError) -> None:
    """Keep faults to be shown at the top of the page."""
    st.session_state[_FAULTS] = list(error.faults)


def take_faults() -> list[Fault]:
    """Return the faults of the last input, to be shown."""
    return list(st.session_state[_FAULTS])


def keep_link() -> None:
    """Keep the case in the page's address, so that the address can be shared as it stands."""
    packed = pack_case(scenario())
    if st.query_params.get(LINK) != packed:
        st.query_params[LINK] = packed


def link() -> str:
    """Return the whole address that opens the case again."""
    base = (st.context.url or "").split("?")[0]
    return f"{base}?{LINK}={pack_case(scenario())}"


# The caches hold frozen results, never a user's state; the key is the scenario's own text.

_ANSWERS: dict[str, TeamAnswer] = {}  # looked into as well: a page need not fill the time until an answer is there
_MOST_ANSWERS = 256  # then it starts anew


@st.cache_resource(max_entries=4096, show_spinner=False)
def _option(text: str) -> AidOption | None:
    """The smallest team with the aid of a case, or None where that aid does not serve the move."""
    case = read_scenario(text.encode())
    return aid_option(case, case.aid)


@st.cache_resource(max_entries=256, show_spinner=False)
def _trial(text: str, aid: str) -> Trial:
    case = read_scenario(text.encode())
    return trial_of(case, aid_of(case.model_copy(update={"aid": aid})))


def trial(case: Scenario, aid: str) -> Trial:
    """Return what a trial of one aid would have to show for a case."""
    return _trial(dump_scenario(case), aid)


@st.cache_resource(max_entries=64, show_spinner=False)
def _demand(text: str) -> Demand:
    return demand_of(read_scenario(text.encode()))


def answer(case: Scenario) -> TeamAnswer:
    """Return the smallest team of a case, without the other aids."""
    text = dump_scenario(case)
    found = _ANSWERS.get(text)
    if found is None:
        found = smallest_team(case, with_aids=False, asked=_demand(text))
        if len(_ANSWERS) >= _MOST_ANSWERS:
            _ANSWERS.clear()
        _ANSWERS[text] = found
    return found


def answered(case: Scenario) -> bool:
    """Return whether the answer of a case is there already."""
    return dump_scenario(case) in _ANSWERS


def curve(case: Scenario) -> tuple[CurvePoint, ...]:
    """Return the curve over team size at typical values, long before the answer is there."""
    return typical_curve(demand_for(case))


def answer_with_aids(case: Scenario) -> TeamAnswer:
    """Return the smallest team with the other aids; between two of them a change on the page interrupts the work."""
    found, names = answer(case), aid_names(case)
    bar = st.empty()
    options: list[AidOption | None] = []
    for i, name in enumerate(names):
        bar.progress(i / len(names), "Looking at the other aids")
        _turns.give_way()
        options.append(own_option(found) if name == case.aid else _option(_text(case, name)))
    bar.empty()
    return with_options(found, options)


def _text(case: Scenario, aid: str) -> str:
    """A case with another aid, named by nothing else: cases that differ in words only share their results."""
    return dump_scenario(case.model_copy(update={"name": "any", "question": "", "aid": aid}))


def people(case: Scenario) -> int | str:
    """Return only how many people a case needs, or a word where there is no number."""
    option = _option(_text(case, case.aid))
    return NOT_SERVING if option is None else option.needs


def own_team(case: Scenario) -> Assessment:
    """Return the assessment of a case with its own team."""
    return judge(_demand(dump_scenario(case)), case.team.left, case.team.right)


def demand_for(case: Scenario) -> Demand:
    """Return what a case asks before a team is chosen; shared between users, so never to be changed."""
    return _demand(dump_scenario(case))
