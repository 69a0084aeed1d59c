"""Mistakes in the record, its file and its mirror image."""

FILE, MIRROR, PATTERN, UNKNOWN = "file.py", "mirror.py", "pattern.py", "unknown.py"

MISTAKES = [
    (MIRROR, "pattern.outline) + min(x", "pattern.outline) - 0 * min(x"),
    (MIRROR, "return (round(width - x, 6), y)", "return (round(width - x, 1), y)"),
    (
        MIRROR,
        "(round(width - x1, 6), y0, round(width - x0, 6), y1)",
        "(round(width - x0, 6), y0, round(width - x1, 6), y1)",
    ),
    (MIRROR, "return _flipped(value, inner, width)[::-1]", "return _flipped(value, inner, width)"),
    (MIRROR, "return -value", "return 180 - value"),
    (MIRROR, "            return None\n        case", "            return value\n        case"),
    (
        MIRROR,
        "        if any(_is_number(each) for each in (own, *rest)):",
        "        if value is None:",
    ),
    (PATTERN, "{self.lap_at_trim:.1f} mm", "{self.deficit_deg:.1f} mm"),
    (PATTERN, "turn_deg: Annotated[float, Flips.TURN]", "turn_deg: float"),
    (
        PATTERN,
        "    centre: Point\n",
        "    centre: Annotated[tuple[float, float], Flips.STAYS]\n",
    ),
    (PATTERN, "    tip: Point\n", "    tip: Annotated[tuple[float, float], Flips.STAYS]\n"),
    (
        PATTERN,
        "kind: ZoneKind\n    boundary: Ring\n",
        "kind: ZoneKind\n    boundary: Annotated[tuple[Point, ...], Flips.STAYS]\n",
    ),
    (
        PATTERN,
        "kind: ZoneKind\n    boundary: Ring\n",
        "kind: ZoneKind\n    boundary: tuple[Point, ...]\n",
    ),
    (PATTERN, "boundary: Ring\n    reason", "boundary: tuple[Point, ...]\n    reason"),
    (PATTERN, "    outline: Ring\n", "    outline: tuple[Point, ...]\n"),
    (
        PATTERN,
        "    box: Box\n",
        "    box: Annotated[tuple[float, float, float, float], Flips.STAYS]\n",
    ),
    (
        PATTERN,
        "    at: Point | None = None",
        "    at: Annotated[tuple[float, float] | None, Flips.STAYS] = None",
    ),
    (
        PATTERN,
        '    kind: Literal["line", "arc", "cubic"]\n    points: tuple[Point, ...]',
        '    kind: Literal["line", "arc", "cubic"]\n'
        "    points: Annotated[tuple[Point, ...], Flips.STAYS]",
    ),
    (
        PATTERN,
        "rectified: Annotated[Rectified | None, Flips.OWN]",
        "rectified: Annotated[Rectified | None, Flips.STAYS]",
    ),
    (
        PATTERN,
        'model_config = ConfigDict(frozen=True, extra="allow")',
        'model_config = ConfigDict(frozen=True, extra="ignore")',
    ),
    (
        PATTERN,
        'frozen=True,\n        extra="allow",',
        'frozen=True,\n        extra="ignore",',
    ),
    (PATTERN, "itertools.pairwise(self.path)", "itertools.pairwise(self.points)"),
    (PATTERN, "(*self.points, *self.points[:1]) if self.closed", "self.points if self.closed"),
    (PATTERN, 'if "remarks" not in values and', "if"),
    (FILE, 'update={"written_by": __version__}', "update={}"),
    (FILE, 'mode="serialization"', 'mode="validation"'),
    (UNKNOWN, "if key not in (new.model_extra or {})", "if key"),
    (UNKNOWN, "update[name] = with_unknown_keys(own, before)", "update[name] = own"),
    (UNKNOWN, "update[name] = _each(own, before)", "update[name] = own"),
    (UNKNOWN, "Zone: lambda zone: zone.tucks", "Zone: lambda zone: zone.id"),
    (UNKNOWN, "Band: lambda band: band.start", "Band: lambda band: band.id"),
    (
        UNKNOWN,
        "return tuple(with_unknown_keys(a, b) for a, b in zip(new, old, strict=True))",
        "return tuple(new)",
    ),
]
