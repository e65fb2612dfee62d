"""Conversion at the edge: the library is SI inside, people read kg or lb, N or lbf or kgf, cm or feet and inches."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from ergo.errors import Fault, InputError

__all__ = [
    "DEFAULT_UNITS",
    "INCH",
    "KGF",
    "LB",
    "G",
    "Units",
    "in_notation",
    "numbers_in",
    "people_words",
    "percent",
    "writes_decimal_comma",
]

MassUnit = Literal["kg", "lb"]
ForceUnit = Literal["N", "lbf", "kgf"]
LengthUnit = Literal["cm", "ft-in"]

G = 9.80665
"""Standard acceleration of gravity [m/s²] (exact by definition, CGPM 1901)."""
LB = 0.45359237
"""International avoirdupois pound [kg] (exact by definition, 1959)."""
KGF = G
"""Kilogram-force [N]: the weight of 1 kg at G."""
INCH = 0.0254
"""Inch [m] (exact by definition, 1959)."""

_MASS = {"kg": 1.0, "lb": LB}
_FORCE = {"N": 1.0, "lbf": LB * G, "kgf": KGF}
_INCHES_PER_FOOT = 12
_LIGHT_KG = 25.0


@dataclass(frozen=True, slots=True)
class Units:
    """The units a reader chose.

    >>> Units(mass="lb").show_mass(80.0), Units(force="lbf").show_force(155.69), Units(length="ft-in").show_length(1.68)
    ('176 lb', '35 lbf', '5 ft 6 in')
    """

    mass: MassUnit = "kg"
    force: ForceUnit = "N"
    length: LengthUnit = "cm"

    def mass_value(self, mass_kg: float) -> float:
        """Convert a mass [kg] to the reader's unit."""
        return mass_kg / _MASS[self.mass]

    def mass_kg(self, value: float) -> float:
        """Convert a mass in the reader's unit to kg."""
        return value * _MASS[self.mass]

    def force_value(self, force_n: float) -> float:
        """Convert a force [N] to the reader's unit."""
        return force_n / _FORCE[self.force]

    def force_n(self, value: float) -> float:
        """Convert a force in the reader's unit to N."""
        return value * _FORCE[self.force]

    def show_mass(self, mass_kg: float) -> str:
        """Return a mass [kg] as text in the reader's unit; of a limb or a head with a digit more.

        >>> Units().show_mass(5.03), Units().show_mass(82.4)
        ('5.0 kg', '82 kg')
        """
        return f"{self.mass_value(mass_kg):.{1 if mass_kg < _LIGHT_KG else 0}f} {self.mass}"

    def show_force(self, force_n: float) -> str:
        """Return a force [N] as text in the reader's unit."""
        return f"{self.force_value(force_n):.0f} {self.force}"

    def show(self, amount: float, unit: str) -> str:
        """Return an amount of kg, N or m as text in the reader's unit, any other in its own.

        >>> Units(force="lbf").show(155.69, "N"), Units().show(37.2, "N m"), Units().show(0.516, "ratio")
        ('35 lbf', '37 N m', '0.52')
        """
        match unit:
            case "N":
                return self.show_force(amount)
            case "kg":
                return self.show_mass(amount)
            case "m":
                return self.show_length(amount)
            case "ratio":
                return f"{amount:.2f}"
        return f"{amount:.0f} {unit}"

    def show_length(self, *ends_m: float) -> str:
        """Return a length [m], or the range between two, as text in the reader's unit.

        >>> Units().show_length(0.57, 1.44), Units(length="ft-in").show_length(0.57, 1.44)
        ('57 to 144 cm', '1 ft 10 in to 4 ft 9 in')
        """
        if self.length == "cm":
            return f"{' to '.join(f'{end * 100:.0f}' for end in ends_m)} cm"
        return " to ".join(map(self._feet_and_inches, ends_m))

    def _feet_and_inches(self, length_m: float) -> str:
        inches = round(length_m / INCH)
        feet, rest = divmod(abs(inches), _INCHES_PER_FOOT)
        sign = "-" if inches < 0 else ""
        return f"{sign}{feet} ft {rest} in" if feet else f"{sign}{rest} in"


DEFAULT_UNITS = Units()


# Languages whose readers write a decimal comma, and the countries in which they do not, or in which alone they do.
_COMMA = (
    " af az be bg bs ca cs da de el es et eu fi fr gl hr hu hy id is it ka kk lt lv mk nb nl nn no pl pt ro ru sk sl "
    "sq sr sv tr uk uz vi "
)
_POINT_ALL_THE_SAME = frozenset({"de-ch", "de-li", "it-ch"})
_COMMA_IN_SPANISH = " es ar bo cl co cr ec py uy ve "


def writes_decimal_comma(locale: str | None) -> bool:
    """Return whether readers of a locale, as browsers name it, write 32,5 for thirty-two and a half.

    >>> [writes_decimal_comma(x) for x in ("de-DE", "de-CH", "es-MX", "es", "en-GB", None)]
    [True, False, False, True, False, False]
    """
    language, _, rest = (locale or "").lower().replace("_", "-").partition("-")
    region = rest.rpartition("-")[2]
    if language == "es" and region:
        return f" {region} " in _COMMA_IN_SPANISH
    return f" {language} " in _COMMA and f"{language}-{region}" not in _POINT_ALL_THE_SAME


def numbers_in(text: str, what: str = "numbers", *, decimal_comma: bool = False) -> tuple[float, ...]:
    """Return the numbers that somebody wrote in a row, with a decimal point or a decimal comma, but never with both.

    A comma between digits is a decimal comma where spaces or semicolons part the numbers, and for a reader who writes
    one (`decimal_comma`) also in a number alone. What could mean two things is asked back: "31, 33, 32,5" is three
    numbers, not four.

    >>> numbers_in("31, 33, 32.5"), numbers_in("31,5 33 32,5"), numbers_in("31,5; 33")
    ((31.0, 33.0, 32.5), (31.5, 33.0, 32.5), (31.5, 33.0))
    >>> numbers_in("32,5", decimal_comma=True)
    (32.5,)
    >>> numbers_in("31, 33, 32,5", "pulls")
    Traceback (most recent call last):
    ergo.errors.InputError: pulls has 1 fault:
      pulls = 31, 33, 32,5: numbers written in one way: 31.5, 33 or 31,5; 33
    """
    by_comma = ";" not in text and re.search(r",\s|\s,", text) is not None
    parts = re.split(
        r"\s*,\s+|\s+,\s*|\s+" if by_comma else r"\s*;\s*|\s+", text.strip(" \t\n,;" if by_comma else " \t\n;")
    )
    parts = [part for part in parts if part]
    marks = {mark for part in parts for mark in part if mark in ".,"}
    alone = len(parts) == 1 and "," in marks and ";" not in text and not decimal_comma  # 31,5: one number, or two?
    plain = all(re.fullmatch(r"[+-]?\d{1,9}(?:[.,]\d{1,9})?", part, re.ASCII) for part in parts)
    if not plain or alone or len(marks) > 1 or (by_comma and "," in marks):
        raise InputError(what, [Fault(what, text, "numbers written in one way: 31.5, 33 or 31,5; 33")])
    return tuple(float(part.replace(",", ".")) for part in parts)


def in_notation(number: str, decimal_comma: bool) -> str:
    """Return a number, written with a point, as its reader writes it.

    >>> in_notation("32.5", True), in_notation("32.5", False)
    ('32,5', '32.5')
    """
    return number.replace(".", ",") if decimal_comma else number


def people_words(number: int) -> str:
    """Return a number of people in words.

    >>> people_words(1), people_words(3)
    ('1 person', '3 people')
    """
    return "1 person" if number == 1 else f"{number} people"


def percent(probability: float, digits: int = 0) -> str:
    """Return an estimated probability as text; rounding never makes it certain or impossible.

    >>> percent(0.934), percent(0.9958), percent(1.0), percent(0.0002), percent(0.99996, 2)
    ('93 %', '>99 %', '>99 %', '<1 %', '>99.99 %')
    """
    shown, least = round(100 * probability, digits), 10.0**-digits
    if shown >= 100:
        return f">{100 - least:.{digits}f} %"
    return f"<{least:.{digits}f} %" if shown <= 0 else f"{shown:.{digits}f} %"
