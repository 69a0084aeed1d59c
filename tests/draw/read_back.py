"""An SVG's words and shapes with their places in mm, read back by svgelements."""

import io

import svgelements


def read(text):
    return svgelements.SVG.parse(io.StringIO(text), ppi=25.4, reify=True)


def words_at(svg):
    """Where each piece of text stands; the last of those that say the same."""
    return {e.text: (e.x, e.y) for e in svg.elements() if isinstance(e, svgelements.Text)}


def texts(svg):
    """Each piece of text and its place, in order."""
    return [(e.text or "", e.x, e.y) for e in svg.elements() if isinstance(e, svgelements.Text)]


def within(svg, name):
    """What stands in a group."""
    group = next(e for e in svg.elements() if isinstance(e, svgelements.Group) and e.id == name)
    return list(group.select())


def polylines(elements):
    """The corners of each polyline, and of each path that is one, by its stroke's colour."""
    return [
        (str(e.stroke), [(p.x, p.y) for p in e])
        for e in elements
        if isinstance(e, svgelements.Polyline)
    ]


def row_at(svg, heads, first):
    """The cells of a table's row by their heads, which stand at the same places over them."""
    found = texts(svg)
    y = [y for text, _, y in found if text == first][-1]
    cells = {round(x, 2): text for text, x, at in found if abs(at - y) < 0.01}
    columns = {}
    for head in heads:
        x = next(x for text, x, at in found if text == head and at < y)
        columns[head] = cells.get(round(x, 2))
    return columns
