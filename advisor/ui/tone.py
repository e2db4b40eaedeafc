"""The sound of an alarm, as a small program of its own; it ends when its input is closed.

A program of its own because a sound must go on while the window is busy, must end with it however
it ends, and because a sound card's thread must never run Python beside the window's.
Run as `python -P tone.py usual|urgent`; 0 when told to stop, 3 without a sound device.
"""

from __future__ import annotations

import sys
from collections.abc import Generator
from types import MappingProxyType

import numpy as np

RATE_HZ = 22_050
#: Two tones inside 500 to 1 500 Hz, where a workshop is quieter and older ears still hear well
#: (ISO 7731 asks for 500 to 2 500 Hz; from memory).
LOW_HZ, HIGH_HZ = 740.0, 1110.0
BEEP_S, GAP_S, EDGE_S = 0.16, 0.09, 0.008
#: Time from one call to the next, s.
EVERY_S = MappingProxyType({"usual": 3.0, "urgent": 1.5})
NO_DEVICE = 3


def call(kind: str) -> bytes:
    """Return one call and the pause after it: 16-bit samples, one channel."""
    every_s = EVERY_S[kind]
    order = (LOW_HZ, HIGH_HZ, LOW_HZ, HIGH_HZ) if kind == "urgent" else (LOW_HZ, HIGH_HZ)
    whole = np.zeros(int(every_s * RATE_HZ))
    for k, pitch_hz in enumerate(order):
        begin = int(k * (BEEP_S + GAP_S) * RATE_HZ)
        beep = _beep(pitch_hz)
        whole[begin : begin + len(beep)] = beep
    return (whole * 32_000).astype("<i2").tobytes()


def _beep(pitch_hz: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return one beep with soft edges, so that it does not click."""
    at_s = np.arange(int(BEEP_S * RATE_HZ)) / RATE_HZ
    edge = np.minimum(1.0, np.minimum(at_s, BEEP_S - at_s) / EDGE_S)
    # A third of the third harmonic carries through a wall better than a pure tone.
    wave = np.sin(2 * np.pi * pitch_hz * at_s) + np.sin(6 * np.pi * pitch_hz * at_s) / 3
    return np.asarray(wave / np.abs(wave).max() * edge)


def endless(samples: bytes) -> Generator[bytes, int, None]:
    """Yield as many samples as asked for, over and over; the first `next` yields nothing."""
    width, at = 2, 0
    wanted = yield b""
    while True:
        end = at + wanted * width
        part = samples[at:end]
        while len(part) < wanted * width:
            part += samples[: wanted * width - len(part)]
        at = end % len(samples)
        wanted = yield part


def main(kind: str) -> int:
    """Sound until the input is closed."""
    import miniaudio

    stream = endless(call(kind))
    next(stream)
    try:
        device = miniaudio.PlaybackDevice(
            output_format=miniaudio.SampleFormat.SIGNED16, nchannels=1, sample_rate=RATE_HZ
        )
        device.start(stream)
    except miniaudio.MiniaudioError:
        return NO_DEVICE
    sys.stdin.read()
    device.close()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
