"""Whether a picture is all that its camera took, or a part of it that somebody cut out.

A cut moves the principal point away from the picture's middle and makes the focal length larger
beside the picture's size, so that neither is what EXIF or a usual phone says. A copy that was only
made smaller keeps its proportion. EXIF holds the size at which a picture was taken; programs that
edit pictures often leave it as it was.
"""

from digitize.floor.camera import turned_size
from digitize.floor.start import View

# Of phones' and cameras' sensors and of what is made of their whole width; common practice, no
# source. Sizes in whole blocks of pixels come to within a percent of them.
USUAL_PROPORTIONS = 4 / 3, 3 / 2, 16 / 9
SAME_PROPORTION = 0.01


def proportion(size_px: tuple[int, int]) -> float:
    """A picture's longer side over its shorter one, so that turning it changes nothing."""
    return max(size_px) / min(size_px)


def is_cut(view: View) -> bool:
    """Whether EXIF shows that a picture was cut: its proportion is not the one it was taken in."""
    return view.taken_px is not None and not _same(
        proportion(view.size_px), proportion(view.taken_px)
    )


def may_be_cut(view: View) -> bool:
    """Whether a picture was cut, or is of no camera's proportion.

    Square pictures are usually cut for showing them around; phones take them too, and say so.
    """
    shape = proportion(view.size_px)
    usual = any(_same(shape, each) for each in USUAL_PROPORTIONS)
    square = view.taken_px is not None and _same(shape, 1.0)
    return is_cut(view) or not (usual or square)


def told_cut(view: View) -> str:
    """What EXIF says of a picture that is cut, in words, turned as the picture is."""
    taken = view.taken_px or view.size_px
    across, down = turned_size(taken, view.quarter_turns)
    return (
        f"the picture is {view.size_px[0]} x {view.size_px[1]} px, and EXIF says that it was taken "
        f"at {across} x {down} px, another shape: it was cropped"
    )


def _same(shape: float, other: float) -> bool:
    return abs(shape / other - 1) <= SAME_PROPORTION
