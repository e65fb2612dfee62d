"""Many cases in a table: each row's assessment, or its smallest team."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar, get_args

from pydantic import BaseModel

from ergo.assessment import Assessment, Demand, demand_of, largest_team, why_no_team_is_possible
from ergo.assessment.verdict import judge_teams
from ergo.errors import Fault, InputError, probability_faults
from ergo.inputs.scenario import Scenario, parse_scenario
from ergo.limits.guidance import guidance_of
from ergo.mechanics.case import find_lying
from ergo.teams.sentences import why_words
from ergo.teams.team_search import SmallTeam, smallest_teams_of

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["assess_many", "case_columns", "smallest_teams"]

_SHORT = {name: f"patient.{name}" for name in ("sex", "mass_kg", "stature_m")}
_NUMBER = re.compile(r"[+-]?[0-9]{1,9}(?:[.,][0-9]{1,20})?(?:[eE][+-]?[0-9]{1,3})?")  # also with a decimal comma
_TOGETHER = 250  # rows at a time: enough to share a search, few enough to show progress and to spare memory
_DRAWN_TOGETHER = 50  # rows whose tables are solved at a time: those a second share a search, progress still shows

Progress = Callable[[float], object]
Made = TypeVar("Made")


@cache
def case_columns() -> dict[str, str]:
    """Return the column names a table of cases may have, with the scenario field of each.

    >>> case_columns()["mass_kg"], "bed.width_m" in case_columns(), "team.left" in case_columns()
    ('patient.mass_kg', True, True)
    """
    fields = list(_fields(Scenario))
    return {name: name for name in fields} | _SHORT


@dataclass(frozen=True, slots=True)
class _Case:
    """A row that holds a case."""

    row: int
    demand: Demand


def assess_many(frame: pd.DataFrame, *, progress: Progress | None = None) -> pd.DataFrame:
    """Return the assessment of every row of a table of cases, each with its own team.

    As `assess` row by row, with what people can manage found for all rows together.

    Parameters
    ----------
    frame : pandas.DataFrame
        One case a row. Columns: procedure, sex, mass_kg [kg], stature_m [m], aid, and any other field of a scenario by
        its dotted name, as bed.width_m, team.left, policy.protect or handling.technique. An empty cell (None or NaN)
        leaves the field out: it takes its default.
    progress : callable, optional
        Told the part done, 0 to 1.

    Returns
    -------
    pandas.DataFrame
        With the same index. Columns: `verdict` ("within", "close", "over", "not applicable"); `people`, everybody in
        the room; `left`, `right` and `roles`, how many stand on each side and how many do something else;
        `deciding_limit`; `ratio` of demand to it [-]; `why` in words; `fault`, what is wrong with the row, "" where
        nothing is. Where there is a fault the other columns are empty.

    Raises
    ------
    InputError
        If a column names no field; lists every one. A row that is wrong never stops the others.

    Examples
    --------
    >>> import pandas as pd
    >>> rows = {"procedure": "boost", "sex": ["F", "M", "F"], "mass_kg": [60.0, 120.0, 999.0], "stature_m": 1.7}
    >>> found = assess_many(pd.DataFrame(rows))
    >>> found[["verdict", "people", "fault"]].values.tolist()  # doctest: +NORMALIZE_WHITESPACE
    [['within', 4, ''], ['within', 4, ''], [nan, <NA>, 'patient.mass_kg = 999.0: 25 to 350 [kg]']]

    Notes
    -----
    Source: as `assess`.
    """

    def rows_of(cases: Sequence[_Case]) -> list[dict[str, Any]]:
        teams = [(c.demand, c.demand.scenario.team.left, c.demand.scenario.team.right) for c in cases]
        return [_row(result, result.why) for result in judge_teams(teams, every_limit=False)]

    return _answered(frame, rows_of, _OF_AN_ASSESSMENT, _TOGETHER, progress, team_is_used=True)


def smallest_teams(
    frame: pd.DataFrame, probability: float | None = None, *, progress: Progress | None = None
) -> pd.DataFrame:
    """Return the smallest team of every row of a table of cases.

    As `smallest_team` row by row, with what people can manage found for all rows together.

    Parameters
    ----------
    frame : pandas.DataFrame
        As for `assess_many`; the team's numbers left and right are not used.
    probability : float, 0 to 1, optional
        That nobody is over a limit, as `smallest_team` asks for 0.9; a row then takes some tenths of a second. Left
        out: the smallest team at typical values.
    progress : callable, optional
        Told the part done, 0 to 1.

    Returns
    -------
    pandas.DataFrame
        With the same index and the columns of `assess_many`, of the smallest team. `people`, `left` and `right` are
        empty where there is none, and `why` says whether a mechanical lift is the answer, a place is missing, or no
        limit covers the case; the limit and its ratio are then those of the largest team. Beside them stand the three
        reasons: `people_by_force`, `people_if_one_breaks_off` (empty where nobody would fall), `people_by_guidance`
        (empty where guidance names no number); `counts` says which of them asks for most. `probability` is the share
        of the draws, 1.0 where it is all of them, which words tell as >99 %; empty where none was asked for.

    Raises
    ------
    InputError
        If a column names no field, or the probability is not between 0 and 1. A row that is wrong never stops the
        others.

    Examples
    --------
    >>> import pandas as pd
    >>> rows = {"procedure": "boost", "sex": "F", "mass_kg": [60.0, 100.0], "stature_m": 1.6, "bed.places_left": [6, 0]}
    >>> found = smallest_teams(pd.DataFrame(rows))
    >>> found["people"].tolist(), found["why"][1].split(",")[0]
    ([2, <NA>], 'No team can be named. There is no place on the left side of the bed')

    Notes
    -----
    Source: as `smallest_team`.
    """
    if probability is not None and (faults := probability_faults("probability", probability)):
        raise InputError("smallest_teams", faults)

    def rows_of(cases: Sequence[_Case]) -> list[dict[str, Any]]:
        demands = [case.demand for case in cases]
        teams = smallest_teams_of(demands, probability)
        none = [d for d, team in zip(demands, teams, strict=True) if team is None]
        largest = iter(judge_teams([(d, *largest_team(d)) for d in none], every_limit=False))
        found = [team.assessment if team else next(largest) for team in teams]
        return [_team_row(d, t, r, probability) for d, t, r in zip(demands, teams, found, strict=True)]

    together = _TOGETHER if probability is None else _DRAWN_TOGETHER
    return _answered(frame, rows_of, _OF_A_SEARCH, together, progress, team_is_used=False)


_OF_AN_ASSESSMENT = {
    "verdict": "str",
    "people": "Int64",
    "left": "Int64",
    "right": "Int64",
    "roles": "Int64",
    "deciding_limit": "str",
    "ratio": "float64",
    "why": "str",
    "fault": "str",
}
_OF_A_SEARCH = {
    "verdict": "str",
    "people": "Int64",
    "people_by_force": "Int64",
    "people_if_one_breaks_off": "Int64",
    "people_by_guidance": "Int64",
    "counts": "str",
    "left": "Int64",
    "right": "Int64",
    "roles": "Int64",
    "deciding_limit": "str",
    "ratio": "float64",
    "probability": "float64",
    "why": "str",
    "fault": "str",
}


def _answered(
    frame: pd.DataFrame,
    rows_of: Callable[[Sequence[_Case]], list[dict[str, Any]]],
    types: dict[str, str],
    together: int,
    progress: Progress | None,
    *,
    team_is_used: bool,
) -> pd.DataFrame:
    """Return one row of answers for each row of cases, some rows at a time."""
    import pandas as pd

    fields = _fields_of([str(name) for name in frame.columns])
    given = frame.astype(object).where(frame.notna(), None)  # every kind of empty cell
    columns = [given.iloc[:, k].tolist() for k in range(len(fields))]
    answers: list[dict[str, Any]] = []
    for start in range(0, len(frame), together):
        part: list[dict[str, Any]] = []
        parsed, cases = [], []
        for row in range(start, min(start + together, len(frame))):
            stated = _stated(fields, [column[row] for column in columns], team_is_used)
            parsed.append(_or_fault(parse_scenario, stated))
        find_lying(one for one in parsed if isinstance(one, Scenario))
        for row, one in enumerate(parsed):
            demand = _or_fault(demand_of, one) if isinstance(one, Scenario) else one
            if isinstance(demand, Demand):
                cases.append(_Case(row, demand))
            part.append({} if isinstance(demand, Demand) else {"fault": demand})
        for case, answer in zip(cases, rows_of(cases), strict=True):
            part[case.row] = {**answer, "fault": ""}
        answers += part
        if progress is not None:
            progress(len(answers) / len(frame))
    kinds = {name: object if kind == "str" else kind for name, kind in types.items()}
    return pd.DataFrame(answers, index=frame.index, columns=list(types)).astype(kinds)


def _or_fault(make: Callable[[Any], Made], given: Any) -> Made | str:
    """What is made of something, or what is wrong with it."""
    try:
        return make(given)
    except InputError as error:
        return "; ".join(map(str, error.faults))


def _row(result: Assessment, why: str) -> dict[str, Any]:
    return {
        "verdict": result.verdict,
        "people": result.people,
        "left": result.left,
        "right": result.right,
        "roles": sum(role.people for role in result.roles),
        "deciding_limit": result.deciding.label if result.deciding else "",
        "ratio": result.worst_ratio if result.deciding else None,
        "why": why,
    }


def _team_row(demand: Demand, team: SmallTeam | None, result: Assessment, probability: float | None) -> dict[str, Any]:
    if team is not None:
        found = team.reasons
        return _row(result, result.why) | {
            "people_by_force": found.people_by_force,
            "people_if_one_breaks_off": found.people_if_one_breaks_off,
            "people_by_guidance": found.people_by_guidance,
            "counts": found.counts,
            "probability": team.probability,
        }
    why = why_words(None, result, 0.0, probability, why_no_team_is_possible(demand))
    guided = guidance_of(demand.scenario).people
    return _row(result, why) | {"people": None, "left": None, "right": None, "people_by_guidance": guided}


def _fields(model: type[BaseModel], prefix: str = "") -> list[str]:
    """The dotted names of all fields that hold one value or a list."""
    found = []
    for name, field in model.model_fields.items():
        inner = field.annotation
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            found += _fields(inner, f"{prefix}{name}.")
        else:
            found.append(f"{prefix}{name}")
    return found


def _fields_of(columns: Sequence[str]) -> list[str]:
    """Return the scenario field of each column, or name every column that has none or is there twice."""
    known = case_columns()
    faults = []
    for k, column in enumerate(columns):
        if column not in known:
            near = difflib.get_close_matches(column, known, 1)
            faults.append(
                Fault("column", repr(column), "unknown" + (f"; did you mean {near[0]}?" if near else ", no field"))
            )
        elif known[column] in [known.get(other) for other in columns[:k]]:
            faults.append(Fault("column", repr(column), "only once"))
    if faults:
        raise InputError("table", faults)
    return [known[column] for column in columns]


def _stated(fields: Sequence[str], cells: Sequence[Any], team_is_used: bool) -> dict[str, Any]:
    """Return the nested dictionaries that a row states."""
    stated: dict[str, Any] = {"name": "case"}
    for field, cell in zip(fields, cells, strict=True):
        if cell is None or (isinstance(cell, str) and not cell.strip()):
            continue
        *parents, name = field.split(".")
        owner = stated
        for parent in parents:
            owner = owner.setdefault(parent, {})
        owner[name] = _of_kind(_kinds()[field], cell)
    if not team_is_used and "members" not in stated.get("team", {}):
        # the team that is not used must not exceed the places
        stated["team"] = {**stated.get("team", {}), "left": 0, "right": 0}
    return stated


@cache
def _kinds() -> dict[str, type]:
    """Whether each field holds a whole number, a number, a yes or no, or something else."""
    found: dict[str, type] = {}
    for field in _fields(Scenario):
        model: type[BaseModel] = Scenario
        *parents, name = field.split(".")
        for parent in parents:
            model = model.model_fields[parent].annotation  # type: ignore[assignment]
        annotation = model.model_fields[name].annotation
        choices = {annotation, *get_args(annotation)}
        found[field] = next((kind for kind in (bool, float, int) if kind in choices), object)
    return found


def _of_kind(kind: type, cell: Any) -> Any:
    """A cell as its field's kind where that loses nothing: a table writes 2 as 2.0, and numbers as text."""
    if isinstance(cell, str):
        cell = cell.strip()
        if kind is bool:
            return {"true": True, "false": False}.get(cell.lower(), cell)
        if kind in (int, float):
            if not _NUMBER.fullmatch(cell):
                return cell
            cell = float(cell.replace(",", "."))
    if kind is int and isinstance(cell, float) and cell.is_integer():
        return int(cell)
    if kind is float and isinstance(cell, int) and not isinstance(cell, bool):
        return float(cell)
    return cell
