"""A wrong rule on purpose, and how to put it in place of the right one."""

from collections.abc import Callable
from dataclasses import dataclass, field

from tests.oracle import plain_course, plain_previous, plain_rules, plain_table
from tests.oracle.plain_rules import RULES


@dataclass
class Mutant:
    """One way to be wrong: it changes the plain rules, never the program.

    `patches` are functions or numbers put in place of those in the plain files; `rules` stand
    in for single rules; `change` alters the case itself.
    """

    name: str
    patches: dict = field(default_factory=dict)
    rules: dict = field(default_factory=dict)
    change: Callable = lambda case: case


def put_everywhere(monkeypatch, name, value):
    """Set a function or number in every plain file that uses it by that name."""
    for module in (plain_course, plain_previous, plain_rules, plain_table):
        if hasattr(module, name):
            monkeypatch.setattr(module, name, value)


def put_in_place(mutant, monkeypatch):
    """Set the mutant's functions, numbers and rules in the plain files until the test ends."""
    for name, value in mutant.patches.items():
        put_everywhere(monkeypatch, name, value)
    for name, rule in mutant.rules.items():
        monkeypatch.setitem(RULES, name, rule)
