"""Ed25519 signatures checked in plain Python, after RFC 8032 (2017), section 5.1.

A part of the verifier that goes with an export: the standard library only, Python 3.8.
"""

from __future__ import annotations

import hashlib

_P = 2**255 - 19
_L = 2**252 + 27742317777372353535851937790883648493
_D = -121665 * pow(121666, _P - 2, _P) % _P
_ROOT = pow(2, (_P - 1) // 4, _P)
_ZERO = (0, 1, 1, 0)


def _add(a: tuple[int, ...], b: tuple[int, ...]) -> tuple[int, ...]:
    """Add two points in extended coordinates (X, Y, Z, T)."""
    e = (a[1] - a[0]) * (b[1] - b[0]) % _P
    f = (a[1] + a[0]) * (b[1] + b[0]) % _P
    g, h = 2 * a[3] * b[3] * _D % _P, 2 * a[2] * b[2] % _P
    w, x, y, z = f - e, h - g, h + g, f + e
    return w * x % _P, y * z % _P, x * y % _P, w * z % _P


def _times(number: int, point: tuple[int, ...]) -> tuple[int, ...]:
    found: tuple[int, ...] = _ZERO
    while number:
        if number & 1:
            found = _add(found, point)
        point, number = _add(point, point), number >> 1
    return found


def _point(body: bytes) -> tuple[int, ...] | None:
    """Return the point of 32 bytes; None for bytes that are no point or not its one form."""
    y = int.from_bytes(body, "little")
    sign, y = y >> 255, y & ((1 << 255) - 1)
    if y >= _P:
        return None
    square = (y * y - 1) * pow(_D * y * y + 1, _P - 2, _P) % _P
    x = pow(square, (_P + 3) // 8, _P)
    if (x * x - square) % _P:
        x = x * _ROOT % _P
    if (x * x - square) % _P or (x == 0 and sign):
        return None
    x = _P - x if x & 1 != sign else x
    return x, y, 1, x * y % _P


def _bytes_of(point: tuple[int, ...]) -> bytes:
    inverse = pow(point[2], _P - 2, _P)
    x, y = point[0] * inverse % _P, point[1] * inverse % _P
    return (y | (x & 1) << 255).to_bytes(32, "little")


def signature_fits(key: bytes, message: bytes, signature: bytes) -> bool:
    """Return whether an Ed25519 signature is by a key; second forms and weak keys do not fit."""
    base = _point((4 * pow(5, _P - 2, _P) % _P).to_bytes(32, "little"))
    point = _point(key) if len(key) == 32 and len(signature) == 64 else None
    s = int.from_bytes(signature[32:], "little")
    if base is None or point is None or s >= _L:
        return False
    if point == _ZERO or _bytes_of(_times(_L, point)) != _bytes_of(_ZERO):
        return False  # a key with a part of small order may "sign" what nobody signed
    hashed = hashlib.sha512(signature[:32] + key + message).digest()
    away = _times(_L - int.from_bytes(hashed, "little") % _L, point)
    return _bytes_of(_add(_times(s, base), away)) == signature[:32]
