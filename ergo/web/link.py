"""A case in a link: what differs from the defaults, packed so that an address carries it."""

from __future__ import annotations

import base64
import binascii
import json
import zlib

from ergo.errors import Fault, InputError
from ergo.inputs.formats import Tell
from ergo.inputs.scenario import Scenario, parse_scenario

__all__ = ["pack_case", "unpack_case"]

_LONGEST_LINK = 8_000  # characters; browsers and mail programs cut longer addresses
_LARGEST_CASE = 200_000  # bytes unpacked; a case of forty moves and twenty aids stays far below


def pack_case(scenario: Scenario) -> str:
    """Return the scenario as letters that an address can hold.

    Parameters
    ----------
    scenario : Scenario

    Returns
    -------
    str
        Reads back to an equal scenario with `unpack_case`.

    Examples
    --------
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> one = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> unpack_case(pack_case(one)) == one
    True
    """
    changed = scenario.model_dump(mode="json", exclude_defaults=True, exclude_none=True)
    changed["format"] = scenario.format
    text = json.dumps(changed, separators=(",", ":"), ensure_ascii=False)
    return base64.urlsafe_b64encode(zlib.compress(text.encode(), 9)).decode().rstrip("=")


def unpack_case(packed: str, tell: Tell | None = None) -> Scenario:
    """Return the scenario that a link holds.

    Parameters
    ----------
    packed : str
    tell : callable, optional
        Called with what was changed in a link of an earlier format, in words.

    Returns
    -------
    Scenario

    Raises
    ------
    InputError
        If the link was cut or changed, or if a value in it is out of range; lists every fault.

    Examples
    --------
    >>> try:
    ...     unpack_case("not a case")
    ... except InputError as error:
    ...     print(error)
    the link has 1 fault:
      case = not a case: cut or changed on its way; copy the whole link
    """
    broken = InputError("the link", [Fault("case", packed, "cut or changed on its way; copy the whole link")])
    if len(packed) > _LONGEST_LINK:
        raise broken
    try:
        raw = base64.b64decode(packed + "=" * (-len(packed) % 4), altchars=b"-_", validate=True)
        unpacker = zlib.decompressobj()
        text = unpacker.decompress(raw, _LARGEST_CASE)
        if unpacker.unconsumed_tail or not unpacker.eof:
            raise broken
        data = json.loads(text)
    except (binascii.Error, ValueError, zlib.error, RecursionError):
        raise broken from None
    if not isinstance(data, dict):
        raise broken
    return parse_scenario(data, "the link", tell)
