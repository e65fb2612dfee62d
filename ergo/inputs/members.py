"""The people of a shift in a file of their own, to be opened for another case: letters in their order, never a name."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from ergo.inputs.scenario import Member
from ergo.inputs.schema import Stated, check, dump, most_of, read_toml

__all__ = ["dump_members", "read_members"]


class _Members(Stated):
    """The people of a shift."""

    members: Annotated[tuple[Member, ...], Field(strict=False), most_of("team_most", times=2)]


def read_members(raw: bytes, what: str = "the people") -> tuple[Member, ...]:
    """Read the people of a shift from the bytes of a TOML file; InputError lists every fault.

    >>> read_members(b"members = [{size = 'small'}, {size = 'tall', most_lift_kg = 5.0}]")[1].most_lift_kg
    5.0
    """
    return check(_Members, read_toml(raw, what), what, lambda data: []).members


def dump_members(members: tuple[Member, ...]) -> str:
    """Return the people of a shift as TOML text; where they stand belongs to a case and is left out.

    >>> people = read_members(b"members = [{size = 'small', side = 'left'}]")
    >>> [(m.size, m.side) for m in read_members(dump_members(people).encode())]
    [('small', None)]
    """
    bare = tuple(m.model_copy(update={"side": None, "position_m": None, "role": None}) for m in members)
    return dump(_Members(members=bare))
