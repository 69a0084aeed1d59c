"""Mistakes in what is told, in replaying it, and in carrying it over to a new reading."""

CARRY, LABELS, TUCKS, LINES = "carry.py", "labels.py", "tucks.py", "lines.py"
PLACES, MEASURED, ABOUT = "places.py", "measured.py", "about.py"

MISTAKES = [
    (
        CARRY,
        "laid_on(same_paper(old), same_paper(new))",
        "laid_on(same_paper(new), same_paper(old))",
    ),
    (CARRY, "round(value + turn, 6)", "round(value - turn, 6)"),
    (CARRY, "onto.matrix[1, 0], onto.matrix[0, 0]", "onto.matrix[0, 0], onto.matrix[1, 0]"),
    (CARRY, 'if station.evidence == "entered"', "if station"),
    (CARRY, 's.evidence != "entered"', "s.evidence"),
    (LABELS, "place * length if is_share else place", "place"),
    (LABELS, "if not 0 <= along <= length + 1e-6:", "if not 0 <= along <= 2 * length:"),
    (LABELS, "if not 0 <= along <=", "if not along <="),
    (LABELS, '"note": fact.words or None', '"note": fact.words'),
    (LABELS, '"radius": whole,', '"radius": line.radius,'),
    (LABELS, "max(x0 - x, x - x1, y0 - y, y - y1, 0.0)", "max(x0 - x, y0 - y, 0.0)"),
    (TUCKS, "tuck.depth_at_trim if depth is None", "slit.length if depth is None"),
    (TUCKS, "if not 0 < depth <= slit.length:", "if not 0 < depth <= 2 * slit.length:"),
    (TUCKS, "if not 0 < depth <= slit.length:", "if not 0 < abs(depth) <= slit.length:"),
    (TUCKS, 'if station.evidence != "entered"]', "if station]"),
    (
        TUCKS,
        'as_read: TuckKind = "fold" if slit.role == "crease" else "slit"',
        'as_read: TuckKind = "slit" if slit.role == "crease" else "fold"',
    ),
    (TUCKS, "for station in entered) < 0", "for station in entered) > 0"),
    (TUCKS, "return line if first >= last else", "return line if first <= last else"),
    (TUCKS, "- marks\n", "\n"),
    (LINES, "RadiusAt(along=at, radius=radius) for", "RadiusAt(along=0.0, radius=radius) for"),
    (LINES, "if path.distance(place) < RADIUS_MM", "if True"),
    (LINES, "further = two.points if other == 0", "further = two.points if other == -1"),
    (LINES, "nearest_end(line, fact.at) == -1", "nearest_end(line, fact.at) == 0"),
    (LINES, "kept if last else kept[::-1]", "kept"),
    (LINES, "if not LEAST_MM < at < path.length - LEAST_MM:", "if not 0 < at:"),
    (LINES, "for tuck in gone}", "for tuck in ()}"),
    (PLACES, "LEAST_SHARE = 0.6", "LEAST_SHARE = 0.06"),
    (PLACES, "if off > NEAR_MM:", "if off > 10 * NEAR_MM:"),
    (PLACES, "> NEW_SHARE * there.sum()", ">= 0"),
    (MEASURED, "(path.dwithin(slit, BESIDE_MM) for path in paths)", "(False for path in paths)"),
    (MEASURED, "reading.stations, *entered]", "reading.stations]"),
    (MEASURED, 'update={"stations": tuple(entered)', 'update={"stations": tuck.stations'),
    (
        ABOUT,
        "HELD_FLAT_MM / PAPER_LIFT_MM if held_flat",
        "PAPER_LIFT_MM / HELD_FLAT_MM if held_flat",
    ),
    (ABOUT, "scale.accuracy_mm**2 + off", "scale.accuracy_mm**2 - off"),
    (ABOUT, "if left or (lines and not each.lines):", "if True:"),
]
