"""Keys a person signs a record with: Ed25519 (RFC 8032), kept as PEM (PKCS 8) in a folder.

A key file is readable by its owner only, and may be locked with a passphrase.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.base.errors import InputError, StoreError
from advisor.base.files import whole
from advisor.record.canonical import Json
from advisor.record.chain import Head
from advisor.record.entry import Draft, line_of

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

_NAME = re.compile(r"[\w][\w .'-]{0,59}")


@dataclass(frozen=True)
class SigningKey:
    """A person's key. `public_hex` is the half that may be given to anyone: 64 hex digits."""

    name: str
    public_hex: str
    private: Ed25519PrivateKey

    def sign(self, message: bytes) -> str:
        """Return the signature of bytes, 128 hex digits."""
        return self.private.sign(message).hex()


def key_names(folder: Path) -> tuple[str, ...]:
    """Return the names of the keys in a folder."""
    return tuple(sorted(path.stem for path in folder.glob("*.pem")))


def make_key(folder: Path, name: str, passphrase: str = "") -> SigningKey:
    """Make a key under a name; InputError where the name is taken or cannot be a file name."""
    from cryptography.hazmat.primitives import serialization as form
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    path = _path(folder, name)
    if path.exists():
        raise InputError(f"key {name}: found one already; accepted: another name, or use that one")
    private = Ed25519PrivateKey.generate()
    lock: form.KeySerializationEncryption = form.NoEncryption()
    if passphrase:
        lock = form.BestAvailableEncryption(passphrase.encode())
    _write(path, private.private_bytes(form.Encoding.PEM, form.PrivateFormat.PKCS8, lock))
    return _key(name, private)


def load_key(folder: Path, name: str, passphrase: str = "") -> SigningKey:
    """Return a kept key; InputError for a wrong passphrase or a file others can read."""
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    path = _path(folder, name)
    body = _read(path, name, folder)
    try:
        private = load_pem_private_key(body, passphrase.encode() if passphrase else None)
    except TypeError as error:  # a passphrase too many or too few
        found = "no passphrase" if not passphrase else "a passphrase for a key that has none"
        raise InputError(f"key {name}: found {found}; accepted: what it was made with") from error
    except (ValueError, UnsupportedAlgorithm) as error:
        raise InputError(
            f"key {name}: found a wrong passphrase, or a file that is no key; "
            "accepted: what it was made with"
        ) from error
    if not isinstance(private, Ed25519PrivateKey):
        raise InputError(f"key {name}: found a key of another kind; accepted: Ed25519")
    return _key(name, private)


def signed(draft: Draft, key: SigningKey, end: Head, app: str) -> Draft:
    """Return the draft with key and signature over its line at the end of the record.

    The line holds the hash of the one before, so the signature covers all before it too.
    """
    data: dict[str, Json] = {**draft.data, "public_key": key.public_hex}
    line = line_of(replace(draft, data=data), end.entries + 1, end.hash, app)
    return replace(draft, data={**data, "signature": key.sign(line)})


def _key(name: str, private: Ed25519PrivateKey) -> SigningKey:
    return SigningKey(name, private.public_key().public_bytes_raw().hex(), private)


def _path(folder: Path, name: str) -> Path:
    if not _NAME.fullmatch(name):
        raise InputError(f"key: found the name {name!r}; accepted: letters, figures, spaces")
    return folder / f"{name}.pem"


def _read(path: Path, name: str, folder: Path) -> bytes:
    try:
        if os.name == "posix" and path.stat().st_mode & 0o077:
            raise InputError(f"{path}: found a key that others can read; accepted: chmod 600 on it")
        return path.read_bytes()
    except FileNotFoundError as error:
        known = ", ".join(key_names(folder)) or "none; make one first"
        raise InputError(f"key: found no {name!r}; accepted: {known}") from error
    except OSError as error:
        reason = (error.strerror or "an error").lower()
        raise InputError(f"{path}: found {reason}; accepted: a key that can be read") from error


def _write(path: Path, body: bytes) -> None:
    """Write a key that was never readable by others, whole or not at all."""
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with whole(path) as part:
            handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "wb") as file:
                file.write(body)
    except OSError as error:
        raise StoreError(
            f"{path}: the key could not be kept ({error.strerror}); allow writing, then try again."
        ) from error
