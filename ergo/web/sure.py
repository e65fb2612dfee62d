"""How sure: the probability by team size, what drives it, every distribution, and friction measured on site."""

from __future__ import annotations

from typing import cast

import streamlit as st

from ergo.assessment.sentences import NO_TEAM
from ergo.evidence import assumption
from ergo.inputs.scenario import Scenario, dump_scenario
from ergo.limits.policy import Verdict
from ergo.mechanics.case import aid_of
from ergo.report.figures.band_curve import band_curve
from ergo.report.figures.convergence import convergence
from ergo.report.figures.driver_bars import driver_bars
from ergo.report.figures.probability_curve import probability_curve
from ergo.report.tables.uncertainty import convergence_rows, distribution_rows, driver_rows, probability_rows
from ergo.teams.team_probabilities import Reliability, at_probability, reliability_words
from ergo.uncertainty.monte_carlo import DRAWS
from ergo.units import people_words, percent
from ergo.web import _beside, _inputs, _shared, _site_friction, _state, jobs

_PROBABILITY, _WANTED = "ergo.sure.probability_asked", "ergo.sure.draws"
_STOPPED = "ergo.sure.stopped"
_CHOICES = (DRAWS, 4 * DRAWS, 16 * DRAWS, 64 * DRAWS)
_BANDS = {"share": "Share of the limit", "force": "Force of one person"}


def show() -> None:
    """Show the page."""
    case, units = _state.scenario(), _state.units()
    demand = _state.demand_for(case)
    st.title("How sure is the answer?", anchor=False)
    span = assumption("probability_asked")
    st.session_state.setdefault(_PROBABILITY, span.typical)
    headline = st.container()
    _inputs.show("sure.probability_asked", round(100 * st.session_state[_PROBABILITY]))

    def keep() -> None:
        st.session_state[_PROBABILITY] = st.session_state["sure.probability_asked"] / 100

    st.slider(
        "Probability asked for: nobody over a limit",
        round(100 * span.low),
        round(100 * span.high),
        step=1,
        format="%d %%",
        key="sure.probability_asked",
        on_change=keep,
    )
    wanted = st.session_state[_PROBABILITY]
    sure = at_probability(_more(case) or _state.answer(case).sure, demand, wanted)
    team = sure.chosen
    with headline:
        if sure.uncovered:
            _shared.headline("not applicable", NO_TEAM, reliability_words(sure, demand, units).partition(". ")[2])
        elif sure.missing:
            _shared.headline("over", NO_TEAM, sure.missing)
        elif sure.people is None:
            _shared.headline("over", "Use a mechanical lift or a better aid", reliability_words(sure, demand, units))
        else:
            word: Verdict = "close" if team.probability - 2 * team.standard_error < wanted else "within"
            why = (
                f"{team.left} on the left, {team.right} on the right and roles. Asked for: {100 * wanted:.0f} %. "
                f"Standard error {100 * team.standard_error:.1f} % after {sure.draws} cases tried (draws)."
            )
            _shared.headline(
                word, f"{people_words(team.people)}: nobody is over in {percent(team.probability)} of cases", why
            )
    _shared.where("sure", [], [span, assumption("share_spread"), assumption("share_quantile")], _state.units(), _HOW)
    if sure.people is not None:
        _beside.two_kinds(case, team.left, team.right)
    _probabilities(sure)
    _driver_part(case, (team.left, team.right))
    _site_friction.show(case, aid_of(case))
    st.subheader("Every distribution", anchor=False)
    st.caption("“Assumption” means that nobody published the spread: the range is our judgement.")
    _shared.table(distribution_rows(sure), "distributions")
    _shared.cautions()


_HOW = (
    "Each case tried (draw) is one that could be: every input below, and each person's effort, takes a value from its "
    "distribution. The probability is the part of these cases in which nobody is over a deciding limit. They are "
    "quasi-random with a fixed seed, so the same case gives the same probability."
)


def _probabilities(sure: Reliability) -> None:
    units = _state.units()
    left, right = st.columns(2, gap="large")
    with left:
        st.subheader("Probability by team size", anchor=False)
        _shared.figure(probability_curve(sure), "fig.probability")
    with right:
        st.subheader("Nine cases in ten", anchor=False)
        shown = st.segmented_control(
            "Band of", list(_BANDS), default="share", format_func=_BANDS.__getitem__, key="sure.band", required=True
        )
        _shared.figure(band_curve(sure, shown == "force", units), "fig.bands")
        st.caption("Bars: 5 to 95 % of cases. 200 % of a limit also stands for a force that no posture holds.")
    with st.expander("The same as a table"):
        _shared.table(probability_rows(sure, units), "probabilities")
    with st.expander("Convergence: would more cases tried (draws) change it?"):
        _draws()
        _shared.figure(convergence(sure), "fig.convergence")
        _shared.table(convergence_rows(sure), "convergence")


def _draws() -> None:
    st.session_state.setdefault(_WANTED, DRAWS)
    _inputs.show("sure.draws", st.session_state[_WANTED])

    def keep() -> None:
        st.session_state[_WANTED] = st.session_state["sure.draws"]
        st.session_state[_STOPPED] = False

    st.selectbox(
        "Cases tried (draws)",
        _CHOICES,
        format_func=lambda n: f"{n:,}".replace(",", " "),
        key="sure.draws",
        on_change=keep,
    )
    if st.session_state.get(_STOPPED):
        st.button("Go on", key="sure.go", on_click=lambda: st.session_state.update({_STOPPED: False}))


def _more(case: Scenario) -> Reliability | None:
    """Return the draws asked for where they are more than the usual number; None where the reader stopped them."""
    wanted = st.session_state.get(_WANTED, DRAWS)
    if wanted <= DRAWS:
        return None
    done = jobs.kept(jobs.draws, dump_scenario(case), wanted)
    if done is not None:
        return cast(Reliability, done.result())
    if st.session_state.get(_STOPPED):
        return None
    place = st.empty()
    said = f"Drawing {wanted} cases"
    with place.container():
        bar = st.progress(0.0, said)
        st.button("Stop", key="sure.stop", on_click=lambda: st.session_state.update({_STOPPED: True}))
    job = jobs.ask(jobs.LONG, jobs.draws, dump_scenario(case), wanted)
    found = _state.result(job, lambda part: bar.progress(part, said))
    place.empty()
    return cast(Reliability, found)


def _driver_part(case: Scenario, team: tuple[int, int]) -> None:
    st.subheader("What drives the answer", anchor=False)
    with st.spinner("Computing what drives the answer"):
        found = _state.drivers(case, *team)
    st.markdown(f"**{_shared.plain(found.why)}**")
    _shared.figure(driver_bars(found), "fig.drivers")
    st.caption(
        f"For {team[0]} on the left and {team[1]} on the right. Ring: the input at its low end; square: at its high "
        "end; all others typical and everybody pulling alike, so the dashed line lies lower than the answer, where the "
        "first of a side pulls more. The percentage under a name is its share of the variance, with interactions."
    )
    with st.expander("The same as a table"):
        _shared.table(driver_rows(found), "drivers")


if __name__ == "__main__":  # how the page runner executes this file
    show()
