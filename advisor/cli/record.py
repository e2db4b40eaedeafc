"""`advisor record verify|export|show|review`: the record read and given away."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from advisor.base.counting import counted
from advisor.base.errors import InputError
from advisor.base.paths import default_database, resources_dir
from advisor.base.store import Store
from advisor.cli.printing import iso, write_json, write_list
from advisor.cli.request import Call
from advisor.planning.words import Words

if TYPE_CHECKING:
    from advisor.planning.job import Area, Coat
    from advisor.record.effective import Effective
    from advisor.record.export import Exported
    from advisor.record.proof import Result
    from advisor.record.review_types import CoatReview
    from advisor.work.workbench import Workbench


@contextmanager
def opened(call: Call) -> Iterator[Workbench]:
    """Give the bench of a database that is there; InputError for one that is not."""
    from advisor.work.workbench import Workbench

    database = database_of(call)
    if not database.is_file():
        raise InputError(f"{database}: found no database; accepted: one with a job")
    with Store(database) as store:
        yield Workbench(store, resources_dir())


def database_of(call: Call) -> Path:
    """Return the database named, or the user's own."""
    return Path(call.options.database or default_database())


def words_of(call: Call, bench: Workbench) -> Words:
    """Return the reader's units, and the zone given or the job's."""
    return Words(call.options.units, zone_of(call, bench), call.now_s)


def zone_of(call: Call, bench: Workbench) -> ZoneInfo:
    """Return the zone given or the job's."""
    return call.given_zone or ZoneInfo(bench.job_in_hand().time_zone)


def refuse_unknown(option: str, wanted: str, known: Sequence[Area | Coat]) -> None:
    """InputError for an area or a coat the job does not have, naming those it has."""
    ids = [one.id for one in known]
    if wanted not in ids:
        raise InputError(f"{option}: found {wanted!r}; accepted: {', '.join(ids)}")


# --- verify ----------------------------------------------------------------------------------


def verify(call: Call) -> int:
    """Check an exported file; InputError names the first thing that does not fit or is missing."""
    from advisor.record.proof import words
    from advisor.record.verify_record import UnreadableError
    from advisor.record.verify_record import verify as check

    options = call.options
    head, key = ("".join(text.split()).lower() for text in (options.head, options.key))
    path = options.file / "record.jsonl" if options.file.is_dir() else options.file
    try:
        result = check(path, head, key)
    except UnreadableError as error:
        raise InputError(str(error)) from error
    if options.json:
        write_json(call.out, _proof_json(result))
    else:
        call.out.write("\n".join(words(result, head)) + "\n")
    if result.problems:
        raise InputError(f"{path}: altered. {result.problems[0]}")
    if result.missing:
        raise InputError(f"{path}: not altered, but not all is here. {result.missing[0]}")
    return 0


def _proof_json(result: Result) -> dict[str, object]:
    return {
        "intact": result.intact,
        "entries": result.entries,
        "head": result.head,
        "head_at": result.head_at or None,
        "problems": [
            {"line": p.line or None, "field": p.field, "text": p.text} for p in result.problems
        ],
        "more_problems": result.more_problems,
        "missing": [{"line": p.line, "text": p.text} for p in result.missing],
        "signatures": [{"entry": s.entry, "key": s.key, "name": s.name} for s in result.signatures],
        "files_intact": result.files_intact,
        "files_not_here": result.files_not_here,
        "notes": result.notes,
    }


# --- export ----------------------------------------------------------------------------------


def export(call: Call) -> int:
    """Write the record to a new file or folder; InputError where something is already."""
    with opened(call) as bench:
        done = _written(call, bench)
    if call.options.json:
        write_json(call.out, {"file": str(call.options.file), "entries": done.head.entries,
                              "head": done.head.hash, "files": done.files,
                              "missing": list(done.missing),
                              "altered": list(done.altered), "lost": done.lost})  # fmt: skip
        return 0
    entries = counted(done.head.entries, "entry", "entries")
    what = f"{entries} and {counted(done.files, 'file')}"
    call.out.write(f"{what} written to {call.options.file}\n")
    call.out.write(f"Head, to be noted elsewhere:\n  {done.head.hash}\n")
    for words in done.wrong:
        call.out.write(f"{words}\n")
    return 0


def _written(call: Call, bench: Workbench) -> Exported:
    from advisor.record.export import export_file, export_folder

    target, job = call.options.file, bench.job_in_hand().id
    alone = target.suffix.lower() == ".jsonl"
    if alone and call.options.report:
        raise InputError("--report: found a file to write to; accepted: a folder")
    bench.record.ready_to_give(call.now_s)
    if alone:
        return export_file(bench.store, job, target)
    if call.options.report:
        return bench.reporting.package(target, call.now_s)
    return export_folder(bench.store, job, target)


# --- show ------------------------------------------------------------------------------------


def show(call: Call) -> int:
    """Print entries in order, or one in full."""
    with opened(call) as bench:
        words = words_of(call, bench)
        told = _chosen(call, bench)
        head = bench.record.head()
    if call.options.json:
        entries = [_entry_json(one) for one in told]
        write_json(call.out, {"entries": entries, "count": head.entries, "head": head.hash})
    elif call.options.entry:
        call.out.write(_in_full(told[0], words))
    else:
        call.out.write("".join(_in_short(one, words) for one in told))
        count = counted(head.entries, "entry", "entries")
        call.out.write(f"{count}. Head:\n  {head.hash}\n")
    return 0


def _chosen(call: Call, bench: Workbench) -> tuple[Effective, ...]:
    from advisor.record import chain
    from advisor.record.effective import effective
    from advisor.record.kinds import kind_of

    options = call.options
    if options.entry:
        return (bench.record.told(options.entry),)
    kind = kind_of(options.kind).key if options.kind else ""
    job = bench.job_in_hand()
    if options.coat is not None:
        refuse_unknown("--coat", options.coat, job.coats)
    if options.last is not None and options.last < 1:
        raise InputError(f"--last: found {options.last}; accepted: 1 or more")
    told = effective(chain.entries(bench.store, job.id))
    chosen = [one for one in told
              if (not kind or one.entry.kind == kind)
              and (options.coat is None or one.now.coat_id == options.coat)]  # fmt: skip
    return tuple(chosen[-(options.last or len(chosen)) :])


def _entry_json(told: Effective) -> dict[str, object]:
    from advisor.record.canonical import parsed

    return {
        "hash": told.entry.hash,
        "entry": parsed(told.entry.line),
        "struck_out": told.struck_out,
        "corrections": [
            {"field": c.field, "was": c.was, "now": c.now, "reason": c.reason, "by": c.by,
             "number": c.number}
            for c in told.changes
        ],
    }  # fmt: skip


def _in_short(told: Effective, words: Words) -> str:
    from advisor.record.telling import day_and_clock, late, title

    entry, now = told.entry, told.now
    notes = [part for part in (entry.by, now.coat_id or now.area_id, late(entry)) if part]
    marks = "struck out: " if told.struck_out else ""
    line = f"{entry.number:>5}  {day_and_clock(now.at_s, words)}  {marks}{title(now, words)}"
    text = plain(f"{line} ({', '.join(notes)})" if notes else line) + "\n"
    return text + "".join(_correction(told, words))


def _correction(told: Effective, words: Words) -> list[str]:
    from advisor.record.telling import facts

    return [
        plain(f"         {fact.label}: was {was.text}, corrected by entry {was.number}, {was.by}: "
              f"{was.reason}") + "\n"
        for fact in facts(told, words)
        for was in fact.was
    ]  # fmt: skip


def _in_full(told: Effective, words: Words) -> str:
    from advisor.record.telling import facts

    lines = []
    for fact in facts(told, words):
        source = f" ({fact.source})" if fact.source else ""
        lines.append(plain(f"         {fact.label}: {fact.text}{source}") + "\n")
    hash_line = f"         Hash: {told.entry.hash}\n"
    return _in_short(told, words) + "".join(lines) + hash_line


def plain(text: str) -> str:
    """Return text that cannot write on a terminal: control characters become question marks."""
    return "".join(c if c.isprintable() else "?" for c in text)


# --- review ----------------------------------------------------------------------------------


def review(call: Call) -> int:
    """Say of each coat that is on whether what was read kept inside its limits."""
    with opened(call) as bench:
        words = words_of(call, bench)
        if call.options.coat is not None:
            coats: tuple[CoatReview, ...] = (bench.reviews.coat(call.options.coat, call.now_s),)
            problems: tuple[str, ...] = ()
        else:
            job = bench.reviews.job(call.now_s)
            coats, problems = job.coats, job.problems
    if call.options.json:
        write_json(call.out, {"coats": [_coat_json(coat, words.zone) for coat in coats],
                              "problems": list(problems)})  # fmt: skip
        return 0
    for coat in coats:
        call.out.write(plain(f"{coat.coat_name}, {coat.area_name}: {coat.summary}") + "\n")
        write_list(call.out, "", tuple(plain(note) for note in coat.notes))
    write_list(call.out, "Not known:", tuple(plain(problem) for problem in problems))
    if not coats:
        call.out.write("No coat is on yet.\n")
    return 0


def _coat_json(coat: CoatReview, zone: ZoneInfo) -> dict[str, object]:
    from advisor.cli.printing import number

    return {
        "id": coat.coat_id,
        "name": coat.coat_name,
        "area": coat.area_id,
        "standing": coat.standing,
        "summary": coat.summary,
        "started": iso(coat.started_s, zone),
        "ended": iso(coat.ended_s, zone),
        "limits": [
            {"rule": one.limit.rule, "phase": one.phase, "low": number(one.limit.low),
             "high": number(one.limit.high), "unit": one.limit.unit, "whose": one.limit.whose,
             "standing": one.standing, "worst": number(one.worst),
             "worst_at": iso(one.worst_at_s, zone), "hours_outside": number(one.hours_outside),
             "hours_known": number(one.hours_known), "hours_asked": number(one.hours_asked)}
            for one in coat.limits
        ],
        "notes": list(coat.notes),
    }  # fmt: skip
