"""Mistakes in the drawings: places, sizes, sides, layers, and figures written beside them."""

MISTAKES = [
    ("svg.py", "hole.diameter / 2, id=hole.id", "hole.diameter, id=hole.id"),
    ("svg.py", "y - DATUM_MM * math.sin(way)", "y + DATUM_MM * math.sin(way)"),
    ("svg.py", "x + DATUM_MM * math.cos(way)", "x - DATUM_MM * math.sin(way)"),
    (
        "dxf.py",
        "space.add_circle(hole.at, hole.diameter / 2",
        "space.add_circle(hole.at, hole.diameter",
    ),
    # SVG
    ("svg.py", "round(point[0] - self.left + MARGIN_MM, 4)", "round(point[0] + MARGIN_MM, 4)"),
    ("svg.py", "round(self.top + MARGIN_MM - point[1], 4)", "round(point[1] + MARGIN_MM, 4)"),
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
    ("svg.py", "at((px, py)) for px, py", "at((py, px)) for px, py"),
    (
        "svg.py",
        'drawing.circle(at(tuck.tip), 1.5, id=f"{tuck.id}-tip")',
        'drawing.circle(at(pattern.line(tuck.slit).points[-1]), 1.5, id=f"{tuck.id}-tip")',
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
        "(drawing.polygon if line.closed else drawing.polyline)(points, id=line.id)",
        "drawing.polyline(points, id=line.id)",
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
        "style.py",
        "away = tuck.tip[0] - end[0], tuck.tip[1] - end[1]",
        "away = end[0] - tuck.tip[0], end[1] - tuck.tip[1]",
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
    ("sheet.py", "MARGIN + scale * (point[0] - low[0])", "MARGIN + scale * point[0]"),
    ("sheet.py", "scale = min((WIDE", "scale = max((WIDE"),
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
        "math.ceil((width - OVERLAP_MM) / step[0])",
        "math.floor((width - OVERLAP_MM) / step[0])",
    ),
    (
        "pdf.py",
        "x, y = column * self.step[0], row * self.step[1]",
        "x, y = column * self.size[0], row * self.size[1]",
    ),
    (
        "pdf.py",
        "x, y = column * tiling.step[0], height - row * tiling.step[1] - high",
        "x, y = column * tiling.size[0], height - row * tiling.size[1] - high",
    ),
    (
        "pdf.py",
        "canvas.translate((left - x) * mm, (bottom - y) * mm)",
        "canvas.translate((left - x) * mm, (left - y) * mm)",
    ),
    ("pdf.py", "frame.rect(left * mm, bottom * mm", "frame.rect(0, bottom * mm"),
    (
        "pdf.py",
        "across = column * tiling.step[0] + OVERLAP_MM / 2",
        "across = column * tiling.step[0] + OVERLAP_MM",
    ),
    (
        "pdf.py",
        "down = row * tiling.step[1] + OVERLAP_MM / 2",
        "down = row * tiling.step[1]",
    ),
    (
        "pdf.py",
        "(left + place[0] - x, bottom + place[1] - y)",
        "(left + place[0] - x, left + place[1] - y)",
    ),
    ("pdf.py", "{chr(ord('a') + mark_row)}{mark_column}", "{chr(ord('a') + row)}{column}"),
    ("pdf.py", "{chr(ord('A') + row)}{column + 1}", "{chr(ord('A') + column)}{row + 1}"),
    ("pdf.py", "(start + CHECK_MM) * mm, y * mm)", "CHECK_MM * mm, y * mm)"),
    ("pdf.py", "fill=int((r, c) == (row, column))", "fill=int((c, r) == (row, column))"),
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
    ("shrink.py", "x1 + 9 * (x1 - x0) / length", "x1 - 9 * (x1 - x0) / length"),
    (
        "shrink.py",
        'f"{row.fades:.0f} mm",\n            f"{row.width:.0f} mm",',
        'f"{row.width:.0f} mm",\n            f"{row.fades:.0f} mm",',
    ),
    ("shrink.py", "{100 * row.shrink:.1f} mm", "{row.shrink:.1f} mm"),
    ("shrink.py", "{row.thickness:.2f} mm", "{sheet.thickness:.2f} mm"),
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
    ("job.py", "{height / INCH_MM:.1f} in", "{height:.1f} in"),
    ("job.py", "{blank.turn_deg:.0f}", "{-blank.turn_deg:.0f}"),
    ("job.py", "blank.mass_g(pattern.sheet) / 1000:.2f", "blank.mass_g(pattern.sheet):.2f"),
    ("job.py", "{stock.one or 'none'}", "{stock.both or 'none'}"),
    ("job.py", "pattern.scale.accuracy_mm", "pattern.scale.accuracy_cards_mm"),
    (
        "job.py",
        "lines[half * rows : (half + 1) * rows]",
        "lines[half * rows : (half + 1) * rows - half]",
    ),
    (
        "job.py",
        'f"{line.length:.0f}",\n                radius,',
        'radius,\n                f"{line.length:.0f}",',
    ),
    ("job.py", "{min(values):.0f} to {max(values):.0f}", "{values[0]:.0f} to {values[-1]:.0f}"),
    (
        "job.py",
        "{found.laps_deg:.0f} degrees by the laps",
        "{found.laps_sigma_deg:.0f} degrees by the laps",
    ),
    # The contact sheet
    ("contact.py", "(page + 1) * each_page]", "(page + 1) * each_page - 1]"),
    ("contact.py", "row, column = divmod(place, COLUMNS)", "column, row = divmod(place, ROWS)"),
    # The overlay
    ("overlay.py", "/ [mm_per_px, -mm_per_px]", "/ [mm_per_px, mm_per_px]"),
    ("overlay.py", "- [left, top])", "- [0.0, top])"),
    ("overlay.py", "mm_per_px *= shrink", "mm_per_px /= shrink"),
    ("overlay.py", "pattern.scale.accuracy_mm", "pattern.scale.accuracy_cards_mm"),
    # The form's model, and gauges.
    ("model.py", "METRE_MM = 1000.0", "METRE_MM = 100.0"),
    ("model.py", "[0.0, 0.0, 1.0], [0.0, -1.0, 0.0]]", "[0.0, 0.0, 1.0], [0.0, 1.0, 0.0]]"),
    ("model.py", "self.triangles[:, ::-1]", "self.triangles"),
    ("gauges.py", "gauge.radius / INCH_MM", "gauge.radius * INCH_MM"),
    ("gauges.py", "(length - OVERLAP_MM) / count if", "length / count if"),
]
