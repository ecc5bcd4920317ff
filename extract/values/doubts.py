"""Doubts: short sentences that give a reason to look twice, and what kind of reason it is."""

from __future__ import annotations


class Unnamed(str):
    """A doubt of the rules that only says that they found no words for what a value is of.

    Another reader that knows settles it; every other doubt stands, whoever reads.
    """

    __slots__ = ()
