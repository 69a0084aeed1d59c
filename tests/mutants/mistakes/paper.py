"""Mistakes in telling the paper from the floor, and in placing its edge."""

MISTAKES = [
    (
        "edge.py",
        "np.stack([tangent[:, 1], -tangent[:, 0]]",
        "np.stack([-tangent[:, 1], tangent[:, 0]]",
    ),
    (
        "edge.py",
        "points = points + _outward(points) * _edge_offset(",
        "points = points - _outward(points) * _edge_offset(",
    ),
    ("edge.py", "if not shape.exterior.is_ccw:", "if shape.exterior.is_ccw:"),
    ("edge.py", "+ 1] - step / 2", "+ 1] + step / 2"),
    ("edge.py", "np.argmin(cost, axis=1) + 1]", "np.argmin(cost, axis=1)]"),
    ("edge.py", "(3 * inner + outer)", "(inner + 3 * outer)"),
    ("edge.py", "rest**2 / (len(along) - count)[:, None]", "rest**2 / len(along)"),
    (
        "edge.py",
        "LOOKS_A_MM * (2 * looks - looks[:, -1:])",
        "LOOKS_A_MM * (looks[:, -1:] - 2 * looks)",
    ),
    ("edge.py", "(sign * mean > LEAST_LIKELY)", "(mean > LEAST_LIKELY)"),
    (
        "edge.py",
        "signs.step & signs.within & signs.beyond",
        "signs.step | signs.within & signs.beyond",
    ),
    ("edge.py", "_share_borne_out(borne_out) < 0.5", "_share_borne_out(borne_out) > 0.5"),
    (
        "edge.py",
        "at + way * (_cross(there - at, other) / lean)",
        "at - way * (_cross(there - at, other) / lean)",
    ),
    (
        "edge.py",
        "a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]",
        "a[..., 0] * b[..., 1] + a[..., 1] * b[..., 0]",
    ),
    ("edge.py", "if turn < MOST_TURN_DEG and aside", "if aside"),
    ("edge.py", "start + share * (end - start), True", "start - share * (end - start), True"),
    (
        "edge.py",
        "points_of(places[near]), LinearRing(ring)",
        "points_of(places[near] + 50), LinearRing(ring)",
    ),
    ("looks.py", "0.9 * floor.as_thing + STRANGE", "0.9 * floor.as_thing + LEAST"),
    ("looks.py", "/ (paper.as_thing + LEAST))", "* (paper.as_thing + LEAST))"),
    ("looks.py", "/ (paper.as_lit + LEAST)) - thing", "/ (paper.as_lit + LEAST))"),
    ("looks.py", "np.where(burnt, 0, both)", "both"),
    ("looks.py", "lit /= max(len(flat), 1)", "lit *= 1"),
    (
        "looks.py",
        "kept &= np.abs(looks.cells[axis] - cell) <= reach_cells",
        "kept &= looks.cells[axis] - cell <= 40",
    ),
    (
        "cut.py",
        "paper.sum() * mm_per_px**2 < LEAST_AREA_MM2",
        "paper.sum() * mm_per_px**2 < LEAST_AREA_MM2 / 100",
    ),
    (
        "cut.py",
        "if (paper & ~inside(scene.seen, 1)).any():",
        "if (paper & ~inside(scene.seen, 1)).all():",
    ),
    ("cut.py", "paper + step * (inflow - floor_like)", "paper + step * (inflow + floor_like)"),
    (
        "cut.py",
        "coarse.left + middle, coarse.top - middle",
        "coarse.left - middle, coarse.top + middle",
    ),
    (
        "cut.py",
        "np.array([part[1].start, part[0].start])",
        "np.array([part[0].start, part[1].start])",
    ),
    ("cut.py", "floor_like[scene.cards] = MOST_LIKELY", "floor_like[scene.cards] = -MOST_LIKELY"),
    (
        "cut.py",
        "np.maximum(scene.of_rim.as_thing, of_paper.as_thing) < STRANGE",
        "of_paper.as_thing < STRANGE",
    ),
]
