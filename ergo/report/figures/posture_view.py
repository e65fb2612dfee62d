"""One handler at the bedside, from the side: hands, disc L5/S1, feet, and the moment arms of the forces about the disc.

x runs from the bed's edge over the bed, y up from the floor.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from ergo.report.figures.drawing import (
    VERDICT_MARK,
    Arrow,
    Axis,
    Colour,
    Drawing,
    Item,
    Label,
    Line,
    Mark,
    Point,
    Polygon,
)
from ergo.report.marks_and_amounts import limit_amount
from ergo.teams.handler_detail import HandlerDetail
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["posture_view"]

_FULL_N, _LONGEST_M = 200.0, 0.35  # a force of _FULL_N is drawn this long; only a scale of the drawing, said on it
_SHORTEST_M = 0.06
_MATTRESS_M = 0.14  # drawn only
_WEIGHT_M = _MUSCLE_M = 0.3  # arrows of weight and muscle: drawn this long whatever their size
_CLEAR_MOMENT_NM = 0.5  # below this there is no moment arm worth a word
_HEADROOM_M, _ROW = 0.55, 20.0  # for the figures, that stand in rows of so many pixels above the person


def posture_view(seen: HandlerDetail, bed_width_m: float, units: Units = DEFAULT_UNITS) -> Drawing:
    """Return the side view of what loads one person's lower back."""
    posture, at = seen.posture, seen.posture.joint_positions_m
    right = max(0.75, at["hand"][0] + 0.3)
    left = min(at["rear_heel"][0], at["l5s1"][0] - 0.75)
    top = max(at["shoulder"][1], at["hand"][1]) + 0.2
    items: list[Item] = _bed(posture.bed_height_m, min(bed_width_m, right))
    items += [*_feet(seen), *_hands(seen, units), *_weight(seen, units), *_muscles(seen, units), *_disc(seen, units)]
    mattress = f"mattress {units.show_length(posture.bed_height_m)}"
    items.append(Label((right, posture.bed_height_m - _MATTRESS_M), mattress, "end", "quiet", 14, shift=(-4, -12)))
    return Drawing(
        x=Axis(left, right),
        y=Axis(-0.16, top + _HEADROOM_M),
        items=[*items, *_figures((left, top), seen, units)],
        alt=_alt(seen, units),
        height=520,
        to_scale=True,
    )


def _bed(height: float, end: float) -> list[Item]:
    top, under = height, max(height - _MATTRESS_M, 0.03)
    items: list[Item] = [Line([(-3.0, 0.0), (3.0, 0.0)], "quiet", 2.0)]
    items.append(Polygon([(0.0, under), (end, under), (end, top), (0.0, top)], "bed", "quiet", 1.5))
    items.append(Line([(0.06, under), (0.06, 0.0)], "faint", 4.0))
    items.append(Line([(0.0, 0.0), (0.0, height + 0.12)], "quiet", 1.5, dash=True))
    return items


def _feet(seen: HandlerDetail) -> list[Item]:
    posture = seen.posture
    under = (posture.cop_m, 0.0)
    middle = (sum(posture.base_m) / 2, 0.0)
    items: list[Item] = [
        Line([(posture.base_m[0], 0.0), (posture.base_m[1], 0.0)], "ink", 7.0, hover="where the feet stand"),
        Mark(under, "triangle", "ink", 15, "where the feet press on the floor"),
        Label(
            middle, f"floor friction needed {posture.floor_friction:.2f}", "middle", "ink", 14, False, (0, -18), True
        ),
    ]
    return items


def _about_disc(seen: HandlerDetail) -> float:
    """Moment of the hands' force about the disc [N m], positive where it bends the trunk forward."""
    at, load = seen.posture.joint_positions_m, seen.load
    (x, y), (hx, hy) = at["l5s1"], at["hand"]
    return (hy - y) * load.pull_n + (hx - x) * load.lift_n


def _hands_arm(seen: HandlerDetail, units: Units) -> str:
    return units.show_length(abs(_about_disc(seen)) / math.hypot(seen.load.pull_n, seen.load.lift_n))


def _figures(at: Point, seen: HandlerDetail, units: Units) -> list[Label]:
    """Each force with its arm, in the colour of its arrow, above the person where nothing is drawn."""
    load, posture, force = seen.load, seen.posture, units.show_force
    size = math.hypot(load.pull_n, load.lift_n)
    said: list[tuple[str, Colour]] = [
        (f"L5/S1 {force(posture.compression_n)}, shear {force(abs(posture.shear_n))}", seen.verdict)
    ]
    said += [(arrow.hover, arrow.colour) for arrow in _arrows([*_muscles(seen, units), *_weight(seen, units)])]
    if size > 0:
        said.append((f"hands {force(size)}, moment arm {_hands_arm(seen, units)}", "within"))
    return [
        Label(at, words, "start", colour, 14, True, (4.0, _ROW * (len(said) - row)))
        for row, (words, colour) in enumerate(said)
    ]


def _arrows(items: Sequence[Item]) -> list[Arrow]:
    return [item for item in items if isinstance(item, Arrow)]


def _hands(seen: HandlerDetail, units: Units) -> list[Item]:
    load, (hand, disc) = seen.load, (seen.posture.joint_positions_m[k] for k in ("hand", "l5s1"))
    size = math.hypot(load.pull_n, load.lift_n)
    if size <= 0:
        return [Mark(hand, "circle", "ink", 12, "hands")]
    along = (-load.pull_n / size, load.lift_n / size)
    long = max(size / _FULL_N * _LONGEST_M, _SHORTEST_M)
    head = (hand[0] + along[0] * long, hand[1] + along[1] * long)
    back = (disc[0] - hand[0]) * along[0] + (disc[1] - hand[1]) * along[1]
    foot = (hand[0] + back * along[0], hand[1] + back * along[1])
    upward = abs(load.lift_n) > abs(load.pull_n)  # the words then stand beside the arrow
    said = f"hands {units.show_force(size)}"
    return [
        Line([hand, foot], "quiet", 1.5, dash=True, hover=f"line of the {said}"),
        Line([disc, foot], "equipment", 4.0, hover=f"arm {_hands_arm(seen, units)}"),
        Arrow(hand, head, "within", 5.0, f"force of the {said}"),
        Mark(hand, "circle", "ink", 12, "hands"),
        Label(hand, "hands", "middle", "within", 14, True, (0, -20) if upward else (0, 20), True),
    ]


def _weight(seen: HandlerDetail, units: Units) -> list[Item]:
    """The weight of all that lies above the disc, where it acts."""
    posture, (x, y) = seen.posture, seen.posture.joint_positions_m["l5s1"]
    back = posture.low_back
    moment = float(back.moment_nm) - _about_disc(seen)
    weight = math.hypot(float(back.compression_from_weight_n), float(back.shear_from_weight_n))
    if abs(moment) < _CLEAR_MOMENT_NM:
        return []
    line = x + moment / weight
    said = f"weight {units.show_force(weight)}, moment arm {units.show_length(abs(line - x))}"
    return [
        Line([(line, y + _WEIGHT_M), (line, y)], "quiet", 1.5, dash=True),
        Line([(x, y), (line, y)], "equipment", 4.0, hover=said),
        Arrow((line, y + _WEIGHT_M), (line, y + 0.06), "ink", 4.0, said),
        Label((line, y + _WEIGHT_M), "weight", "start", "ink", 14, True, (4, 10), True),
    ]


def _muscles(seen: HandlerDetail, units: Units) -> list[Item]:
    """The muscle that answers, beside the spine: behind it where the trunk is bent forward."""
    back, (x, y) = seen.posture.low_back, seen.posture.joint_positions_m["l5s1"]
    if abs(float(back.moment_nm)) < _CLEAR_MOMENT_NM:
        return []
    lean = math.radians(seen.posture.joint_angles_deg["trunk"])
    arm = float(back.arm_m) * (1 if float(back.moment_nm) > 0 else -1)
    at = (x - arm * math.cos(lean), y + arm * math.sin(lean))
    from_ = (at[0] + _MUSCLE_M * math.sin(lean), at[1] + _MUSCLE_M * math.cos(lean))
    said = f"muscles {units.show_force(float(back.muscle_n))}, moment arm {units.show_length(abs(arm))}"
    return [
        Line([(x, y), at], "equipment", 4.0, hover=said),
        Arrow(from_, at, seen.verdict, 4.0, said),
        Label(from_, "muscles", "end", seen.verdict, 14, True, (-6, 8)),
    ]


def _disc(seen: HandlerDetail, units: Units) -> list[Item]:
    posture, at, force = seen.posture, seen.posture.joint_positions_m, units.show_force
    items: list[Item] = [
        Mark(at["l5s1"], VERDICT_MARK[seen.verdict], seen.verdict, 20, "L5/S1"),
        Label(at["l5s1"], "L5/S1", "end", seen.verdict, 14, True, (-16, -8)),
    ]
    if posture.brace_at_m is not None:
        x, y = posture.brace_at_m
        brace = f"brace {force(posture.brace_n)}"
        items += [
            Mark((x, y), "diamond", "equipment", 14, "brace"),
            Arrow((x + 0.25, y), (x + 0.02, y), "equipment", 4.0),
            Label((x, y), brace, "start", "equipment", 14, True, (30, -18), True),
        ]
    return items


def _alt(seen: HandlerDetail, units: Units) -> str:
    posture, load = seen.posture, seen.load
    if not posture.can_be_held:
        return f"{load.person.words}: {posture.reason}."
    top = seen.deciding
    against = (
        f"The nearest limit on the body is {top.label}, {100 * top.ratio:.0f} % of "
        f"{limit_amount(top.limit, top.unit, units)}. "
        if top is not None and top.ratio is not None
        else ""
    )
    return (
        f"{load.person.words} from the side, trunk leaning {posture.joint_angles_deg['trunk']:.0f} degrees, hands "
        f"{units.show_length(posture.hand_height_m)} above the floor. {against}L5/S1 compression "
        f"{units.show_force(posture.compression_n)}, shear {units.show_force(abs(posture.shear_n))}; the floor must "
        f"give friction {posture.floor_friction:.2f}."
    )
