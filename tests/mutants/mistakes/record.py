"""Mistakes in the record, its file and its mirror image."""

FILE, MIRROR, PARTS, PATTERN = "file.py", "mirror.py", "parts.py", "pattern.py"
UNKNOWN = "unknown.py"

MISTAKES = [
    (MIRROR, "pattern.outline) + min(x", "pattern.outline) - 0 * min(x"),
    (MIRROR, "return (round(width - x, 6), y)", "return (round(width - x, 1), y)"),
    (
        MIRROR,
        "(round(width - x1, 6), y0, round(width - x0, 6), y1)",
        "(round(width - x0, 6), y0, round(width - x1, 6), y1)",
    ),
    (MIRROR, "return parts(value)[::-1]", "return parts(value)"),
    (MIRROR, "return -value", "return 180 - value"),
    (MIRROR, "return () if get_origin(kind) is tuple else None", "return value"),
    (
        "places.py",
        "        if any(_is_number(each) for each in (own, *rest)):",
        "        if value is None:",
    ),
    (PARTS, "{self.lap_at_trim:.1f} mm", "{self.deficit_deg:.1f} mm"),
    (PARTS, "turn_deg: Annotated[float, Flips.TURN]", "turn_deg: float"),
    (
        PARTS,
        "    centre: Point\n",
        "    centre: Annotated[tuple[float, float], Flips.STAYS]\n",
    ),
    (PARTS, "    tip: Point\n", "    tip: Annotated[tuple[float, float], Flips.STAYS]\n"),
    (
        PARTS,
        "kind: ZoneKind\n    boundary: Ring\n",
        "kind: ZoneKind\n    boundary: Annotated[tuple[Point, ...], Flips.STAYS]\n",
    ),
    (
        PARTS,
        "kind: ZoneKind\n    boundary: Ring\n",
        "kind: ZoneKind\n    boundary: tuple[Point, ...]\n",
    ),
    (PARTS, "boundary: Ring\n    reason", "boundary: tuple[Point, ...]\n    reason"),
    (PATTERN, "    outline: Ring\n", "    outline: tuple[Point, ...]\n"),
    (
        PARTS,
        "    box: Box\n",
        "    box: Annotated[tuple[float, float, float, float], Flips.STAYS]\n",
    ),
    (
        PARTS,
        "    at: Point | None = None",
        "    at: Annotated[tuple[float, float] | None, Flips.STAYS] = None",
    ),
    (
        PARTS,
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
        PARTS,
        'model_config = ConfigDict(frozen=True, extra="allow", allow_inf_nan=False)',
        'model_config = ConfigDict(frozen=True, extra="ignore", allow_inf_nan=False)',
    ),
    (
        PATTERN,
        'frozen=True,\n        extra="allow",',
        'frozen=True,\n        extra="ignore",',
    ),
    (PARTS, "itertools.pairwise(self.path)", "itertools.pairwise(self.points)"),
    (PARTS, "(*self.points, *self.points[:1]) if self.closed", "self.points if self.closed"),
    (PATTERN, 'if "remarks" not in self.model_fields_set and', "if"),
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
