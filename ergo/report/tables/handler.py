"""One person's body as tables: figures against limits, the working, heights, holds."""

from __future__ import annotations

from collections.abc import Sequence

from ergo.assessment import Person
from ergo.evidence import row
from ergo.limits.policy import Verdict, verdict_of
from ergo.report.blocks import Table
from ergo.report.marks_and_amounts import limit_amount
from ergo.report.tables.case import citation, verdict_words
from ergo.teams.bed_height import MoveHeight, TeamHeight, no_team_here_words
from ergo.teams.handler_detail import HandlerDetail
from ergo.teams.hold_times import HoldTime
from ergo.units import DEFAULT_UNITS, Units

__all__ = [
    "BACK_EQUATION",
    "body_rows",
    "hardest_words",
    "height_rows",
    "height_words",
    "hold_rows",
    "hold_verdict",
    "low_back_rows",
    "person_words",
]

BACK_EQUATION = (
    "F = |M| / r; compression C = F + W cos θ + (L cos θ − P sin θ); shear S = W sin θ + (L sin θ + P cos θ). "
    "F is the force of the back muscles and r its moment arm, M the moment of everything above L5/S1 and of the hands, "
    "W the weight above, L and P the lift and the pull of the hands, θ the lean of the trunk. Along the bed the hands "
    "are s to one side: side bend s (L cos θ − P sin θ) and twist s (L sin θ + P cos θ) add to C."
)


def body_rows(seen: HandlerDetail, units: Units = DEFAULT_UNITS) -> Table:
    """Return every figure of the body with its limit, ratio and verdict."""
    rows = [
        (
            check.quantity,
            limit_amount(check.amount, check.unit, units),
            check.label,
            limit_amount(check.limit, check.unit, units),
            "–" if check.ratio is None else f"{check.ratio:.2f}",
            verdict_words(check.verdict),
            "yes" if check.decides else "shown only",
            check.note_in(units),
            citation(check.source) if check.source else "no source named",
            check.known,
            check.range,
        )
        for check in seen.limits
    ]
    head = (
        "figure",
        "here",
        "limit",
        "limit value",
        "ratio",
        "verdict",
        "decides",
        "note",
        "source",
        "known",
        "range",
    )
    return Table("The body against its limits", head, tuple(rows))


def _beside_flexion_rows(seen: HandlerDetail, units: Units) -> list[tuple[str, str, str]]:
    """Side bend, twist and what they add, where the force goes along the bed."""
    if not seen.effort.along_bed:
        return []
    back, force = seen.posture.low_back, units.show_force
    known = f"{citation('mcgill_norman_1996')}: from memory, confirmed nowhere, only ever added"
    most = float(row("compression_beside_flexion", moment="twist")["known_to_nm"])
    beyond = f"; above {most:.0f} N m nothing is known of it" if abs(float(back.twist_nm)) > most else ""
    bend, twist = (abs(float(moment)) for moment in (back.side_bend_nm, back.twist_nm))
    aside = "moment of the hands, which are beside the plane of the body"
    return [
        ("side bend", f"{bend:.0f} N m", aside),
        ("twist", f"{twist:.0f} N m", aside + beyond),
        ("compression from side bend", force(float(back.compression_from_side_bend_n)), known),
        ("compression from twist", force(float(back.compression_from_twist_n)), known),
    ]


def low_back_rows(seen: HandlerDetail, units: Units = DEFAULT_UNITS) -> Table:
    """Return the working of the low back: moment, muscle, and each part of compression and shear."""
    posture, back, force = seen.posture, seen.posture.low_back, units.show_force
    links = "winter_2009, drillis_contini_1966"
    arm = citation("chaffin_andersson_martin")
    rows = [
        ("moment about L5/S1", f"{float(back.moment_nm):.0f} N m", f"statics of the links ({links})"),
        ("moment arm of the back muscles", f"{float(back.arm_m) * 100:.0f} cm", arm),
        ("force of the back muscles", force(float(back.muscle_n)), "moment over its moment arm"),
        ("compression from the muscles", force(float(back.compression_from_muscle_n)), "along the spine"),
        ("compression from the weight above", force(float(back.compression_from_weight_n)), links),
        (
            "compression from the hands",
            force(float(back.compression_from_hands_n)),
            "pull and lift, turned to the disc",
        ),
        *_beside_flexion_rows(seen, units),
        ("compression at L5/S1", force(posture.compression_n), "these together"),
        ("shear from the weight above", force(float(back.shear_from_weight_n)), links),
        ("shear from the hands", force(float(back.shear_from_hands_n)), "pull and lift, turned to the disc"),
        ("shear at L5/S1", force(posture.shear_n), "together; positive: the upper body slides forward"),
        ("shoulder moment, one arm", f"{posture.shoulder_moment_nm:.0f} N m", "positive: the load draws the arm down"),
        ("elbow moment, one arm", f"{posture.elbow_moment_nm:.0f} N m", "positive: the load straightens the arm"),
        (
            "lean of the trunk",
            f"{posture.joint_angles_deg['trunk']:.0f}°",
            "the posture of least effort in this technique",
        ),
        ("knee bend", f"{posture.joint_angles_deg['knee']:.0f}°", "as above"),
        ("arm extended", f"{100 * posture.extended_arm:.0f} % of its length", "shoulder to hand"),
        ("vertical force on the floor", force(posture.floor_vertical_n), "body and lift"),
        ("horizontal force on the floor", force(abs(posture.floor_horizontal_n)), "pull less the push of the edge"),
        (
            "base on the floor, heel to toe",
            units.show_length(posture.base_m[1] - posture.base_m[0]),
            "feet as usual, or a long step apart where weight is shifted and that helps",
        ),
        ("push of the edge on who leans on the bed", force(posture.brace_n), "as much as balance and shoes ask for"),
    ]
    return Table("The working of the body", ("term", "value", "from"), tuple(rows))


def height_rows(team: TeamHeight, units: Units = DEFAULT_UNITS) -> Table:
    """Return the best mattress height of every effort and of the whole procedure."""
    rows = [
        (
            move.move,
            move.role,
            units.show_force(move.force_n),
            units.show_length(move.best.height_m) if move.best.found else "none: " + move.best.reason,
            f"{100 * move.best.present_ratio:.0f} %" if move.best.present_can_be_held else "cannot be held",
            f"{100 * move.best.ratio:.0f} %" if move.best.found else "–",
            units.show_force(move.best.saved_n) if move.best.found and move.best.present_can_be_held else "–",
            person_words(move.best.decided_by),
        )
        for move in team.moves
    ]
    head = ("move", "does", "force each", "best height", "now", "at the best height", "spares", "most loaded there")
    return Table("Bed height by move", head, tuple(rows))


def person_words(person: Person) -> str:
    """Say who somebody is and where they stand."""
    return f"{person.sex_word}, {person.words}"


def hardest_words(move: MoveHeight) -> str:
    """Say whose back carries most at the best height, and in which move."""
    return f"{person_words(move.best.decided_by)}, in “{move.move}”"


def height_words(team: TeamHeight, units: Units = DEFAULT_UNITS) -> str:
    """Return what the best height does, in the reader's units."""
    if not team.found:
        return team.why
    if not team.team_now:
        return no_team_here_words(team, units)
    still = _STILL.get(team.needs, "") if isinstance(team.needs, str) else ""
    best, now = units.show_length(team.height_m), units.show_length(team.present_height_m)
    after = f"the most loaded back is at {100 * team.ratio:.0f} % of the lower limit"
    if not team.present_can_be_held:
        return f"At {now} not everybody can hold the forces. With the mattress at {best} they can, and {after}.{still}"
    if best == now:
        return f"The mattress is at the best height, {best}: {after}.{still}"
    return (
        f"With the mattress at {best} in place of {now}, the most loaded back goes from "
        f"{100 * team.present_ratio:.0f} % to {100 * team.ratio:.0f} % of the lower limit, "
        f"{units.show_force(team.saved_n)} less.{still}"
    )


_STILL = {
    "lift": " At this height too no team is enough: use a mechanical lift or a better aid.",
    "no limit": " At this height too no team can be named: a limit that decides does not cover where the hands are.",
}


def hold_verdict(hold: HoldTime) -> Verdict:
    """Return the word for a hold against endurance."""
    return verdict_of(hold.ratio)


def hold_rows(holds: Sequence[HoldTime]) -> Table:
    """Return every hold against endurance."""
    rows = [
        (
            h.move,
            h.role,
            person_words(h.person),
            h.region,
            f"{100 * h.fraction:.0f} %",
            f"{h.seconds:.0f} s",
            _lasts(h),
            verdict_words(hold_verdict(h)),
            h.note,
        )
        for h in holds
    ]
    head = ("move", "does", "person", "muscles", "of median strength", "held", "lasts", "verdict", "note")
    return Table("Hold times against endurance", head, tuple(rows))


def _lasts(hold: HoldTime) -> str:
    if hold.endurance_s <= 0:
        return "beyond strength"
    return f"{'at least ' if hold.at_least else ''}{hold.endurance_s:.0f} s"
