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

    `key` is the public key asked for, "" for none. `missing` are files named in the record that are
    not where the others are: nothing was altered by that, and it is not all there either.
    """

    entries: int = 0
    head: str = NO_HASH
    problems: list[Problem] = field(default_factory=list)
    more_problems: int = 0
    missing: list[Problem] = field(default_factory=list)
    signatures: list[Signature] = field(default_factory=list)
    head_at: int = 0
    key: str = ""
    files_intact: int = 0
    files_not_here: int = 0
    notes: list[str] = field(default_factory=list)

    @property
    def intact(self) -> bool:
        """Whether nothing was found to be altered, and no file missing."""
        return not self.problems and not self.missing

    def tell(self, line: int, where: str, text: str) -> None:
        """Add a problem in the order of lines; past the first many they are only counted.

        What is wrong with the file as a whole stands last.
        """
        if len(self.problems) < MOST_PROBLEMS:
            self.problems.append(Problem(line, where, text))
            self.problems.sort(key=lambda problem: (problem.line == 0, problem.line))
        else:
            self.more_problems += 1


def words(result: Result, head: str = "") -> list[str]:
    """Say what was found, what that proves, and what it does not."""
    if result.problems:
        count = len(result.problems) + result.more_problems
        told = [f"ALTERED. {count} {'thing does' if count == 1 else 'things do'} not fit:"]
        told += [f"  {problem}" for problem in result.problems]
        told += [f"  and {result.more_problems} more"] if result.more_problems else []
        told += _not_here(result, "MISSING:")
        return [*told, "Nothing is proven of this record as it is. Ask for the export again, and "
                "compare."]  # fmt: skip
    told = _not_here(result, "MISSING. No entry was altered, but not all is here:")
    return [*told, *_found(result, head), *result.notes, *_proven(result, head)]


def _not_here(result: Result, lead: str) -> list[str]:
    """Say which files are missing, each with the entry that names it; empty where none is."""
    if not result.missing:
        return []
    shown = [f"  {one}" for one in result.missing[:MOST_PROBLEMS]]
    more = len(result.missing) - len(shown)
    return [lead, *shown, *([f"  and {more} more"] if more else [])]


def _found(result: Result, head: str) -> list[str]:
    what = "1 entry" if result.entries == 1 else f"{result.entries} entries"
    lead = "" if result.missing else "INTACT. "
    told = [f"{lead}The record holds {what}, each fitting the one before, up to this head:",
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
        count = result.files_not_here
        files = "1 file" if count == 1 else f"{count} files"
        told.append(f"NOT CHECKED: {files} named in the record; the folder files is not beside it.")
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
    if result.missing:
        told.append("NOT PROVEN: anything of the missing files. Ask for them; each must have the "
                    "SHA-256 that its entry names.")  # fmt: skip
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
