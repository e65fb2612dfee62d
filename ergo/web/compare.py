"""Compare: aids on the same patient and procedure, what a trial would have to show, and two cases side by side."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from ergo.assessment.sentences import NO_TEAM
from ergo.errors import InputError
from ergo.inputs.scenario import Scenario, read_scenario
from ergo.limits.policy import Verdict, verdict_of
from ergo.report.figures.aid_bars import aid_bars
from ergo.report.marks_and_amounts import needs_words
from ergo.report.tables.case import aid_rows, layer_rows, trial_rows
from ergo.report.tables.two_cases import two_case_rows
from ergo.teams.aid_trial import Trial
from ergo.teams.smallest_team import AidOption, TeamAnswer
from ergo.web import _beside, _case_inputs, _shared, _state

_SECOND, _OTHER = "ergo.second.upload", "ergo.second"


def _trials(case: Scenario, options: Sequence[AidOption]) -> list[Trial]:
    """Work out each aid's trial; a change on the page interrupts it and what is computed is kept."""
    bar = st.progress(0.0, "Computing the trials")
    found = []
    for trial in _state.trials(case, [option.aid for option in options]):
        found.append(trial)
        bar.progress(len(found) / len(options), "Computing the trials")
    bar.empty()
    return found


def _without_a_team(answer: TeamAnswer) -> tuple[Verdict, str, str]:
    """The headline where no aid has a number of people."""
    if answer.missing:
        return "over", NO_TEAM, answer.missing
    said = [o.aid for o in answer.aids if o.needs == "no limit"]
    if not said:
        return "over", "Use a mechanical lift", "No aid in the list brings this move within the limits."
    every = len(said) == len(answer.aids)
    with_which = "whatever the aid" if every else f"with {', '.join(said)}; with any other it takes a mechanical lift"
    return "not applicable", NO_TEAM, f"A deciding limit does not cover this move, {with_which}."


_WHATEVER_THE_AID = {
    "guidance": "Guidance asks for so many whatever the aid. ",
    "if one breaks off": "So many are asked for so that the others hold on if one lets go. ",
}


def _saves_nobody(answer: TeamAnswer, best: AidOption) -> tuple[str, str]:
    """The headline where other aids lower the load and not the number of people, and why that is."""
    case = answer.scenario
    why = _WHATEVER_THE_AID.get(answer.reasons.counts or "", "")
    eases = f"the load falls from {answer.assessment.worst_ratio:.2f} to {best.worst_ratio:.2f} of the limit"
    return (
        f"{answer.people} people with the {case.aid}: no other aid here saves one",
        f"{why}With the {best.aid}, where it is hardest, {eases}. ",
    )


def show() -> None:
    """Show the page."""
    case, units = _state.scenario(), _state.units()
    st.title("Which aid makes the difference?", anchor=False)
    answer = _state.answer_with_aids(case)
    best = next((o for o in answer.aids if o.people is not None and o.aid != "no aid"), None)
    if best is None:
        _shared.headline(*_without_a_team(answer))
    else:
        unsure = " Nobody has measured its friction: try it out first." if best.unmeasured else ""
        alike = sum(o.people == best.people and o.aid not in (best.aid, "no aid") for o in answer.aids)
        others = f" and {alike} other{'' if alike == 1 else 's'}" if alike else ""
        what, first = f"Fewest people: {best.people}, with the {best.aid}{others}", f"With the {case.aid}: "
        if best.people == answer.people and best.aid != case.aid:
            what, first = _saves_nobody(answer, best)
            why = f"{first}The same patient, bed, move and policy for all.{unsure}"
        else:
            said = needs_words(answer.needs)
            why = f"{first}{said}. The same patient, bed, move and policy for all.{unsure}"
        _shared.headline(verdict_of(best.worst_ratio), what, why)
    _beside.lift(case, answer, first=True)
    _shared.cautions()
    _case_inputs.first_inputs()
    _case_inputs.more_inputs()
    st.subheader("People by aid", anchor=False)
    _shared.note("A ring stands for a person where nobody has measured the aid's friction.")
    _shared.figure(aid_bars(answer.aids, case.aid, units), "fig.aids")
    st.subheader("Side by side", anchor=False)
    _shared.table(aid_rows(answer, units), "aids")
    _beside.lift(case, answer, first=False)
    st.subheader("What a trial has to show", anchor=False)
    st.markdown(
        "Lay a volunteer on the aid on a level bed and pull level with a luggage scale, slowly and steadily. "
        "The steady reading over the volunteer's weight is the friction; enter it as an aid of your own."
    )
    _shared.table(trial_rows(_trials(case, answer.aids), case.patient.mass_kg, units), "trials")
    st.subheader("Layers and friction", anchor=False)
    _shared.table(layer_rows(answer), "layers")
    _second_case(answer)


def _second_case(answer: TeamAnswer) -> None:
    """Ask for a second case and show in one table what differs between the two, inputs and answers."""
    st.subheader("Two cases side by side", anchor=False)
    _shared.note("The open case is the first. The second is only compared: it changes nothing on the other pages.")
    _shared.open_file("Open a second case (TOML)", _SECOND, _open_second)
    other = st.session_state.get(_OTHER)
    if other is None:
        return
    _shared.table(two_case_rows(answer, _state.answer(other), _state.units()), "two.cases")
    swap, away, _ = st.columns([2, 2, 3])
    swap.button("Swap the two", key="two.swap", on_click=_swap, width="stretch")
    away.button("Put the second away", key="two.away", on_click=lambda: st.session_state.pop(_OTHER), width="stretch")


def _open_second() -> None:
    file = st.session_state[_SECOND]
    if file is None:
        return
    try:
        st.session_state[_OTHER] = read_scenario(file.getvalue(), "the second case", st.toast)
    except InputError as error:
        _state.tell(error)


def _swap() -> None:
    other = st.session_state[_OTHER]
    st.session_state[_OTHER] = _state.scenario()
    _state.replace(other)


if __name__ == "__main__":  # how the page runner executes this file
    show()
