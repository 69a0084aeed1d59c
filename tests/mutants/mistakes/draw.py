"""Mistakes in the drawings: places, sizes, sides, layers, and figures written beside them."""

MISTAKES = [
    ("svg.py", "hole.diameter / 2, id=hole.id", "hole.diameter, id=hole.id"),
    ("svg.py", "y + DATUM_MM * math.sin(way)", "y - DATUM_MM * math.sin(way)"),
    ("svg.py", "x + DATUM_MM * math.cos(way)", "x - DATUM_MM * math.sin(way)"),
    (
        "dxf.py",
        "space.add_circle(hole.at, hole.diameter / 2",
        "space.add_circle(hole.at, hole.diameter",
    ),
    # SVG
    ("svg.py", "point[0] - self.left + MARGIN_MM", "point[0] + MARGIN_MM"),
    ("svg.py", "self.top + MARGIN_MM - point[1]", "point[1] + MARGIN_MM"),
    (
        "svg.py",
        "    corners = [*pattern.outline, *(blank.edge.tolist() if blank else [])]",
        "    corners = [*pattern.outline]",
    ),
    (
        "svg.py",
        'viewBox=f"0 0 {width:.3f} {height:.3f}"',
        'viewBox=f"0 0 {width + MARGIN_MM:.3f} {height + MARGIN_MM:.3f}"',
    ),
    (
        "svg.py",
        "return Page(width, top - low + 2 * MARGIN_MM + FOOT_MM, left, top)",
        "return Page(width, top + 2 * MARGIN_MM + FOOT_MM, left, top)",
    ),
    (
        "svg.py",
        "max(max(x for x, _ in corners) - left + 2 * MARGIN_MM, LEAST_WIDTH_MM)",
        "max(max(x for x, _ in corners) - left + MARGIN_MM, LEAST_WIDTH_MM)",
    ),
    (
        "svg.py",
        'f"M{x - arm:.4f},{y:.4f} L{x + arm:.4f},{y:.4f} "',
        'f"M{x:.4f},{y:.4f} L{x + 2 * arm:.4f},{y:.4f} "',
    ),
    (
        "svg.py",
        'f"M{x:.4f},{y - arm:.4f} L{x:.4f},{y + arm:.4f}"',
        'f"M{x:.4f},{y - arm:.4f} L{x:.4f},{y:.4f}"',
    ),
    ("svg.py", "x, y in points_on(line.points, at)", "y, x in points_on(line.points, at)"),
    ("callouts.py", "x, y = np.asarray(points).T", "y, x = np.asarray(points).T"),
    (
        "svg.py",
        'drawing.circle(at(tuck.tip), TIP_MM, id=f"{tuck.id}-tip")',
        'drawing.circle(at(pattern.line(tuck.slit).points[-1]), TIP_MM, id=f"{tuck.id}-tip")',
    ),
    (
        "svg.py",
        'title = f"{pattern.name} - {pattern.side} side - {face}"',
        'title = f"{pattern.name} - {pattern.side} side - marked face up"',
    ),
    (
        "svg.py",
        "rules.add(drawing.line((MARGIN_MM, y), (MARGIN_MM + length, y)))",
        "rules.add(drawing.line((MARGIN_MM, y), (length, y)))",
    ),
    (
        "svg.py",
        "for tick in range(round(length / step) + 1)",
        "for tick in range(round(length / step))",
    ),
    ("svg.py", "x = round(MARGIN_MM + tick * step, 4)", "x = round(tick * step, 4)"),
    (
        "svg.py",
        "(ClosedRun if line.closed else OpenRun)(points, id=line.id, factory=drawing)",
        "OpenRun(points, id=line.id, factory=drawing)",
    ),
    ("svg.py", "group = _group(drawing, name, style)", 'group = _group(drawing, "form", style)'),
    (
        "svg.py",
        'drawing.polygon([at((x, y)) for x, y in blank.edge.tolist()], id="blank-edge")',
        'drawing.polygon([at((x - MARGIN_MM, y)) for x, y in blank.edge.tolist()], id="blank-edge")',
    ),
    (
        "svg.py",
        'group = drawing.g(id=name, fill="#000000"',
        'group = drawing.g(id=name, transform="scale(-1,1)", fill="#000000"',
    ),
    # What drawings have in common
    (
        "overlay.py",
        "-label.box[1] - ASCENT * label.callout.size",
        "label.box[1] + ASCENT * label.callout.size",
    ),
    (
        "style.py",
        '(8.0, 2.0, 1.5, 2.0), "radius end")',
        '(8.0, 2.0, 1.5, 2.0), "radius start")',
    ),
    (
        "sheet.py",
        "top + scale * (high[1] - point[1])",
        "top + scale * (point[1] - low[1])",
    ),
    ("sheet.py", "left + scale * (point[0] - low[0])", "left + scale * point[0]"),
    ("sheet.py", "left = (across[0] + across[1] - scale", "left = (across[0] + across[1] + scale"),
    ("sheet.py", "scale = min((across", "scale = max((across"),
    (
        "sheet.py",
        "return Window(at, scale, top + scale * (high[1] - low[1]))",
        "return Window(at, scale, scale * (high[1] - low[1]))",
    ),
    # DXF
    ("dxf.py", "units=units.MM", "units=units.IN"),
    ("dxf.py", '{"layer": line.role}', '{"layer": "unknown"}'),
    ("dxf.py", "(start, end) if turn > 0", "(start, end) if turn < 0"),
    ("dxf.py", "arc.start_angle, arc.end_angle", "arc.end_angle, arc.start_angle"),
    ("dxf.py", "if abs(turn) < 1e-9", "if turn < 1e-9"),
    ("dxf.py", "piece.points, degree=3", "piece.points, degree=2"),
    ("dxf.py", "close=line.closed", "close=False"),
    ("dxf.py", "bulge_3_points(start, end, middle)", "bulge_3_points(end, start, middle)"),
    (
        "dxf.py",
        "[-bulge for _, _, bulge in whole[-2::-1]]",
        "[bulge for _, _, bulge in whole[-2::-1]]",
    ),
    ("dxf.py", "whole[-2::-1]] + [0.0]", "whole[:0:-1]] + [0.0]"),
    ("dxf.py", "points = run[:-1] if closed else run", "points = run"),
    (
        "dxf.py",
        'zone.boundary, close=True, dxfattribs={"layer": ZONES}',
        'zone.boundary, close=True, dxfattribs={"layer": OUTLINE}',
    ),
    ("dxf.py", "space.add_point((x, y)", "space.add_point((y, x)"),
    (
        "dxf.py",
        'blank.edge.tolist(), close=True, dxfattribs={"layer": BLANK}',
        'blank.edge.tolist(), close=True, dxfattribs={"layer": OUTLINE}',
    ),
    ("dxf.py", "(x + 1.5, y + 1.5)", "(y + 1.5, x + 1.5)"),
    # PDF
    (
        "pdf.py",
        "(drawing.width, drawing.height), title)\n    renderPDF.draw(drawing, canvas, 0, 0)",
        "(drawing.width, drawing.height), title)\n    renderPDF.draw(drawing, canvas, MARGIN_MM * mm, 0)",
    ),
    (
        "pdf.py",
        "min(width / drawing.width, height / drawing.height, 1.0)",
        "min(width / drawing.width, 1.0)",
    ),
    ("pdf.py", "step = (size[0] - OVERLAP_MM, size[1] - OVERLAP_MM)", "step = size"),
    (
        "pdf.py",
        "math.ceil((far - near - OVERLAP_MM) / one)",
        "math.floor((far - near - OVERLAP_MM) / one)",
    ),
    (
        "pdf.py",
        "self.start[0] + column * self.step[0], self.start[1] + row * self.step[1]",
        "self.start[0] + column * self.size[0], self.start[1] + row * self.size[1]",
    ),
    (
        "pdf.py",
        "near = np.arange(count) * self.step[axis]",
        "near = np.arange(count) * self.size[axis]",
    ),
    (
        "pdf.py",
        "start = (-shares[0] * step[0], -shares[1]",
        "start = (shares[0] * step[0], shares[1]",
    ),
    ("pdf.py", "y = height - down - high", "y = height - down"),
    (
        "pdf.py",
        "canvas.translate((left - x) * mm, (bottom - y) * mm)",
        "canvas.translate((left - x) * mm, (left - y) * mm)",
    ),
    ("pdf.py", "frame.rect(left * mm, bottom * mm", "frame.rect(0, bottom * mm"),
    (
        "pdf.py",
        "across + OVERLAP_MM / 2, height - down - OVERLAP_MM / 2",
        "across + OVERLAP_MM, height - down - OVERLAP_MM",
    ),
    (
        "pdf.py",
        "(left + place[0] - x, bottom + place[1] - y)",
        "(left + place[0] - x, left + place[1] - y)",
    ),
    ("pdf.py", "{chr(ord('a') + mark_row)}{mark_column}", "{chr(ord('a') + row)}{column}"),
    ("pdf.py", "{chr(ord('A') + row)}{column + 1}", "{chr(ord('A') + column)}{row + 1}"),
    ("pdf.py", "(left + CHECK_MM) * mm, y * mm)", "CHECK_MM * mm, y * mm)"),
    ("pdf.py", "fill=int((column, row) == tile)", "fill=int((row, column) == tile)"),
    # The shrink sheet
    ("shrink.py", "used = math.ceil(", "used = math.floor("),
    (
        "shrink.py",
        "_loops(shrink, field.places, index * step)",
        "_loops(shrink, field.places, (index + 1) * step)",
    ),
    ("shrink.py", "np.abs(field.shrink)", "field.shrink"),
    ("shrink.py", "order=1) for axis in (0, 1)]", "order=1) for axis in (1, 0)]"),
    ("shrink.py", "{100 * index * step:g}", "{100 * (index + 1) * step:g}"),
    ("shrink.py", "{1 / window.scale:.1f}", "{window.scale:.1f}"),
    (
        "shrink.py",
        "_in_from_edge(pattern, row.fades),\n        _in_from_edge(pattern, row.width),",
        "_in_from_edge(pattern, row.width),\n        _in_from_edge(pattern, row.fades),",
    ),
    ("shrink.py", "{100 * row.shrink:.1f}", "{row.shrink:.1f}"),
    ("shrink.py", "{row.thickness:.2f} mm", "{pattern.sheet.thickness:.2f} mm"),
    ("shrink.py", "sum(row.taken[0] for row", "sum(row.taken[-1] for row"),
    (
        "shrink.py",
        'if table.kind == "shrink" else "let in (-)"',
        'if table.kind != "shrink" else "let in (-)"',
    ),
    # The closed pattern
    ("closed.py", "if error < GOOD_MM", "if error > GOOD_MM"),
    (
        "closed.py",
        "window.at((float(place[0]), float(place[1])))",
        "window.at((float(place[1]), float(place[0])))",
    ),
    (
        "closed.py",
        "for each in pattern.zones if each.id == zone.zone)",
        "for each in pattern.zones)",
    ),
    # One pattern on another
    (
        "compared.py",
        "deviation.points + factor * off[:, None]",
        "deviation.points - factor * off[:, None]",
    ),
    ("compared.py", "each * largest * scale <= DRAWN_MM", "each * largest <= DRAWN_MM"),
    ("compared.py", "np.quantile(offs, 0.98)", "np.quantile(offs, 0.5)"),
    ("compared.py", "window, factor * tolerance_mm)", "window, tolerance_mm)"),
    ("compared.py", "bar = factor * window.scale", "bar = factor"),
    ("compared.py", "if comparison.mirror else", "if not comparison.mirror else"),
    # Plots of bands
    (
        "bands.py",
        "round(LEFT + along / length * (right - LEFT), 3)",
        "round(along / length * right, 3)",
    ),
    ("bands.py", "bottom - 0.9 * HIGH * value / highest", "top + 0.9 * HIGH * value / highest"),
    ("bands.py", "{low:.0f} to {highest:.0f}", "{low:.0f} to {known[-1][1]:.0f}"),
    ("bands.py", '("turned_deg", "turned deg"', '("radius", "turned deg"'),
    # The job sheet
    ("job.py", "pattern.scale.accuracy_mm", "pattern.scale.accuracy_cards_mm"),
    ("job.py", "each.paper, each.finished)", "each.finished, each.paper)"),
    (
        "job.py",
        "{found.laps_deg:.0f} degrees by the laps",
        "{found.laps_sigma_deg:.0f} degrees by the laps",
    ),
    ("order.py", "blank.mass_g(pattern.sheet) / 1000", "blank.mass_g(pattern.sheet)"),
    ("order.py", "for side in blank.size", "for side in blank.size[::-1]"),
    ("order.py", "fits {stock.one}", "fits {stock.both}"),
    (
        "order.py",
        "for length in (row.width, row.fades)",
        "for length in (row.fades, row.width)",
    ),
    ("order.py", "(min(widths), max(widths))", "(widths[-1], widths[0])"),
    ("order.py", "length_in_words(each.finished", "length_in_words(each.paper"),
    (
        "order.py",
        'if table.kind == "shrink" else "let in"',
        'if table.kind != "shrink" else "let in"',
    ),
    # Names and where they stand
    ("callouts.py", "abs(station.along - along)", "abs(station.along)"),
    ("callouts.py", "place = path.interpolate(along)", "place = path.interpolate(0)"),
    ("placing.py", 'callout.words, "Helvetica", callout.size)', 'callout.words, "Helvetica", 1.0)'),
    ("placing.py", "                if wanted[k]:", "                if True:"),
    ("placing.py", "free[~others.meet(grown[free])]", "free"),
    ("placing.py", "np.flatnonzero(inside)", "np.arange(len(inside))"),
    # The contact sheet
    ("contact.py", "(page + 1) * each_page]", "(page + 1) * each_page - 1]"),
    ("contact.py", "row, column = divmod(place, COLUMNS)", "column, row = divmod(place, ROWS)"),
    # The overlay
    ("overlay.py", "/ [mm_per_px, -mm_per_px]", "/ [mm_per_px, mm_per_px]"),
    ("overlay.py", "- [left, top])", "- [0.0, top])"),
    ("overlay.py", "mm_per_px *= times", "mm_per_px /= times"),
    ("overlay.py", "pattern.scale.accuracy_mm", "pattern.scale.accuracy_cards_mm"),
    # The form's model, and gauges.
    ("model.py", "METRE_MM = 1000.0", "METRE_MM = 100.0"),
    ("model.py", "[0.0, 0.0, 1.0], [0.0, -1.0, 0.0]]", "[0.0, 0.0, 1.0], [0.0, 1.0, 0.0]]"),
    ("model.py", "self.triangles[:, ::-1]", "self.triangles"),
    ("gauges.py", "length_in_words(gauge.radius, unit)", 'length_in_words(gauge.radius, "mm")'),
    ("gauges.py", "(length - OVERLAP_MM) / count if", "length / count if"),
]
