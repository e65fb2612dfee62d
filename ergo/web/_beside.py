"""What stands beside an answer: what would tip it, two kinds of not knowing, a lift, and an unplanned return."""

from __future__ import annotations

import streamlit as st

from ergo.assessment.sentences import within_sentence
from ergo.errors import InputError
from ergo.inputs.scenario import Scenario
from ergo.report.blocks import Table
from ergo.report.tables import paper
from ergo.teams.emergency_return import IN_AN_ARREST, is_turned_prone
from ergo.teams.knife_edge import KnifeEdge, knife_edge_words
from ergo.teams.lift_option import lift_before_hands, lift_words
from ergo.teams.smallest_team import FirstAnswer
from ergo.teams.this_team import this_team_words
from ergo.uncertainty.two_kinds import ProbabilityBand, unmeasured_words
from ergo.units import percent
from ergo.web import _shared, _state

__all__ = ["lift", "next_to_it", "sureness", "tips", "turned_back", "two_kinds"]


def tips(case: Scenario) -> KnifeEdge | None:
    """Say between which numbers the answer lies, where it lies on a knife's edge."""
    found = _state.knife_edge(case)
    if said := knife_edge_words(found, _state.units()):
        st.markdown(f"**On a knife's edge:** {_shared.plain(said)}")
    return found


def sureness(case: Scenario, answer: FirstAnswer) -> None:
    """Say in small print how far the probability beside the answer may move, and own acceptance."""
    if answer.team is None or not answer.probability:
        return
    band, own = _state.two_kinds(case, *answer.team)
    accept = f"In {percent(own)} of moves nobody is asked more than they themselves accept."
    _shared.note(f"How sure: {within_sentence(unmeasured_words(band))} {accept}")


def next_to_it(case: Scenario, answer: FirstAnswer) -> None:
    """Say in a sentence each what one fewer and one more would mean."""
    if said := paper.next_to_it(answer, _state.beside(case)):
        st.subheader("One fewer, one more", anchor=False)
        st.markdown("\n".join(f"- {_shared.plain(one)}" for one in said))


def two_kinds(case: Scenario, left: int, right: int) -> None:
    """Show how sure a team is, how far that may move and why, and what people themselves accept."""
    with st.spinner("Computing how far that may move"):
        band, own = _state.two_kinds(case, left, right)
    st.subheader("Luck, and what nobody measured", anchor=False)
    ends = dict.fromkeys((percent(band.probability_low), percent(band.probability_high)))
    st.markdown(
        f"- **{_shared.plain(percent(band.probability))} of moves**: nobody is over a limit, averaged over units\n"
        f"- **{_shared.plain(' to '.join(ends))} of moves**: what that may be in one unit, nine times in ten\n"
        f"- **{_shared.plain(percent(own))} of moves**: nobody is asked more than they themselves accept"
    )
    st.markdown(_shared.plain(unmeasured_words(band)))
    with st.expander("What nobody measured, as a table"):
        _shared.table(_unmeasured_rows(band), "unmeasured")


def _unmeasured_rows(band: ProbabilityBand) -> Table:
    """What nobody measured, the one whose measurement narrows the probability most first."""
    rows = tuple((one.label, percent(one.share)) for one in band.unmeasured)
    return Table("What nobody measured", ("what", "share of how far the probability may move"), rows)


def lift(case: Scenario, answer: FirstAnswer, *, first: bool) -> None:
    """Say what a lift takes: at the top where the unit's policy or the number of people asks for it, else among what
    helps.
    """
    by_policy = case.policy.asks_for_lift(case.patient.mass_kg)
    too_many = "" if by_policy else lift_before_hands(answer.team)
    if bool(by_policy or too_many or answer.use_lift) != first:
        return
    said = _shared.plain(" ".join(filter(None, (too_many, lift_words(case, _state.lift(case), _state.units())))))
    if first:
        st.info(said, icon=":material/elevator:")
    else:
        st.markdown(f"- {said}")


def turned_back(case: Scenario, answer: FirstAnswer) -> None:
    """Say whether the team of the answer, or the people of the shift, could turn a prone patient back at once."""
    if not is_turned_prone(case) or answer.team is None:
        return
    fold = _shared.fold("If the patient must be turned back at once", "back")
    if not fold.open:
        return
    with fold:
        st.markdown(IN_AN_ARREST)
        try:
            found = _state.turned_back(case, *answer.team)
        except InputError as error:
            _shared.faults(error.shown)
            return
        first, *more = this_team_words(found, _state.units())
        st.markdown(f"**{_shared.plain(first)}**\n\n" + "\n".join(f"- {_shared.plain(said)}" for said in more))
