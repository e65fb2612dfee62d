"""What a user states in a TOML file: one way to read it, check it and tell every fault at once.

Frozen pydantic models describe the fields; each finding of the validator is put into our own words, with the
allowed range and the unit. Used by the scenario, the unit and the purchase.
"""

from __future__ import annotations

import difflib
import io
import os
import re
import stat
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated, Any, TypeVar, get_args

import tomli_w
from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic.fields import FieldInfo

from ergo.errors import Fault, InputError
from ergo.evidence import assumption, source

__all__ = [
    "DEEPEST",
    "FIRST_YEAR",
    "LARGEST_FILE",
    "LAST_YEAR",
    "Day",
    "Default",
    "Stated",
    "check",
    "defaults_used",
    "dump",
    "listed",
    "most_of",
    "number",
    "range_of",
    "read_bytes",
    "read_text",
    "read_toml",
    "visible_text",
]

LARGEST_FILE = 300_000  # bytes; what one user states is a page of text, anything larger is not one
DEEPEST = 8
MOST_VALUES = 5000  # more than the longest lists allowed hold; comparing every entry with every other stays quick
LONGEST_LINE = 2000  # characters
_NO_WAIT = getattr(os, "O_NONBLOCK", 0)  # where there are pipes


class Stated(BaseModel):
    """Something a user states: strict types, no unknown field, no infinity, never changed afterwards."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


T = TypeVar("T", bound=BaseModel)


def number(unit: str, low: float, high: float, default: Any = ..., key: str = "") -> Any:
    """Describe a number by unit and allowed range, ends included; with `key` its default is the typical value known.

    >>> class Pull(Stated):
    ...     angle_deg: float = number("deg", -10, 60, key="pull_angle")
    >>> Pull().angle_deg
    15.0
    """
    extra: dict[str, Any] = {"unit": unit}
    if key:
        extra["assumption"] = key
        factory: Callable[[], float] = lambda: assumption(key).typical  # noqa: E731
        return Field(default_factory=factory, ge=low, le=high, json_schema_extra=extra)
    return Field(default, ge=low, le=high, json_schema_extra=extra)


def visible_text(most: int, default: Any = ...) -> Any:
    r"""Describe a text that names something: one character of it at least can be seen.

    >>> class Ward(Stated):
    ...     called: str = visible_text(40)
    >>> check(Ward, {"called": "\u200b "}, "ward", lambda data: [])
    Traceback (most recent call last):
    ergo.errors.InputError: ward has 1 fault:
      called = '\u200b ': text, 1 to 40 characters that can be seen
    """
    return Field(default, min_length=1, max_length=most, pattern=_SEEN)


# No space, no control character, no mark on a letter that is not there, none of the letters that are blank.
_SEEN = r"[^\p{Z}\p{Cc}\p{Cf}\p{M}\p{Default_Ignorable_Code_Point}\s\x{2800}]"


def most_of(key: str, times: int = 1) -> AfterValidator:
    """Check a number, or the length of a list, against `times` an assumption in evidence when it is read."""

    def checked(value: Any) -> Any:
        most = int(times * assumption(key).typical)
        if (value if isinstance(value, int) else len(value)) > most:
            raise ValueError(f"at most {most}")
        return value

    return AfterValidator(checked)


FIRST_YEAR, LAST_YEAR = 2000, 2100


def _day(value: Any) -> Any:
    """Read a date that links and tables hold as text; one before 2000 is a date of birth, which nobody asks for."""
    if isinstance(value, str):
        try:
            value = date.fromisoformat(value)
        except ValueError:
            raise ValueError("a date as 2026-03-31") from None
    if isinstance(value, date) and not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise ValueError(f"a date of the years {FIRST_YEAR} to {LAST_YEAR}, never one of birth")
    return value


Day = Annotated[date | None, BeforeValidator(_day)]
"""A date, or none; in text as 2026-03-31."""


@dataclass(frozen=True, slots=True)
class Default:
    """One default that the user did not change: field, value, unit, and where and when it comes from."""

    field: str
    value: float
    low: float
    high: float
    unit: str
    key: str
    source: str
    year: str
    known: str
    note: str

    def __str__(self) -> str:
        origin = f"{self.source}, {self.year}" if self.source else "no source"
        return f"{self.field} = {self.value:g} {self.unit} ({origin}; {self.known}): {self.note}"


def defaults_used(stated: BaseModel, prefix: str = "") -> tuple[Default, ...]:
    """List every default out of evidence that stands because the user left the field out.

    >>> class Pull(Stated):
    ...     angle_deg: float = number("deg", -10, 60, key="pull_angle")
    >>> [(d.field, d.value, d.known) for d in defaults_used(Pull())], defaults_used(Pull(angle_deg=5.0))
    ([('angle_deg', 15.0, 'judgement')], ())
    """
    return tuple(_defaults(stated, prefix))


def _defaults(stated: BaseModel, prefix: str) -> Iterator[Default]:
    for name, field in type(stated).model_fields.items():
        value = getattr(stated, name)
        where = f"{prefix}{name}"
        extra = field.json_schema_extra
        if isinstance(value, BaseModel):
            yield from _defaults(value, f"{where}.")
        elif isinstance(value, tuple):
            for i, item in enumerate(value):
                if isinstance(item, BaseModel):
                    yield from _defaults(item, f"{where}.{i}.")
        elif isinstance(extra, dict) and "assumption" in extra and name not in stated.model_fields_set:
            yield default_of(str(extra["assumption"]), where)


def default_of(key: str, field: str = "") -> Default:
    """Return one assumed value as a default with its source and year.

    >>> default_of("pull_angle").known
    'judgement'
    """
    known = assumption(key)
    year = ""
    if known.source:
        found = re.findall(r"\b(?:19|20)\d\d\b", source(known.source).citation + " " + known.note)
        year = found[-1] if known.note and re.search(r"\b(?:19|20)\d\d\b", known.note) else (found or [""])[0]
    return Default(
        field or key, known.typical, known.low, known.high, known.unit, key, known.source, year or "no year",
        known.known, known.note,
    )  # fmt: skip


def read_bytes(path: str | Path, largest: int = LARGEST_FILE) -> bytes:
    """Return the bytes of a file that a user names; a device or pipe, or more than `largest` bytes, are refused.

    >>> read_bytes("nowhere/case.toml")
    Traceback (most recent call last):
    ergo.errors.InputError: nowhere/case.toml has 1 fault:
      file = case.toml: No such file or directory
    """
    path = Path(path)
    try:
        # A pipe that nobody writes to is opened without waiting for it; a size that is stated is not trusted.
        with open(path, "rb", opener=lambda name, flags: os.open(name, flags | _NO_WAIT)) as file:
            status = os.fstat(file.fileno())
            regular, size = stat.S_ISREG(status.st_mode), status.st_size
            raw = file.read(largest + 1) if regular and size <= largest else b""
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or "cannot be read"
        raise InputError(str(path), [Fault("file", path.name, said)]) from None
    if not regular:
        raise InputError(str(path), [Fault("file", path.name, "a file, not a device or pipe")])
    if max(size, len(raw)) > largest:
        raise InputError(str(path), [Fault("file", str(max(size, len(raw))), f"at most {largest}", "bytes")])
    return raw


def read_text(raw: bytes, what: str, largest: int, longest_line: int) -> str:
    """Return bytes as text, refused where they are too many, not UTF-8, or have a line that is too long.

    Only what ends a line for the parsers does so here: their time grows with the length of their own lines.
    """
    if len(raw) > largest:
        raise InputError(what, [Fault("file", f"{len(raw)}", f"at most {largest}", "bytes")])
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(what, [Fault("file", f"byte {error.start}", "must be UTF-8 text")]) from None
    too_long = next((i for i, line in enumerate(io.StringIO(text), 1) if len(line) > longest_line + 1), None)
    if too_long is not None:
        raise InputError(what, [Fault("file", f"line {too_long}", f"at most {longest_line}", "characters")])
    return text


# Strings and comments, in which a dot joins nothing. One that nobody closed goes on to where the parser gives up.
_NO_KEY = re.compile(
    r'''"""(?:[^"\\]|\\.|"(?!""))*(?:"{3,5}|\Z)|"(?:[^"\\\n]|\\.)*"?'''
    r"""|'''(?:[^']|'(?!''))*(?:'{3,5}|\Z)|'[^'\n]*'?|#[^\n]*""",
    re.DOTALL,
)


def read_toml(raw: bytes, what: str) -> dict[str, Any]:
    """Return the tables of a TOML text, or refuse it in words before it can take long.

    >>> read_toml(b"[patient]\\nmass_kg = 70.0", "case")
    {'patient': {'mass_kg': 70.0}}
    """
    text = read_text(raw, what, LARGEST_FILE, LONGEST_LINE)
    # The parser's time and memory grow with the square of the parts of a dotted key.
    if max(part.count(".") for part in re.split(r"[\n,=\[\]{}]", _NO_KEY.sub("_", text))) > DEEPEST:
        raise InputError(what, [Fault("file", "tables", f"nested at most {DEEPEST} deep")])
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        said = "nested too deeply" if isinstance(error, RecursionError) else str(error)
        raise InputError(what, [Fault("file", "TOML", said)]) from None


def check(model: type[T], data: dict[str, Any], what: str, cross: Callable[[dict[str, Any]], list[Fault]]) -> T:
    """Return nested dictionaries as a model, or raise every fault at once.

    `cross` finds what is wrong between fields; it reads raw data so that it also works beside other faults.

    >>> class Visit(Stated):
    ...     minutes: float = number("min", 0, 60)
    >>> check(Visit, {"minutes": 90.0, "minute": 1}, "visit", lambda data: [])
    Traceback (most recent call last):
    ergo.errors.InputError: visit has 2 faults:
      minutes = 90.0: 0 to 60 [min]
      minute = 1: unknown field; did you mean minutes?
    """
    values = _values(data, what)
    if len(values) > MOST_VALUES:
        raise InputError(what, [Fault("file", f"{len(values)}", f"at most {MOST_VALUES}", "values")])
    faults: list[Fault] = []
    stated = None
    unseen = [
        Fault(field or "file", ascii(value), "text without control characters")
        for field, value, _ in values
        if isinstance(value, str) and _UNSEEN.search(value)
    ]
    try:
        stated = model.model_validate(data)
    except ValidationError as error:
        faults = [_fault(model, e) for e in error.errors(include_url=False) if not _by_its_entries(e)]
    told = {fault.field for fault in unseen}  # each text has one fault
    faults = [fault for fault in faults if fault.field not in told] + unseen + cross(data)
    if faults or stated is None:
        raise InputError(what, faults)
    return stated


def listed(owner: dict[str, Any], name: str) -> list[dict[str, Any]]:
    """Return the tables of a list in raw data, leaving out what is none: what else is wrong is told beside."""
    value = owner.get(name, [])
    return [v for v in value if isinstance(v, dict)] if isinstance(value, list | tuple) else []


def dump(stated: BaseModel) -> str:
    """Return what was stated as TOML text that reads back to an equal object.

    >>> class Visit(Stated):
    ...     minutes: float = number("min", 0, 60)
    >>> print(dump(Visit(minutes=5.0)), end="")
    minutes = 5.0
    """
    return tomli_w.dumps(stated.model_dump(mode="python", exclude_none=True))


def _values(data: Any, what: str) -> list[tuple[str, Any, int]]:
    """Every table, list and entry, each with its field and how deep it lies."""
    found = [("", data, 0)]
    for field, value, level in found:  # grows while it is read
        if level > DEEPEST:
            raise InputError(what, [Fault("file", "tables", f"nested at most {DEEPEST} deep")])
        if isinstance(value, dict):
            found += [(f"{field}.{key}" if field else f"{key}", part, level + 1) for key, part in value.items()]
        elif isinstance(value, list | tuple):
            found += [(f"{field}.{k}" if field else f"{k}", part, level + 1) for k, part in enumerate(value)]
    return found


# A line break is a blank in what is shown. Other control characters could steer a terminal or break a drawing, and
# the marks that turn the reading direction could make a line say what it does not.
_UNSEEN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ufffe\uffff]")


def _model_at(root: type[BaseModel], loc: tuple[int | str, ...]) -> tuple[type[BaseModel] | None, str]:
    """Follow an error's location to the model that owns its last named field."""
    model = root
    names = [part for part in loc if isinstance(part, str)]
    for name in names[:-1]:
        inner = model.model_fields.get(name)
        found = _submodel(inner.annotation) if inner is not None else None
        if found is None:
            return None, names[-1] if names else ""
        model = found
    return model, names[-1] if names else ""


def _submodel(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((m for part in get_args(annotation) if (m := _submodel(part)) is not None), None)


def range_of(field: FieldInfo) -> tuple[float | None, float | None]:
    """Return the lowest and highest number that a field may hold, None where there is none."""
    bounds = {type(m).__name__: m for m in field.metadata}
    extra = field.json_schema_extra
    if isinstance(extra, dict) and "most" in extra:
        return getattr(bounds.get("Ge"), "ge", None), assumption(str(extra["most"])).typical
    return getattr(bounds.get("Ge"), "ge", None), getattr(bounds.get("Le"), "le", None)


def _allowed(model: type[BaseModel] | None, name: str) -> tuple[str, str]:
    """Say in words what a field may hold, and in which unit."""
    field = model.model_fields.get(name) if model else None
    if field is None:
        return "", ""
    bounds = {type(m).__name__: m for m in field.metadata}
    low, high = range_of(field)
    extra = field.json_schema_extra
    unit = str(extra.get("unit", "")) if isinstance(extra, dict) else ""
    if low is not None and high is not None:
        return f"{low:g} to {high:g}", unit
    words = _choices(field.annotation)
    if words:
        return "one of " + ", ".join(words), unit
    fewest, most = getattr(bounds.get("MinLen"), "min_length", 0), getattr(bounds.get("MaxLen"), "max_length", None)
    if most is not None:
        long = f"{fewest} to {most}" if fewest else f"at most {most}"
        named = " that can be seen" if "_PydanticGeneralMetadata" in bounds else ""
        return (f"text, {long} characters{named}" if field.annotation is str else f"a list, {long} entries"), unit
    return {"str": "text", "bool": "true or false"}.get(getattr(field.annotation, "__name__", ""), ""), unit


def _choices(annotation: Any) -> list[str]:
    args = get_args(annotation)
    if args and all(isinstance(a, str | int) and not isinstance(a, bool) for a in args):
        return [str(a) for a in args]
    return next((c for part in args if (c := _choices(part))), [])


def _fault(root: type[BaseModel], error: Any) -> Fault:
    """Put one finding of the validator into our words."""
    loc = error["loc"]
    model, name = _model_at(root, loc)
    field = ".".join(str(p) for p in loc) or "file"
    allowed, unit = _allowed(model, name)
    kind = error["type"]
    if kind == "extra_forbidden":
        near = difflib.get_close_matches(str(name), list(model.model_fields) if model else [], 1, 0.5)
        said = f"unknown field; did you mean {near[0]}?" if near else "unknown field"
        return Fault(field, _value(error["input"]), said)
    if kind == "missing":
        return Fault(field, "(left out)", f"must be given, {allowed}" if allowed else "must be given", unit)
    if loc and isinstance(loc[-1], int):  # an entry, not the list that it stands in
        allowed = ""
    return Fault(field, _value(error["input"]), allowed or _in_words(error), unit)


# What the validator calls its findings begins with one of these.
_KINDS = {
    "int": "a whole number",
    "string": "text",
    "date": "a date",
    "model": "a table",
    "dict": "a table",
    "tuple": "a list",
}


def _in_words(error: Any) -> str:
    """Say what may stand there where the field itself does not say it."""
    said = error.get("ctx", {})
    words = {"ge": "at least", "le": "at most", "expected": "one of"}
    bound = next((f"{word} {said[key]}" for key, word in words.items() if key in said), "")
    if error["type"] == "value_error":
        return str(said["error"])
    return bound or _KINDS.get(error["type"].split("_")[0], error["msg"])


def _by_its_entries(error: Any) -> bool:
    """Whether a list is too short only because its entries are wrong, which have faults of their own."""
    return bool(error["type"] == "too_short" and len(error["input"]) >= error["ctx"]["min_length"])


def _value(value: Any) -> str:
    if isinstance(value, dict | list):
        return f"({len(value)} entries)"
    return repr(value) if isinstance(value, str) else str(value)
