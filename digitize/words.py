"""Words that anyone may have written, as they can be shown on a terminal, in XML and on paper."""


def printable(words: str) -> str:
    """Words in one line without control characters: spaces for line ends, the rest escaped.

    Also escaped is what stands for a byte of a file's name that is no UTF-8 (PEP 383).
    """
    if words.isprintable():
        return words
    return "".join(
        sign
        if sign.isprintable()
        else " "
        if sign.isspace()
        else sign.encode("unicode_escape").decode()
        for sign in words
    )
