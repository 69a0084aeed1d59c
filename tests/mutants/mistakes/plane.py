"""Mistakes in planar geometry and in laying marks on marks."""

POLYLINE, TURNS, SCATTER, FIT = "polyline.py", "turns.py", "scatter.py", "registration.py"

MISTAKES = [
    (POLYLINE, "out=length[..., 1:])", "out=length[..., :-1])"),
    (POLYLINE, "return float(_steps(points).sum())", "return float(_steps(points)[1:].sum())"),
    (POLYLINE, "points[:1]]) if closed else points", "points[:1]]) if not closed else points"),
    (POLYLINE, "np.linspace(0, length[-1], count + 1)", "np.arange(count) * step_mm"),
    (POLYLINE, "for step in (-reach_mm, 0.0, reach_mm)", "for step in (0.0, 0.0, reach_mm)"),
    (
        POLYLINE,
        "np.column_stack([-ahead[:, 1], ahead[:, 0]])",
        "np.column_stack([ahead[:, 1], -ahead[:, 0]])",
    ),
    (POLYLINE, "(normals[:, axis], offsets,", "(normals[:, 1 - axis], offsets,"),
    (POLYLINE, "np.arctan2(run[:, 1], run[:, 0])", "np.arctan2(run[:, 0], run[:, 1])"),
    (
        POLYLINE,
        "(one - two + np.pi / 2) % np.pi - np.pi / 2",
        "(one - two + np.pi) % (2 * np.pi) - np.pi",
    ),
    (POLYLINE, "return [(int(a), int(b)) for", "return [(int(a), int(b) - 1) for"),
    (TURNS, "one[0] * two[1] - one[1] * two[0]", "one[1] * two[0] - one[0] * two[1]"),
    (TURNS, "[[cos, -sin], [sin, cos]]", "[[cos, sin], [-sin, cos]]"),
    (TURNS, "return turn, goal - rotation(turn) @ middle", "return turn, goal - middle"),
    (SCATTER, "MEDIAN_TO_SIGMA = 1.4826", "MEDIAN_TO_SIGMA = 0.6745"),
    (SCATTER, "np.abs(values - middle)", "np.abs(values)"),
    (FIT, "HUBER = 1.345", "HUBER = 13.45"),
    (
        FIT,
        "[self.normals[:, 1], -self.normals[:, 0]]",
        "[self.normals[:, 1], self.normals[:, 0]]",
    ),
    (FIT, "_moves(points - self.middle,", "_moves(points,"),
    (FIT, "which[members] = trees[kind][found]", "which[members] = found"),
    (FIT, "members = kinds == kind", "members = kinds >= kind"),
    (FIT, "TURNS = 36", "TURNS = 1"),
    (
        FIT,
        "sigma = np.hypot(source.sigma[kept], target.sigma[which[kept]])",
        "sigma = target.sigma[which[kept]]",
    ),
    (FIT, "1.0) + EVEN) / sigma**2", "1.0) + EVEN) / sigma"),
    (FIT, "1.0) + EVEN) / sigma**2", "1.0) + EVEN) * sigma**2"),
    (FIT, "max(robust_sigma(off / sigma), 1.0)", "min(robust_sigma(off / sigma), 1.0)"),
    (FIT, "(spread**2 * TOGETHER_MM / STEP_MM)", "(spread * TOGETHER_MM / STEP_MM)"),
    (FIT, "(spread**2 * TOGETHER_MM / STEP_MM)", "(spread**2)"),
    (FIT, "TOGETHER_MM / GROWTH_SIGMA**2", "TOGETHER_MM / GROWTH_SIGMA"),
    (FIT, "moves.T @ (weight * off) - prior @ grown", "moves.T @ (weight * off)"),
    (FIT, "[[step[3], step[5]], [step[5], step[4]]]", "[[step[4], step[5]], [step[5], step[3]]]"),
    (
        FIT,
        "arms[:, 1] * normals[:, 0] + arms[:, 0] * normals[:, 1]",
        "arms[:, 0] * normals[:, 0] + arms[:, 1] * normals[:, 1]",
    ),
    (TURNS, "ring - np.roll(ring, reach, 0)", "np.roll(ring, reach, 0) - ring"),
    (TURNS, "turn == sharpest", "turn > 0"),
]
