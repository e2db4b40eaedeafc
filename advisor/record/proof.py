"""What a check of a record found, and what that proves and does not, in words.

A part of the verifier that goes with an export: the standard library only, Python 3.8.
"""

from __future__ import annotations

from dataclasses import dataclass, field

NO_HASH = "0" * 64
MOST_PROBLEMS = 200


@dataclass(frozen=True)
class Problem:
    """Something that was altered. `line` counts from 1, 0 for a file; `field` "" if not known."""

    line: int
    field: str
    text: str

    def __str__(self) -> str:
        """One line for people."""
        place = f"line {self.line}" if self.line else ""
        place += f", field {self.field}" if self.field else ""
        return f"{place}: {self.text}" if place else self.text


@dataclass(frozen=True)
class Signature:
    """A signature that fits: of which entry, whose key (hex), and the name typed beside it."""

    entry: int
    key: str
    name: str


@dataclass
class Result:
    """What was found. `head_at` is the entry that has the head asked for, 0 for none.

    `key` is the public key asked for, "" for none.
    """

    entries: int = 0
    head: str = NO_HASH
    problems: list[Problem] = field(default_factory=list)
    more_problems: int = 0
    signatures: list[Signature] = field(default_factory=list)
    head_at: int = 0
    key: str = ""
    files_intact: int = 0
    files_not_here: int = 0
    notes: list[str] = field(default_factory=list)

    @property
    def intact(self) -> bool:
        """Whether nothing was found to be altered."""
        return not self.problems

    def tell(self, line: int, where: str, text: str) -> None:
        """Add a problem; past the first many they are only counted."""
        if len(self.problems) < MOST_PROBLEMS:
            self.problems.append(Problem(line, where, text))
        else:
            self.more_problems += 1


def words(result: Result, head: str = "") -> list[str]:
    """Say what was found, what that proves, and what it does not."""
    if not result.intact:
        count = len(result.problems) + result.more_problems
        told = [f"ALTERED. {count} {'thing does' if count == 1 else 'things do'} not fit:"]
        told += [f"  {problem}" for problem in result.problems]
        told += [f"  and {result.more_problems} more"] if result.more_problems else []
        return [*told, "Nothing is proven of this record as it is. Ask for the export again, and "
                "compare."]  # fmt: skip
    return [*_found(result, head), *result.notes, *_proven(result, head)]


def _found(result: Result, head: str) -> list[str]:
    what = "1 entry" if result.entries == 1 else f"{result.entries} entries"
    told = [f"INTACT. The record holds {what}, each fitting the one before, up to this head:",
            f"  {result.head}"]  # fmt: skip
    if head:
        told.append(f"The head asked for is that of entry {result.head_at}; "
                    f"{result.entries - result.head_at} came after it.")  # fmt: skip
    for one in result.signatures:
        told.append(f"Entry {one.entry} is signed beside the name {one.name}; "
                    f"{result.entries - one.entry} came after it. Key:")  # fmt: skip
        told.append(f"  {one.key}")
    if result.files_intact:
        told.append(f"Files as they were when they were entered: {result.files_intact}.")
    if result.files_not_here:
        told.append(f"NOT CHECKED: {result.files_not_here} files named in the record; the folder "
                    "files is not beside it.")  # fmt: skip
    return told


def _proven(result: Result, head: str) -> list[str]:
    told = ["PROVEN: no entry was changed, taken out, put in or moved after the one behind it was "
            "written, unless all that follow were made anew."]  # fmt: skip
    if head:
        told.append(f"PROVEN: entries 1 to {result.head_at} are those of the head asked for.")
    else:
        told.append("NOT PROVEN: that the whole was not made anew, or its end cut off. For that, "
                    "compare with a head noted elsewhere earlier: --head HASH.")  # fmt: skip
    told += _signed(result)
    return [*told, "NOT PROVEN by any of this: that what was written is true, or that the clock it "
            "was written by was right. And take this verifier from someone you trust."]  # fmt: skip


def _signed(result: Result) -> list[str]:
    """Say of each key, or of the one asked for, how far the entries are signed with it."""
    last = {one.key: one.entry for one in result.signatures}  # the latest with each key
    if not last:
        return ["NOT PROVEN: who wrote it. No entry is signed with a key."]
    if result.key in last:
        after = result.entries - last[result.key]
        told = [f"PROVEN: whoever holds the key signed entries 1 to {last[result.key]} as they "
                "stand; it is the key asked for."]  # fmt: skip
        what = "entry" if after == 1 else f"{after} entries"
        return [*told, f"NOT PROVEN by that key: the {what} after it."] if after else told
    told = [f"PROVEN: whoever holds the key{f' of entry {at}' if len(last) > 1 else ''} signed "
            f"entries 1 to {at} as they stand." for at in last.values()]  # fmt: skip
    return [*told, "Whose key it is, ask its owner; --key HEX then asks for that key."]
