"""The tone and its program; holding sleep off."""

from __future__ import annotations

import io
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from pytestqt.qtbot import QtBot

from advisor.ui import tone
from advisor.ui.awake import SLEEPS, Awake
from advisor.ui.sound import SILENT, Sound


def samples(kind: str) -> np.ndarray[tuple[int], np.dtype[np.int16]]:
    return np.frombuffer(tone.call(kind), dtype="<i2")


@pytest.mark.parametrize(("kind", "beeps", "every_s"), [("usual", 2, 3.0), ("urgent", 4, 1.5)])
def test_a_call_is_beeps_and_a_pause(kind: str, beeps: int, every_s: float) -> None:
    wave = samples(kind)
    assert len(wave) == int(every_s * tone.RATE_HZ)
    loud = np.abs(wave.astype(float)) > 3_000
    # A pause of more than 50 ms parts two beeps; a zero crossing is under 1 ms.
    starts = np.flatnonzero(loud)
    gaps = np.diff(starts) > 0.05 * tone.RATE_HZ
    assert gaps.sum() + 1 == beeps
    assert np.abs(wave).max() > 30_000
    assert np.abs(np.diff(wave.astype(int))).max() < 32_000  # no full-scale click
    assert wave[0] == 0
    assert not wave[-int(0.3 * tone.RATE_HZ) :].any()


@pytest.mark.parametrize("kind", ["usual", "urgent"])
def test_the_pitch_is_where_a_workshop_is_quieter(kind: str) -> None:
    """Strongest between 500 and 1 500 Hz, as an alarm is wanted (ISO 7731; from memory)."""
    wave = samples(kind).astype(float)
    strength = np.abs(np.fft.rfft(wave))
    pitch_hz = np.fft.rfftfreq(len(wave), 1 / tone.RATE_HZ)[int(strength.argmax())]
    assert 500 <= pitch_hz <= 1_500


@pytest.mark.parametrize("ask", [1, 7, 100, 250, 1_001])
def test_the_call_comes_over_and_over(ask: int) -> None:
    whole = bytes(range(200))  # 100 samples
    stream = tone.endless(whole)
    assert next(stream) == b""
    got = b"".join(stream.send(ask) for _ in range(5))
    assert got == (whole * (ask * 5 * 2 // len(whole) + 1))[: ask * 5 * 2]


class Device:
    """Stands in for a sound card."""

    def __init__(self, **asked: object) -> None:
        self.asked, self.closed = asked, False

    def start(self, stream: Iterator[bytes]) -> None:
        self.first = stream.send(512)  # type: ignore[attr-defined]

    def close(self) -> None:
        self.closed = True


def test_the_program_ends_when_its_input_is_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[Device] = []

    def device(**asked: object) -> Device:
        made.append(Device(**asked))
        return made[-1]

    card = SimpleNamespace(PlaybackDevice=device, MiniaudioError=OSError,
                           SampleFormat=SimpleNamespace(SIGNED16=2))  # fmt: skip
    monkeypatch.setitem(sys.modules, "miniaudio", card)
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    assert tone.main("usual") == 0
    assert made[0].closed
    assert len(made[0].first) == 1_024


def test_without_a_device_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(**asked: object) -> None:
        raise OSError("no device")

    card = SimpleNamespace(PlaybackDevice=none, MiniaudioError=OSError,
                           SampleFormat=SimpleNamespace(SIGNED16=2))  # fmt: skip
    monkeypatch.setitem(sys.modules, "miniaudio", card)
    assert tone.main("urgent") == tone.NO_DEVICE


def test_the_real_library_takes_the_stream() -> None:
    """Played into nothing by the library's own device for that."""
    import miniaudio

    stream = tone.endless(tone.call("urgent"))
    next(stream)
    with miniaudio.PlaybackDevice(
        output_format=miniaudio.SampleFormat.SIGNED16, nchannels=1, sample_rate=tone.RATE_HZ,
        backends=[miniaudio.Backend.NULL],
    ) as device:  # fmt: skip
        device.start(stream)
        assert device.running


def test_the_program_runs_alone() -> None:
    """As the window starts it: either it sounds until told, or there is no device."""
    done = subprocess.run([sys.executable, "-P", tone.__file__, "usual"], input=b"", timeout=60,
                          capture_output=True, check=False)  # fmt: skip
    assert done.returncode in (0, tone.NO_DEVICE), done.stderr


SOUNDS = "import sys\nsys.stdin.read()\n"
SILENCE = "import sys\nsys.exit(3)\n"


@pytest.fixture
def beeps(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    heard: list[int] = []
    monkeypatch.setattr("advisor.ui.sound.QApplication.beep", lambda: heard.append(1))
    return heard


def test_sound_stops_when_told(qtbot: QtBot, tmp_path: Path, beeps: list[int]) -> None:
    program = tmp_path / "sounds.py"
    program.write_text(SOUNDS)
    sound = Sound(program)
    sound.sound("urgent")
    process = sound._process
    assert process is not None
    sound.sound("urgent")  # the same again starts nothing
    assert sound._process is process
    assert process.poll() is None
    sound.sound("")
    qtbot.waitUntil(lambda: not sound._ending and not sound._looks.isActive(), timeout=20_000)
    assert process.returncode == 0
    assert not beeps


def test_no_device_beeps_and_says_so(qtbot: QtBot, tmp_path: Path, beeps: list[int]) -> None:
    program = tmp_path / "silence.py"
    program.write_text(SILENCE)
    sound = Sound(program)
    with qtbot.waitSignal(sound.silent, timeout=20_000) as told:
        sound.sound("usual")
    assert told.args == [SILENT]
    assert beeps == [1]
    assert sound._beeps.isActive()
    sound.sound("")
    assert not sound._beeps.isActive()


def test_no_program_beeps(qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, beeps: list[int]) -> None:
    monkeypatch.setattr(sys, "executable", "no such program")
    sound = Sound()
    with qtbot.waitSignal(sound.silent, timeout=5_000):
        sound.sound("usual")
    assert beeps == [1]
    sound.close()


def test_closing_ends_a_program_that_will_not(
    tmp_path: Path, beeps: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    program = tmp_path / "stubborn.py"
    program.write_text("import threading\nthreading.Event().wait()\n")
    monkeypatch.setattr("advisor.ui.sound.PATIENCE_S", 0.05)
    sound = Sound(program)
    sound.sound("usual")
    process = sound._process
    assert process is not None
    sound.close()
    assert process.returncode not in (None, 0)


# --- awake ----------------------------------------------------------------------------------

Mode = Callable[[], AbstractContextManager[bool]]


def mode(log: list[str], works: bool) -> Mode:
    @contextmanager
    def held() -> Iterator[bool]:
        log.append("on")
        yield works
        log.append("off")

    return held


def test_sleep_is_held_off_and_let_go(qtbot: QtBot) -> None:
    log: list[str] = []
    awake = Awake(mode(log, True))
    told: list[str] = []
    awake.failed.connect(told.append)
    for on in (True, True, False, True):
        awake.hold(on)
        qtbot.waitUntil(awake.idle, timeout=10_000)
    assert log == ["on", "off", "on"]
    awake.close()
    assert log == ["on", "off", "on", "off"]
    assert told == []


def test_failing_to_hold_sleep_off_is_told_once(qtbot: QtBot) -> None:
    awake = Awake(mode([], False))
    told: list[str] = []
    awake.failed.connect(told.append)
    for on in (True, False, True):
        awake.hold(on)
        qtbot.waitUntil(awake.idle, timeout=10_000)
    assert told == [SLEEPS]
    awake.close()


def test_a_fault_while_holding_is_told_not_raised(qtbot: QtBot) -> None:
    def broken() -> AbstractContextManager[bool]:
        raise RuntimeError("no bus")

    awake = Awake(broken)
    with qtbot.waitSignal(awake.failed, timeout=10_000) as told:
        awake.hold(True)
    assert told.args == [SLEEPS]
    awake.close()
