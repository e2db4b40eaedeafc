"""Ed25519 in plain Python against published vectors, another implementation and forgeries."""

from __future__ import annotations

import hashlib

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from advisor.record import ed25519
from advisor.record.ed25519 import signature_fits

#: Order of the base point and the field's prime, RFC 8032 (2017), section 5.1.
L = 2**252 + 27742317777372353535851937790883648493
P = 2**255 - 19
#: RFC 8032 (2017), section 7.1, tests 1 to 3: public key, message, signature. Typed from memory;
#: that they fit is itself the check.
VECTORS = (
    ("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
     "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b4"
     "6bd25bf5f0595bbe24655141438e7a100b"),
    ("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
     "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d"
     "8c387b2eaeb4302aeeb00d291612bb0c00"),
    ("fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
     "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6"
     "594a7c15e9716ed28dc027beceea1ec40a"),
)  # fmt: skip
KEY = Ed25519PrivateKey.from_private_bytes(b"\x07" * 32)
PUBLIC = KEY.public_key().public_bytes_raw()


@pytest.mark.parametrize(("key", "message", "signature"), VECTORS)
def test_published_vectors_fit(key: str, message: str, signature: str) -> None:
    parts = [bytes.fromhex(text) for text in (key, message, signature)]
    assert signature_fits(*parts)
    assert not signature_fits(parts[0], parts[1] + b"\0", parts[2])


@given(seed=st.binary(min_size=32, max_size=32), message=st.binary(max_size=300), data=st.data())
def test_what_another_implementation_signs_fits_and_one_bit_less_does_not(
    seed: bytes, message: bytes, data: st.DataObject
) -> None:
    private = Ed25519PrivateKey.from_private_bytes(seed)
    public, signature = private.public_key().public_bytes_raw(), private.sign(message)
    assert signature_fits(public, message, signature)
    bit = data.draw(st.integers(0, 511))
    turned = (int.from_bytes(signature, "little") ^ 1 << bit).to_bytes(64, "little")
    assert not signature_fits(public, message, turned)
    bit = data.draw(st.integers(0, 255))
    other = (int.from_bytes(public, "little") ^ 1 << bit).to_bytes(32, "little")
    assert not signature_fits(other, message, signature)


def test_the_second_form_of_a_signature_does_not_fit() -> None:
    """S + L signs the same by the bare equation; RFC 8032, 5.1.7 asks for S below L."""
    signature = KEY.sign(b"gloss")
    s = int.from_bytes(signature[32:], "little")
    for again in (s + L, s + 2 * L):
        assert not signature_fits(PUBLIC, b"gloss", signature[:32] + again.to_bytes(32, "little"))
    assert not signature_fits(PUBLIC, b"gloss", signature[:32] + L.to_bytes(32, "little"))


@pytest.mark.parametrize("y", [0, 1, P - 1, P, P + 1, 2**255 - 1])
@pytest.mark.parametrize("sign", [0, 1])
def test_keys_of_small_order_and_second_forms_of_points_do_not_fit(y: int, sign: int) -> None:
    """With such a key R = S times B would sign any message."""
    body = (y | sign << 255).to_bytes(32, "little")
    for r in (body, (1).to_bytes(32, "little")):
        assert not signature_fits(body, b"anything", r + bytes(32))


def test_a_key_with_a_part_of_small_order_does_not_fit() -> None:
    """Key + a point of order 2: some messages would fit by one reader and not by another."""
    twisted = ed25519._add(ed25519._point(PUBLIC) or (), (0, P - 1, 1, 0))
    key = ed25519._bytes_of(twisted)
    seed = hashlib.sha512(b"\x07" * 32).digest()
    a = int.from_bytes(bytes([seed[0] & 248]) + seed[1:31] + bytes([seed[31] & 63 | 64]), "little")
    base = ed25519._point((4 * pow(5, P - 2, P) % P).to_bytes(32, "little")) or ()
    bare = 0
    for number in range(8):  # half of them fit the bare equation
        message = bytes([number])
        r = ed25519._bytes_of(ed25519._times(number + 5, base))
        h = int.from_bytes(hashlib.sha512(r + key + message).digest(), "little") % L
        s = (number + 5 + h * a) % L
        bare += h % 2 == 0
        assert not signature_fits(key, message, r + s.to_bytes(32, "little"))
    assert bare


@pytest.mark.parametrize("length", [0, 31, 33, 63, 65])
def test_other_lengths_do_not_fit(length: int) -> None:
    signature = KEY.sign(b"gloss")
    assert not signature_fits(PUBLIC, b"gloss", (signature + b"\0" * 64)[:length])
    assert not signature_fits((PUBLIC * 3)[:length], b"gloss", signature)
