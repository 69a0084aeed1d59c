"""Writers: a record, and what was worked out of it, as SVG, DXF, PDF and pictures.

In come records, blanks, punch points, tables and fields in mm; out go texts and bytes. They compute
nothing that ends on metal. A new format is a file here, and a line in ``jobs/draw.py``. Open
``svg.py`` first.
"""

from typing import TYPE_CHECKING

from digitize.loading import on_use

if TYPE_CHECKING:
    from digitize.draw.bands import bands_svg
    from digitize.draw.closed import closed_svg
    from digitize.draw.compared import compared_svg
    from digitize.draw.contact import Shown, contact_pdf
    from digitize.draw.dxf import pattern_dxf
    from digitize.draw.form import ShownForm, form_sheets, picture_png, size_words
    from digitize.draw.gauges import gauges_dxf, gauges_pdf
    from digitize.draw.job import Job, job_of, job_pdf
    from digitize.draw.model import Model, model_glb, model_stl
    from digitize.draw.overlay import overlay_picture, smaller
    from digitize.draw.pdf import drawing_of, pages_pdf, tiles_pdf, whole_pdf
    from digitize.draw.shrink import shrink_svg
    from digitize.draw.style import CAUTION, STYLES, WITHDRAWN, LineStyle
    from digitize.draw.svg import page_for, pattern_svg

__all__ = [
    "CAUTION",
    "STYLES",
    "WITHDRAWN",
    "Job",
    "LineStyle",
    "Model",
    "Shown",
    "ShownForm",
    "bands_svg",
    "closed_svg",
    "compared_svg",
    "contact_pdf",
    "drawing_of",
    "form_sheets",
    "gauges_dxf",
    "gauges_pdf",
    "job_of",
    "job_pdf",
    "model_glb",
    "model_stl",
    "overlay_picture",
    "page_for",
    "pages_pdf",
    "pattern_dxf",
    "pattern_svg",
    "picture_png",
    "shrink_svg",
    "size_words",
    "smaller",
    "tiles_pdf",
    "whole_pdf",
]

# Each is loaded when it is first used: what reads a photo, or is told, writes no DXF, PDF or glTF.
_HOMES = {
    ".bands": ("bands_svg",),
    ".closed": ("closed_svg",),
    ".compared": ("compared_svg",),
    ".contact": ("Shown", "contact_pdf"),
    ".dxf": ("pattern_dxf",),
    ".form": ("ShownForm", "form_sheets", "picture_png", "size_words"),
    ".gauges": ("gauges_dxf", "gauges_pdf"),
    ".job": ("Job", "job_of", "job_pdf"),
    ".model": ("Model", "model_glb", "model_stl"),
    ".overlay": ("overlay_picture", "smaller"),
    ".pdf": ("drawing_of", "pages_pdf", "tiles_pdf", "whole_pdf"),
    ".shrink": ("shrink_svg",),
    ".style": ("CAUTION", "STYLES", "WITHDRAWN", "LineStyle"),
    ".svg": ("page_for", "pattern_svg"),
}


def __dir__() -> list[str]:
    return __all__


__getattr__ = on_use(__name__, _HOMES)
