"""From photos to the floor: true size, and how true.

In come photos as bytes and the cards found in them; out go cameras and cards on one floor in mm,
cards that do not fit, the paper's height, the true-size raster, and how far any point may be off at
95 %. The order is ``photo.py``, ``start.py`` (lays the cards out), ``problem.py`` (the unknowns and
their derivatives), ``solve.py``, ``uneven.py``, ``faults.py``, ``accuracy.py``. Open ``solve.py``
first.
"""

from digitize.floor.accuracy import (
    HELD_FLAT_MM,
    NORMAL_95,
    PAPER_LIFT_MM,
    RULE_READING_MM,
    Accuracy,
    Contour,
    accuracy_at,
    accuracy_contours,
)
from digitize.floor.advice import best_card_place
from digitize.floor.agreement import refuse_contradiction
from digitize.floor.camera import Camera
from digitize.floor.check import CheckDistance, Comparison, Mark, compare_checks, use_checks
from digitize.floor.crop import is_cut, may_be_cut
from digitize.floor.exif import refuse_lone_cut, refuse_open_lens, refuse_other_focal
from digitize.floor.faults import CardFault, doubt_of, solve_sound_floor
from digitize.floor.frame import Bounds, Frame, Grid, Surface
from digitize.floor.heights import solve_heights
from digitize.floor.kept import (
    KeptCamera,
    camera_from_json,
    camera_json,
    keep_camera,
    later_camera,
    lens_for,
    refuse_misfit,
)
from digitize.floor.photo import Photo, open_photo
from digitize.floor.print_size import (
    DOUBTFUL,
    MISREAD,
    WRONG,
    PrintSeen,
    ScaleSeen,
    print_doubt,
    print_of,
)
from digitize.floor.raster import (
    DARKEST,
    GAMMA,
    LOG_LIGHT,
    Choice,
    Raster,
    choose_photos,
    pixel_size_mm,
    pixels_per_mm,
    put_together,
    rectify,
    rectify_chosen,
    upright_frame,
    values_at,
    view_bounds,
)
from digitize.floor.repeats import Repeat, set_repeats_aside
from digitize.floor.rolled_ends import solve_rolled_ends
from digitize.floor.sheet_edges import SheetSeen, SheetSide, see_sheet
from digitize.floor.solve import FloorSolution, PlacedCard, PrintScale
from digitize.floor.start import View

__all__ = [
    "DARKEST",
    "DOUBTFUL",
    "GAMMA",
    "HELD_FLAT_MM",
    "LOG_LIGHT",
    "MISREAD",
    "NORMAL_95",
    "PAPER_LIFT_MM",
    "RULE_READING_MM",
    "WRONG",
    "Accuracy",
    "Bounds",
    "Camera",
    "CardFault",
    "CheckDistance",
    "Choice",
    "Comparison",
    "Contour",
    "FloorSolution",
    "Frame",
    "Grid",
    "KeptCamera",
    "Mark",
    "Photo",
    "PlacedCard",
    "PrintScale",
    "PrintSeen",
    "Raster",
    "Repeat",
    "ScaleSeen",
    "SheetSeen",
    "SheetSide",
    "Surface",
    "View",
    "accuracy_at",
    "accuracy_contours",
    "best_card_place",
    "camera_from_json",
    "camera_json",
    "choose_photos",
    "compare_checks",
    "doubt_of",
    "is_cut",
    "keep_camera",
    "later_camera",
    "lens_for",
    "may_be_cut",
    "open_photo",
    "pixel_size_mm",
    "pixels_per_mm",
    "print_doubt",
    "print_of",
    "put_together",
    "rectify",
    "rectify_chosen",
    "refuse_contradiction",
    "refuse_lone_cut",
    "refuse_misfit",
    "refuse_open_lens",
    "refuse_other_focal",
    "see_sheet",
    "set_repeats_aside",
    "solve_heights",
    "solve_rolled_ends",
    "solve_sound_floor",
    "upright_frame",
    "use_checks",
    "values_at",
    "view_bounds",
]
