"""Every error that a caller meets, each with the exit code that the command line gives it.

The message of an error is meant for the user: what is wrong, and what to do about it. The first
line of each class says what it means; DEVELOPERS.md's table is made of both.
"""

from typing import ClassVar

from digitize.words import printable


class DigitizeError(Exception):
    """Something that was given cannot be used; the message says what to change."""

    exit_code: ClassVar[int] = 1

    def __init__(self, words: str = "") -> None:
        super().__init__(printable(words))


class WrongOption(DigitizeError):
    """An option, or one of the user's small files, that cannot be understood."""

    exit_code = 2


class SheetError(WrongOption):
    """Words that name no sheet metal."""


class NotRead(DigitizeError):
    """A file that cannot be read."""

    exit_code = 3


class NotWritten(DigitizeError):
    """A file or drawer that cannot be written; nothing was."""

    exit_code = 4


class PhotoError(DigitizeError):
    """A photo that cannot be used."""


class NotAPicture(PhotoError):
    """The file holds no picture."""

    exit_code = 10


class DamagedPicture(PhotoError):
    """The picture cannot be decoded to its end."""

    exit_code = 11


class TooSmall(PhotoError):
    """The picture has too few pixels to measure from."""

    exit_code = 12


class TooLarge(PhotoError):
    """The picture has more pixels than the program reads."""

    exit_code = 13


class TooDark(PhotoError):
    """There is too little light to find a card by."""

    exit_code = 14


class TooBlurred(PhotoError):
    """Nothing in the picture is sharp."""

    exit_code = 15


class NoCard(PhotoError):
    """No scale card can be read in the photo."""

    exit_code = 16


class CardsApart(PhotoError):
    """Photos share no scale card."""

    exit_code = 17


class NoPaper(PhotoError):
    """The paper cannot be told from the floor, or is not whole in the picture."""

    exit_code = 18


class NoLines(PhotoError):
    """The paper shows no pencil lines."""

    exit_code = 19


class CameraError(DigitizeError):
    """A camera that cannot be kept, or not be used for a photo."""

    exit_code = 20


class CheckError(DigitizeError):
    """A taped distance that cannot be used."""

    exit_code = 21


class RecordError(DigitizeError):
    """A file that is no record, or one of a later version than this program writes."""

    exit_code = 22


class ToldError(DigitizeError):
    """What was told does not fit the pattern."""

    exit_code = 23


class BlankError(DigitizeError):
    """What was asked of a blank does not fit the pattern."""

    exit_code = 25


class TrimOpen(BlankError):
    """The trim edge does not close, so there is no blank."""


class NotKept(DigitizeError):
    """There is no such pattern, revision or photo in the drawer or folder."""

    exit_code = 26


class DamagedKept(DigitizeError):
    """A kept file is missing or has changed."""

    exit_code = 27


class NameTaken(DigitizeError):
    """Another pattern is kept under that name, or stands in that folder."""

    exit_code = 28


class CompareError(DigitizeError):
    """Patterns that cannot be compared."""

    exit_code = 29


class PhotosDisagree(PhotoError):
    """Photos show different papers, or paper or cards that were moved between them."""

    exit_code = 32


class FormError(DigitizeError):
    """A record that does not tell how its panel bends, or no section where one was asked for."""

    exit_code = 33
