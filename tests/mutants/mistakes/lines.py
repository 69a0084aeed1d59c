"""Mistakes in where lines meet, and in what each is for."""

MISTAKES = [
    (
        "junctions.py",
        "TEE_SHORT_MM if index < curves else BAR_SHORT_MM",
        "TEE_SHORT_MM if index >= curves else BAR_SHORT_MM",
    ),
    ("junctions.py", "TEE_SHORT_MM if index < curves else BAR_SHORT_MM", "TEE_SHORT_MM"),
    (
        "junctions.py",
        "hits = [at for at in hits if at > length - TEE_OVER_MM]",
        "hits = [at for at in hits if at > length]",
    ),
    ("junctions.py", "at = min(hits, key=lambda hit: abs(hit - length))", "at = min(hits)"),
    (
        "junctions.py",
        "share = first.length / (first.length",
        "share = second.length / (first.length",
    ),
    ("junctions.py", "width=share * first.width + (1 - share) * second.width", "width=first.width"),
    (
        "junctions.py",
        "weight=share * first.weight + (1 - share) * second.weight",
        "weight=first.weight + second.weight",
    ),
    (
        "junctions.py",
        "share * first.rubbed + (1 - share) * second.rubbed",
        "first.rubbed + second.rubbed",
    ),
    (
        "junctions.py",
        "first = a if i_last else a.reversed()",
        "first = a.reversed() if i_last else a",
    ),
    (
        "junctions.py",
        "second = b.reversed() if j_last else b",
        "second = b if j_last else b.reversed()",
    ),
    (
        "junctions.py",
        "np.linalg.solve(matrix, base_b - base_a)",
        "np.linalg.solve(matrix, base_a - base_b)",
    ),
    ("junctions.py", "np.pi - np.arccos(", "np.arccos("),
    ("junctions.py", "< AT_BREAK_MM for barrier", "> AT_BREAK_MM for barrier"),
    ("junctions.py", "near <= {i, j} and len(", "near <= {i, j} or len("),
    ("roles.py", "if distances[0] < distances[1] else", "if distances[0] > distances[1] else"),
    ("roles.py", "if broken and beside > 0.4", "if broken or beside > 0.4"),
    ("roles.py", 'RoleProposal("radius-end", _sure(', 'RoleProposal("radius-start", _sure('),
    ("roles.py", "near >= max(1, (len(tips) + 1) // 2)", "near >= 1"),
    ("roles.py", "TOUCH_MM + 0.12 * depth", "TOUCH_MM"),
    ("roles.py", "out @ away > np.cos(CARRY_TURN)", "out @ away < np.cos(CARRY_TURN)"),
    ("roles.py", "np.minimum(turn, np.pi - turn) < BESIDE_TURN", "turn < BESIDE_TURN"),
    ("roles.py", "0.95 * result[j].confidence", "result[j].confidence"),
    ("roles.py", "least + (most - least) * evidence", "most - (most - least) * evidence"),
    ("roles.py", "share < 0.7 or gap < 5 or not trim", "share < 0.7 or not trim"),
    ("traces.py", "lengths.sum() / 2", "lengths.sum()"),
    (
        "traces.py",
        "min(GHOST_SHARE * usual, GHOST_WEIGHT_MM)",
        "max(GHOST_SHARE * usual, GHOST_WEIGHT_MM)",
    ),
    ("traces.py", "curve.sheen < CREASE_SHEEN", "curve.sheen < 2 * CREASE_SHEEN"),
]
