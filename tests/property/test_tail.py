"""Whatever happens to a log under the watcher, every whole line comes once."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

from hypothesis import example, given
from hypothesis import strategies as st

from advisor.climate.live.sensor import Sensor
from advisor.climate.live.tail import Tail, TailState

START_S = 1_795_000_000
HEADER = "time,Temp (°C),RH (%)\n"
STEPS = ("grow", "half", "poll", "rename", "copy and cut", "rewrite", "vanish", "restart", "shrink")


class Log:
    """A logger's file, and what whole rows it ever wrote."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "shed.csv"
        self.rows = 0
        self.rest = ""
        self.old = 0
        self.path.write_text(HEADER, encoding="utf-8")

    def line(self) -> str:
        self.rows += 1
        return f"{START_S + 60 * self.rows},{10 + self.rows % 7 / 10:.1f},{60 + self.rows % 5}\n"

    def write(self, text: str) -> None:
        with self.path.open("a", encoding="utf-8") as file:
            file.write(text)

    def close_line(self) -> None:
        self.write(self.rest)
        self.rest = ""

    def do(self, step: str, count: int) -> None:
        if step == "half":
            self.close_line()
            line = self.line()
            cut = min(count, len(line) - 1)
            self.write(line[:cut])
            self.rest = line[cut:]
            return
        self.close_line()
        if step == "grow":
            self.write("".join(self.line() for _ in range(count)))
        elif step == "rename":
            self.old += 1
            os.rename(self.path, self.path.with_name(f"shed.csv.{self.old}"))
            self.path.write_text(HEADER, encoding="utf-8")
        elif step == "copy and cut":
            self.old += 1
            shutil.copyfile(self.path, self.path.with_name(f"shed.csv.{self.old}"))
            self.path.write_text(HEADER, encoding="utf-8")
        elif step == "shrink":
            lines = self.path.read_text(encoding="utf-8").splitlines(keepends=True)
            self.path.write_text("".join(lines[: max(1, len(lines) - count)]), encoding="utf-8")
        elif step == "rewrite":
            part = self.path.with_name("part")
            shutil.copyfile(self.path, part)
            os.replace(part, self.path)


def fresh(folder: Path, state: TailState) -> Tail:
    return Tail(Sensor("shed", "Shed", "file", path=str(folder / "shed.csv")), state, "UTC")


def poll(tail: Tail) -> list[int]:
    taken = tail.take(START_S + 1e6)
    tail.keep(taken)
    found = [int(t) for part in taken.parts for t in part.table.time_s]
    return found + (poll(tail) if taken.more else [])


@given(
    st.lists(st.tuples(st.sampled_from(STEPS), st.integers(1, 12)), max_size=25),
    st.sampled_from([0, 300]),  # 300 rows are longer than the beginning that tells files apart
)
@example([("shrink", 5), ("grow", 2)], 300)
def test_rows_in_are_rows_out(steps: list[tuple[str, int]], rows: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        log, got = Log(folder), []
        log.write("".join(log.line() for _ in range(rows)))
        tail = fresh(folder, TailState())
        got += poll(tail)
        for step, count in steps:
            if step == "poll":
                got += poll(tail)
            elif step == "restart":
                tail = fresh(folder, tail.state)
            elif step == "vanish":
                away = folder.with_name(folder.name + "-away")
                os.rename(folder, away)
                got += poll(tail)
                os.rename(away, folder)
            else:
                if step == "shrink":  # what was never seen of a part cut off is gone
                    log.close_line()
                    got += poll(tail)
                log.do(step, count)
        log.close_line()
        got += poll(tail)
    whole = [START_S + 60 * k for k in range(1, log.rows + 1)]
    # Only a log cut shorter is read again: what is kept already is told apart by its rows.
    again = any(step == "shrink" for step, _ in steps)
    assert (sorted(set(got)) if again else got) == whole
