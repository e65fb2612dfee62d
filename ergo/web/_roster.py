"""Who is on shift: a table with one row a person, a file of its own, and whether these can do it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast, get_args

import streamlit as st

from ergo.assessment import roles_of
from ergo.assessment.team import letters_of
from ergo.errors import Fault, InputError
from ergo.inputs.members import dump_members, read_members
from ergo.inputs.scenario import Duty, Member, Scenario, Side, Size, most_a_side
from ergo.limits.policy import Verdict
from ergo.report.figures.bed_plan import bed_plan
from ergo.report.tables.shift import does_rows, shift_rows
from ergo.teams.this_team import ThisTeam, this_team_words
from ergo.units import Units, in_notation, numbers_in, people_words, writes_decimal_comma
from ergo.web import _shared, _state
from ergo.web._inputs import scales

__all__ = ["answer", "inputs", "members_of", "rows_of"]

_SHOWN, _FILE = "ergo.roster.shown", "roster.file"
_OPEN = "shift"
Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class _Shown:
    """The table as it was first shown, and what the reader's changes have made of it since."""

    members: tuple[Member, ...]
    units: Units
    number: int
    now: tuple[Member, ...]


def rows_of(
    members: Sequence[Member], letters: Sequence[str], units: Units, *, decimal_comma: bool = False
) -> list[Row]:
    """Return one row a person, in the reader's units and notation; `place` tells which person a changed row is.

    >>> rows_of([Member(size="small", most_lift_kg=5.2)], ["A"], Units(mass="lb"), decimal_comma=True)[0]["lifts"]
    '11,5'
    """
    _, mass, _ = scales("mass", units)
    _, length, _ = scales("length", units)

    def shown(scale: Any, value: float | None) -> str | None:
        return None if value is None else in_notation(f"{scale(value):.1f}".removesuffix(".0"), decimal_comma)

    return [
        {
            "place": i,
            "who": letter,
            "size": m.size,
            "may do": list(m.may_do or ()),
            "lifts": shown(mass, m.most_lift_kg),
            "until": m.until,
            "stands": m.side,
            "sex": m.sex,
            "stature": shown(length, m.stature_m),
            "mass": shown(mass, m.mass_kg),
        }
        for i, (m, letter) in enumerate(zip(members, letters, strict=True))
    ]


_FIELDS = {
    "size": "size",
    "sex": "sex",
    "stature": "stature_m",
    "mass": "mass_kg",
    "may do": "may_do",
    "lifts": "most_lift_kg",
    "until": "until",
    "stands": "side",
}
_SCALED = {"stature": "length", "mass": "mass", "lifts": "mass"}
_LABELS = {"stature": "Stature", "mass": "Mass", "lifts": "Lifts"}


def members_of(
    rows: Sequence[Row], before: Sequence[Member], units: Units, *, decimal_comma: bool = False
) -> list[dict[str, Any]]:
    """Return what the rows of a changed table state; cells that nobody touched keep their value to the last digit.

    A number is one in the reader's notation, as `numbers_in` takes it; InputError names every one that is none.

    >>> small = Member(size="small", mass_kg=61.234)
    >>> changed = [row | {"size": "tall"} for row in rows_of([small], ["A"], Units(mass="lb"))]
    >>> members_of(changed, [small], Units(mass="lb"))[0]
    {'size': 'tall', 'mass_kg': 61.234}
    """
    known = rows_of(before, [""] * len(before), units, decimal_comma=decimal_comma)
    found, faults = [], []
    for number, row in enumerate(rows, 1):
        place = _value(row.get("place"))
        old, stated = ({}, {}) if place is None else (known[int(place)], _stated(before[int(place)]))
        for column, name in _FIELDS.items():
            value = _value(row.get(column))
            if column in old and value == _value(old[column]):
                continue
            if value is None:
                stated.pop(name, None)
            elif column in _SCALED:
                unit, _, read = scales(cast(Any, _SCALED[column]), units)
                try:
                    (one,) = numbers_in(str(value), decimal_comma=decimal_comma)
                    stated[name] = read(one)
                except (InputError, ValueError):
                    wanted = f"one number, as {in_notation('5.5', decimal_comma)}"
                    faults.append(Fault(f"row {number}, {_LABELS[column].lower()}", repr(value), wanted, unit))
            else:
                stated[name] = tuple(value) if column == "may do" else value
        if {"size", "stature_m", "mass_kg"} <= set(stated) and stated["size"] == (old or {"size": "medium"})["size"]:
            del stated["size"]  # what is measured stands in its place
        if old and stated.get("side") != old["stands"]:
            stated.pop("position_m", None)
            stated.pop("role", None)
        found.append(stated)
    if faults:
        raise InputError("the people on shift", faults)
    return found


def _stated(member: Member) -> dict[str, Any]:
    return member.model_dump(mode="python", exclude_none=True)


def _value(cell: Any) -> Any:
    """A cell, None where it is empty in any of the ways in which a table says so."""
    if cell is None or (isinstance(cell, float) and math.isnan(cell)) or str(cell) in ("", "NaT", "<NA>", "None"):
        return None
    if not isinstance(cell, str) and hasattr(cell, "__len__"):
        return [str(part) for part in cell] or None
    if hasattr(cell, "date") and callable(cell.date):
        return cell.date()
    return cell


def inputs() -> None:
    """Ask who is on shift; the people are part of the case and are saved with it."""
    fold = _shared.fold("Who is on shift: can these do it?", _OPEN)
    if not fold.open:
        return
    with fold:
        case, units = _state.scenario(), _state.units()
        _shared.note(
            "One row a person, called A, B, C: no names. A size says enough; stature and mass identify colleagues. "
            "May do: left empty, everything, but nothing with the hands for whoever has a restriction. Restrictions "
            "are the unit's and occupational health's own word. A saved case and its link carry this table."
        )
        _table(case, units)
        _files(case)


def _table(case: Scenario, units: Units) -> None:
    import pandas as pd

    shown = cast("_Shown | None", st.session_state.get(_SHOWN))
    members = case.team.members
    if shown is None or shown.now != members or shown.units != units:
        shown = _Shown(members, units, 0 if shown is None else shown.number + 1, members)
        st.session_state[_SHOWN] = shown
    comma = writes_decimal_comma(st.context.locale)
    columns = _columns(units)
    listed = rows_of(shown.members, letters_of(case.team)[: len(shown.members)], units, decimal_comma=comma)
    base = pd.DataFrame(listed, columns=["place", *columns], dtype=object).astype({"place": "Int64"})
    base["until"] = pd.to_datetime(base["until"])
    edited = st.data_editor(
        base,
        num_rows="dynamic",
        hide_index=True,
        key=f"roster.{shown.number}",
        column_order=list(columns),
        column_config=columns,
        width="stretch",
        placeholder="",
    )
    rows = cast("list[Row]", edited.to_dict("records"))
    try:
        found = members_of(rows, shown.members, units, decimal_comma=comma)
    except InputError as error:
        _shared.faults(error.shown)
        return
    if found == [_stated(m) for m in shown.now] or found == st.session_state.get(f"{_SHOWN}.tried"):
        return
    st.session_state[f"{_SHOWN}.tried"] = found
    use(found)
    now = _state.scenario().team.members
    if len(rows) == len(shown.members) and len(now) == len(rows):  # the table goes on; else it gets its letters anew
        st.session_state[_SHOWN] = _Shown(shown.members, units, shown.number, now)
    st.rerun()


def _columns(units: Units) -> Mapping[str, Any]:
    column = st.column_config

    def number(name: str, width: int, help: str | None = None) -> Any:
        # text: a column of numbers reads 5,5 as 55 where a point is written
        unit = scales(cast(Any, _SCALED[name]), units)[0]
        return column.TextColumn(f"{_LABELS[name]} ({unit})", max_chars=12, width=width, help=help)

    def choice(label: str, options: Sequence[str], width: int, help: str | None = None) -> Any:
        return column.SelectboxColumn(label, options=list(options), width=width, help=help)

    return {
        "who": column.TextColumn("Who", disabled=True, width=45),
        "size": column.SelectboxColumn("Size", options=list(get_args(Size)), default="medium", width=90),
        "may do": column.MultiselectColumn("May do", options=list(get_args(Duty)), width=140),
        "lifts": number("lifts", 100, "At most, as occupational health has stated it"),
        "until": column.DateColumn(
            "Until", format="YYYY-MM-DD", width=95, help="The last day of what they may do and lift"
        ),
        "stands": choice("Stands", get_args(Side), 95, "Empty: where they fit best"),
        "sex": choice("Sex", ("F", "M"), 70),
        "stature": number("stature", 115),
        "mass": number("mass", 100),
    }


def use(members: Sequence[Mapping[str, Any] | Member]) -> None:
    """Make these the people of the case; whoever is put somewhere is counted there."""
    plain = [_stated(m) if isinstance(m, Member) else dict(m) for m in members]
    standing = {side: sum(m.get("side") == side for m in plain) if plain else None for side in get_args(Side)}
    _state.change({"team.members": plain, **{f"team.{side}": number for side, number in standing.items()}})


def _files(case: Scenario) -> None:
    members = case.team.members
    left, right = st.columns(2, gap="large", vertical_alignment="bottom")
    with left:
        _shared.open_file("Open the people of another case (TOML)", _FILE, _open)
    with right:
        if members:
            st.button("Nobody: the usual people", key="roster.none", on_click=use, args=((),), width="stretch")
            name = _shared.file_name(f"people of {case.name}", "toml")
            _shared.save("Save these people (TOML)", dump_members(members), name, "roster.save", wide=True)
        else:
            sides = min(case.team.left + case.team.right, 2 * most_a_side())
            count = sides + sum(role.people for role in roles_of(case))
            medium = [{"size": "medium"}] * count
            label = f"Begin with {people_words(count)} of medium size"
            st.button(label, key="roster.begin", on_click=use, args=(medium,), width="stretch")


def _open() -> None:
    file = st.session_state[_FILE]
    if file is None:
        return
    try:
        use(read_members(file.getvalue()))
    except InputError as error:
        _state.tell(error)


def answer(case: Scenario) -> None:
    """Say whether these can do it; without people, whether the stated numbers are enough, where the reader looks."""
    members = case.team.members
    if not members and not st.session_state.get(f"fold.{_OPEN}"):
        return
    with st.container(key="shift.answer"):
        st.subheader("Can these do it?" if members else "Was this team enough?", anchor=False)
        place = st.empty()
        place.html('<p class="ergo-note" role="status">Looking at this team …</p>')
        try:
            found = _state.stated_team(case)
        except InputError as error:
            with place.container():
                _shared.faults(error.shown)
            return
        with place.container():
            _words(found)
        if not found.enough:
            st.markdown("What would help:\n\n" + "\n".join(f"- {_shared.plain(w)}" for w in _state.team_helps(case)))
        if members:
            _who_stands_where(found)


def _words(found: ThisTeam) -> None:
    first, *more = this_team_words(found, _state.units())
    mark: Verdict = "over" if not found.enough else "close" if found.short_of else "within"
    _shared.headline(mark, first.partition(": ")[0], first.partition(": ")[2])
    st.markdown("\n".join(f"- {_shared.plain(said)}" for said in more))


def _who_stands_where(found: ThisTeam) -> None:
    units, result = _state.units(), found.assessment
    move = _shared.choose_move("Move of these people", result, "shift.move")
    demand = _state.demand_for(found.scenario)
    _shared.figure(bed_plan(demand, move, (found.left, found.right), units), "fig.shift")
    _shared.table(shift_rows(found, units), "shift")
    _shared.table(does_rows(found, units), "shift.does")
