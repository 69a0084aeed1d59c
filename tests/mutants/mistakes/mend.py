"""Mistakes in what is told and in carrying it over to a new reading."""

CARRY, LABELS, SPREAD = "carry.py", "labels.py", "spread.py"

MISTAKES = [
    (CARRY, "places = onto(_places(line))", "places = _places(line)"),
    (
        CARRY,
        "laid_on(same_paper(old), same_paper(new))",
        "laid_on(same_paper(new), same_paper(old))",
    ),
    (CARRY, "LEAST_SHARE = 0.6", "LEAST_SHARE = 0.06"),
    (CARRY, "SAME_TIP_MM = 6.0", "SAME_TIP_MM = 60.0"),
    (CARRY, 'update={"sheet": old.sheet}', "update={}"),
    (CARRY, "onto(np.array([spread.tip]))[0]", "np.array(spread.tip)"),
    (CARRY, 'for s in spread.stations if s.evidence == "entered"', "for s in spread.stations"),
    (CARRY, "[*tuck.stations, *entered]", "[*entered]"),
    (CARRY, "is not None or line.radii or", "is not None or"),
    (CARRY, "line.radii or line.note is not None", "line.radii"),
    (CARRY, "ends[0] <= ends[1]", "ends[0] >= ends[1]"),
    (CARRY, "s.along if same_way else max(length - s.along, 0.0)", "s.along"),
    (CARRY, '"radius": line.radius}', '"radius": twin.radius}'),
    (CARRY, '{"role": line.role, "role_by": "told"', '{"role": twin.role, "role_by": "told"'),
    (CARRY, "        len(spreads),", "        sum(tuck.kind == 'spread' for tuck in tucks),"),
    (LABELS, "place * length if is_share else place", "place"),
    (LABELS, '{"radius": float(radii), "radii": ()}', '{"radius": float(radii)}'),
    (LABELS, '{"radius": None, "radii": tuple', '{"radii": tuple'),
    (LABELS, "if not 0 <= along <= length + 1e-6:", "if not 0 <= along <= 2 * length:"),
    (LABELS, "if not 0 <= along <=", "if not along <="),
    (LABELS, "notes[line.id] or None", "notes[line.id]"),
    (LABELS, "return derived(\n        pattern.model_copy", "return (\n        pattern.model_copy"),
    (SPREAD, "lap=-gap", "lap=gap"),
    (SPREAD, "tuck.depth_at_trim if depth is None", "slit.length if depth is None"),
    (SPREAD, "if not 0 < at <= slit.length:", "if not 0 < at <= 2 * slit.length:"),
    (SPREAD, "if not 0 < at <= slit.length:", "if not 0 < abs(at) <= slit.length:"),
    (SPREAD, 'if station.evidence != "entered"', "if station"),
    (
        SPREAD,
        '"fold" if slit.role == "crease" else "slit"',
        '"slit" if slit.role == "crease" else "fold"',
    ),
    (SPREAD, "return derived(pattern.model_copy", "return (pattern.model_copy"),
]
