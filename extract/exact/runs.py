"""Runs of number words cut into numbers, in each way that people mean them.

*eighteen forty-two six* is one number with its point unsaid, *two seventy-five* 275 or the second's
75, *seventy-four seventy-six seventy-five* three. What is not the likeliest cut is another reading,
or another candidate where the words differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from extract.exact.terms import Atom

# A reading of this trade has at most so many figures before its point, a counted part number more.
_LONGEST = 7
_CLOSE = 15
_GRADES = tuple(
    (low, high) for low in ("10", "15", "20", "25") for high in ("30", "40", "50", "60")
)


@dataclass(frozen=True, slots=True)
class Cut:
    """The atoms from `first` up to `last` taken as one number; `others` are other starts of it."""

    first: int
    last: int
    others: tuple[int, ...] = ()
    place_first: bool = False


def cuts(atoms: Sequence[Atom], *, pointed: bool) -> list[Cut]:
    """Cut a run of atoms into numbers; `pointed` says that figures behind a point follow it."""
    kinds = "".join(atom.kind for atom in atoms)
    n = len(atoms)
    if n == 1:
        return [Cut(0, 1)]
    if "f" in kinds:
        return _figures(atoms)
    if "c" in kinds:
        return _cardinals(atoms, pointed=pointed)
    if set(kinds) == {"d"}:
        return [_dialled(atoms, pointed=pointed)]
    if n == 2:
        return _two(atoms, kinds, pointed=pointed)
    if pointed and _length(atoms) <= _LONGEST:
        return [Cut(0, n, (1,) if kinds[0] == "d" and _is_place(atoms[0]) else ())]
    return _many(atoms, kinds)


def _length(atoms: Sequence[Atom]) -> int:
    return sum(len(atom.text) for atom in atoms)


def _is_place(atom: Atom) -> bool:
    return atom.kind == "d" and atom.text in "123456"


def _close(a: Atom, b: Atom) -> bool:
    """*seventy-four seventy-six*: two values of one kind, not the groups of one number."""
    if a.kind != "g" or b.kind != "g":
        return False
    return int(a.text) >= 24 and abs(int(a.text) - int(b.text)) <= _CLOSE


def _dialled(atoms: Sequence[Atom], *, pointed: bool) -> Cut:
    n = len(atoms)
    if n == 3 and _is_place(atoms[0]) and atoms[1].text != "0":
        return Cut(0, 3, (1,))
    if n == 2 and pointed:
        return Cut(0, 2, (1,))  # "came out at nine six point seven litres"
    if n == 2 and int(atoms[1].text) == int(atoms[0].text) + 1:
        return Cut(0, 2, (1,))  # "two three ounces"
    return Cut(0, n)


def _two(atoms: Sequence[Atom], kinds: str, *, pointed: bool) -> list[Cut]:
    if kinds == "dg":
        return [Cut(0, 2, (1,))]
    if pointed:
        return [Cut(0, 2)]
    if kinds == "gd":
        return [Cut(0, 2), Cut(0, 1)]  # "two was seventy three three was"
    if _close(*atoms):
        whole = [Cut(0, 2)] if int(atoms[0].text) < 60 else []
        return [Cut(0, 1), Cut(1, 2), *whole]
    apart = [Cut(0, 1), Cut(1, 2)] if min(int(a.text) for a in atoms) >= 40 else []
    return [Cut(0, 2), *apart]


def _figures(atoms: Sequence[Atom]) -> list[Cut]:
    """Figures stand alone; *31 20.4* may be one reading that was heard in two pieces."""
    made = [Cut(i, i + 1) for i in range(len(atoms))]
    for i in range(len(atoms) - 1):
        a, b = atoms[i].text, atoms[i + 1].text
        two = len(b.split(".")[0]) == 2 and ("." in b or b[0] == "0" or (a, b) in _GRADES)
        thousand = len(b.split(".")[0]) == 3 and "." in b  # 1 234,5
        if a.isdecimal() and len(a) <= 3 and (two or thousand):
            made.append(Cut(i, i + 2))
        if a.isdecimal() and len(a) <= 3 and thousand:
            made.remove(Cut(i, i + 1))
    return made


def _cardinals(atoms: Sequence[Atom], *, pointed: bool) -> list[Cut]:
    """A cardinal stands alone, or has one figure behind it that may be its tenth."""
    made: list[Cut] = []
    i = 0
    while i < len(atoms):
        if atoms[i].kind == "c":
            if i and atoms[i - 1].kind == "d" and len(atoms[i].text) == 3:
                made.append(Cut(i - 1, i + 1, (i,), place_first=True))  # "one two hundred"
            joined = i + 1 < len(atoms) and atoms[i + 1].kind == "d" and len(atoms[i].text) > 2
            if joined:
                made.append(Cut(i, i + 2))
            made.append(Cut(i, i + 1))
            i += 1
            continue
        k = i
        while k < len(atoms) and atoms[k].kind != "c":
            k += 1
        part = cuts(atoms[i:k], pointed=pointed and k == len(atoms))
        made += [Cut(c.first + i, c.last + i, tuple(o + i for o in c.others)) for c in part]
        i = k
    return made


def _many(atoms: Sequence[Atom], kinds: str) -> list[Cut]:
    """Three atoms or more without a pause: one meter's reading, or a list, or several things."""
    n = len(atoms)
    if _is_listed(atoms, kinds):
        listed = [
            Cut(i - 1, i + 1, (i,), place_first=True)
            if i and kinds[i - 1] == "d"
            else Cut(i, i + 1)
            for i in range(n)
            if kinds[i] == "g"
        ]
        return [Cut(0, n), *listed] if kinds == "ggd" else listed
    made: list[Cut] = []
    near = any(_close(a, b) for a, b in pairwise(atoms))
    if _length(atoms) <= 6 and (not near or kinds == "ggd"):
        made.append(Cut(0, n, (1,) if _is_place(atoms[0]) and kinds[1] in "dg" else ()))
        one = kinds in ("ggd", "dgd", "gdd") or (kinds == "gddd" and atoms[1].text == "0")
        if one and not near:
            return made
    made += [Cut(i, i + 1) for i in range(n) if kinds[i] == "g"]
    for i in range(n - 1):
        pair = atoms[i : i + 2]
        if kinds[i : i + 2] == "dg" or (kinds[i : i + 2] == "gg" and not _close(*pair)):
            made.append(Cut(i, i + 2))
        if kinds[i : i + 3] in ("ggd", "dgd") and n > 3 and not _close(*pair):
            made.append(Cut(i, i + 3))
    return made


def _is_listed(atoms: Sequence[Atom], kinds: str) -> bool:
    """*one seventy-six two seventy-five*, *seventy-four seventy-six*: a list of values."""
    groups = [atom for atom in atoms if atom.kind == "g"]
    if len(groups) < 2:
        return False
    near = all(_close(a, b) for a, b in pairwise(groups))
    if set(kinds) == {"g"}:
        return near
    places = [int(atom.text) for atom in atoms if atom.kind == "d"]
    single = "dd" not in kinds
    rising = all(a < b for a, b in pairwise(places))
    paired = kinds.startswith("dgdg") and rising
    return (
        single
        and (near or paired)
        and len(groups) >= len(places) >= 1
        and all(int(g.text) >= 24 for g in groups)
    )


def digits_of(atoms: Sequence[Atom], cut_first: int, cut_last: int) -> str:
    """Give the figures of the atoms of a cut, one behind the other."""
    return "".join(atom.text for atom in atoms[cut_first:cut_last])
