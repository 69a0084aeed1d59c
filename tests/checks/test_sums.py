"""Checksums as other programs read them.

NIST, "Secure Hash Standard", FIPS PUB 180-4, 2015, with the example published for it ("abc"), and
the line that GNU coreutils' ``sha256sum --check`` reads: sum, two spaces, name. From memory.
"""

from digitize.keep.sums import sums_in, sums_text

ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_the_published_example_stands_in_the_file_as_coreutils_reads_it():
    text = sums_text({"b/c d.svg": b"abc", "a.svg": b"abc"})
    assert text == f"{ABC}  a.svg\n{ABC}  b/c d.svg\n"
    assert sums_in(text) == {"a.svg": ABC, "b/c d.svg": ABC}
