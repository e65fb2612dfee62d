"""Files of the largest size that are made to take long or much memory, and a process that reads them all.

Run as a script with `shapes` or a number of seeds: prints the longest time [s] and the most memory [MB] it took.
"""

from __future__ import annotations

import contextlib
import random
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path

HEAD = "mass [kg],sex,stature [cm],dependency,procedures\n"
ROW = "82.5,F,165.0,partial,boost / limb hold"

TOML: dict[str, Callable[[], str]] = {
    "one dotted key, by the separator of lines": lambda: "a" + ".\u2028a" * 20_000 + " = 1",
    "one dotted key, by the next line": lambda: '"\u0085"' + "\u0085.a" * 20_000 + " = 1",
    "quoted dotted keys": lambda: ('"a"' + ".'b'" * 400 + " = 1\n") * 180,
    "dotted headers": lambda: ("[a" + ".b" * 900 + "]\n") * 150,
    "dotted keys in inline tables": lambda: "x = [" + ("{a" + ".b" * 900 + " = 1},\n") * 150 + "]",
    "dotted keys behind a string": lambda: 'x = """"a"""""\n' + ("a" + ".b" * 900 + " = 1\n") * 150,
    "keys": lambda: "".join(f"k{i}=1\n" for i in range(33_000)),
    "tables": lambda: "".join(f"[k{i}]\n" for i in range(33_000)),
    "tables, deep": lambda: "".join(f"[k{i}.b.c.d.e.f.g.h]\n" for i in range(13_000)),
    "entries": lambda: "[[a]]\n" * 49_000,
    "entries, deep": lambda: "[[a.b.c.d.e.f.g.h]]\nb.c.d.e.f.g=1\n" * 8_900,
    "brackets": lambda: "a=" + "[\n" * 149_000,
    "lists": lambda: "a=[" + "[],\n" * 74_000 + "]",
    "inline tables": lambda: "a=[" + "{a.b.c.d.e.f.g.h=1},\n" * 14_000 + "]",
    "escapes": lambda: 's="""' + "\\n\n" * 99_000 + '"""',
    "quotation marks": lambda: ('"' + '\\"' * 990 + "\n") * 150,
    "a string not closed": lambda: "a='''" + "x'\n" * 99_000,
    "numbers": lambda: "a=[" + ("1.5," * 400 + "\n") * 170 + "]",
    "digits": lambda: "a=[" + ("9" * 1900 + ",\n") * 150 + "]",
    "comments": lambda: "#\n" * 149_000,
    "lines": lambda: "\n" * 299_000,
}
CENSUS: dict[str, Callable[[], str]] = {
    "all rows": lambda: HEAD + (ROW + "\n") * 100_000,
    "all rows wrong": lambda: HEAD + "9,x,1,q,w\n" * 100_000,
    "a wide head": lambda: HEAD.strip() + ",a" * 2_400_000,
    "columns": lambda: "mass," * 999_000,
    "a wide row": lambda: HEAD + ROW + ",ab" * 1_600_000,
    "one row over many lines": lambda: HEAD + ROW + ',"\n"' * 1_200_000,
    "lines": lambda: HEAD + "\n" * 4_900_000,
    "empty cells": lambda: HEAD + ",,,,\n" * 990_000,
    "quotation marks": lambda: HEAD + '"\n' * 2_400_000,
    "procedures": lambda: HEAD + ("82.5,F,165,full," + "a/" * 900 + "\n") * 2_700,
    "four bytes a character": lambda: HEAD + ("82.5,F,165,full," + "\U0001f600" * 400 + "\n") * 3_000,
}
_PIECES = (
    *'.,"\'=[]{}#\\ab1- ', "\n", "\r\n", "\r", "\u2028", "\u0085", '"""', "'''", "a.b", "[[a]]", "a = 1\n", "1.5",
    "nan", "0x", "\\u0041", "{a=1}", "\x00", "\U0001f600", "name = ", "[patient]\n",
)  # fmt: skip


def random_shape(seed: int, size: int) -> str:
    """Return a few pieces over and over, broken into lines here and there."""
    rng = random.Random(seed)
    part = "".join(rng.choice(_PIECES) for _ in range(rng.randrange(1, 8)))
    line = part * rng.randrange(1, 1500 // len(part)) + rng.choice(["", "\n", "\n", " = 1\n"])
    return rng.choice(["", 'a = """', "a = [", "a = '", '"', HEAD]) + line * (size // len(line.encode()))


def most_memory() -> float:
    """Return the most memory [MB] that this program took; the system's own count begins with its parent's."""
    (line,) = [x for x in Path("/proc/self/status").read_text().splitlines() if x.startswith("VmHWM")]
    return float(line.split()[1]) / 1024


def main(which: str) -> None:
    """Read every shape with every reader; print the longest time and the most memory."""
    from ergo.errors import InputError
    from ergo.inputs import census, purchase, scenario, schema, unit

    readers: tuple[Callable[[bytes], object], ...] = (
        scenario.read_scenario, unit.read_unit, purchase.read_purchase, census.read_census
    )  # fmt: skip

    def files() -> Iterable[tuple[str, Callable[[bytes], object], str]]:
        if which == "shapes":
            yield from ((name, readers[i % 3], make()) for i, (name, make) in enumerate(TOML.items()))
            yield from ((name, readers[3], make()) for name, make in CENSUS.items())
            return
        for seed in range(int(which)):
            largest = census.LARGEST_FILE if seed % 4 == 3 else schema.LARGEST_FILE
            yield f"seed {seed}", readers[seed % 4], random_shape(seed, largest)

    longest, slowest = 0.0, ""
    for name, read, text in files():
        raw = text.encode()
        began = time.process_time()
        with contextlib.suppress(InputError):
            read(raw)
        took = time.process_time() - began
        if took > longest:
            longest, slowest = took, name
    print(f"{longest:.2f} {most_memory():.0f} {slowest}")


if __name__ == "__main__":
    main(sys.argv[1])
