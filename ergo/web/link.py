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
_SHOWN = 60  # letters of a link that cannot be opened


def pack_case(scenario: Scenario) -> str | None:
    """Return a case as letters that an address can hold; None where it is too large to be read back.

    >>> from ergo.inputs import examples
    >>> unpack_case(pack_case(examples.boost())) == examples.boost()
    True
    """
    changed = scenario.model_dump(mode="json", exclude_defaults=True, exclude_none=True)
    changed["format"] = scenario.format
    text = json.dumps(changed, separators=(",", ":"), ensure_ascii=False).encode()
    packed = base64.urlsafe_b64encode(zlib.compress(text, 9)).decode().rstrip("=")
    return packed if len(packed) <= _LONGEST_LINK and len(text) <= _LARGEST_CASE else None


def unpack_case(packed: str, tell: Tell | None = None) -> Scenario:
    """Return the case that a link holds; InputError where it was cut or changed, or where a value is out of range.

    `tell` is called with what was changed in a link of an earlier format, in words.

    >>> try:
    ...     unpack_case("not a case")
    ... except InputError as error:
    ...     print(error)
    the link has 1 fault:
      case = not a case: cut or changed on its way; copy the whole link
    """
    said = packed[:_SHOWN].encode("ascii", "replace").decode() + ("…" if len(packed) > _SHOWN else "")
    broken = InputError("the link", [Fault("case", said, "cut or changed on its way; copy the whole link")])
    if len(packed) > _LONGEST_LINK:
        raise broken
    try:
        raw = base64.b64decode(packed + "=" * (-len(packed) % 4), altchars=b"-_", validate=True)
        unpacker = zlib.decompressobj()
        text = unpacker.decompress(raw, _LARGEST_CASE)
        if unpacker.unconsumed_tail or not unpacker.eof:
            raise broken
        data = json.loads(text)
        json.dumps(data, ensure_ascii=False).encode()  # half of a pair of surrogates is no letter
    except (binascii.Error, ValueError, zlib.error, RecursionError):
        raise broken from None
    if not isinstance(data, dict):
        raise broken
    return parse_scenario(data, "the link", tell)
