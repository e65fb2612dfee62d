"""The people of a shift in a file of their own, or in a saved case, to be opened for another: letters, never a name."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from ergo.errors import Fault, InputError
from ergo.inputs.scenario import Member, parse_scenario
from ergo.inputs.schema import Stated, check, dump, most_of, read_toml

__all__ = ["dump_members", "read_members"]

_OF_A_CASE = {"procedure", "patient", "team"}


class _Members(Stated):
    """The people of a shift."""

    members: Annotated[tuple[Member, ...], Field(strict=False), most_of("team_most", times=2)]


def read_members(raw: bytes, what: str = "the people") -> tuple[Member, ...]:
    """Read the people of a shift from the bytes of a TOML file, their own or a saved case; InputError lists faults.

    Where the people of a saved case stand belongs to it and is left out.

    >>> read_members(b"members = [{size = 'small'}, {size = 'tall', most_lift_kg = 5.0}]")[1].most_lift_kg
    5.0
    """
    data = read_toml(raw, what)
    if not _OF_A_CASE & data.keys():
        return check(_Members, data, what, lambda data: []).members
    members = parse_scenario(data, what).team.members
    if not members:
        said = "a case that states who is on shift, or a file of people"
        raise InputError(what, [Fault("team.members", "(left out)", said)])
    return _placed_nowhere(members)


def dump_members(members: tuple[Member, ...]) -> str:
    """Return the people of a shift as TOML text; where they stand belongs to a case and is left out.

    >>> people = read_members(b"members = [{size = 'small', side = 'left'}]")
    >>> [(m.size, m.side) for m in read_members(dump_members(people).encode())]
    [('small', None)]
    """
    return dump(_Members(members=_placed_nowhere(members)))


def _placed_nowhere(members: tuple[Member, ...]) -> tuple[Member, ...]:
    return tuple(m.model_copy(update={"side": None, "position_m": None, "role": None}) for m in members)
