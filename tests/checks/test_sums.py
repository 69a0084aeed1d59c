"""Checksums against the published examples for SHA-256.

NIST, "Secure Hash Standard", FIPS PUB 180-4, 2015, and the examples published with it ("SHA-256",
Cryptographic Standards and Guidelines: Examples with Intermediate Values): one block, two blocks;
of its predecessor FIPS 180-2, appendix B.3, a million letters; and the empty message of NIST's
validation vectors for it. The values are from memory.
"""

import pytest

from digitize.keep.sums import sha256, sums_in, sums_text

VECTORS = {
    b"": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    b"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq": (
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
    ),
    b"a" * 1_000_000: "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
}


@pytest.mark.parametrize("message", VECTORS, ids=lambda message: f"{len(message)} bytes")
def test_published_examples(message):
    assert sha256(message) == VECTORS[message]
    assert sums_in(sums_text({"a b/c.svg": message})) == {"a b/c.svg": VECTORS[message]}
