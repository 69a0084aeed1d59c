"""Mistakes in reading and writing lengths."""

MISTAKES = [
    ("", "INCH_MM = 25.4", "INCH_MM = 25.0"),
    (
        "",
        "sum(Fraction(part.strip()) for part in parts)",
        "sum(Fraction(part.strip()) for part in parts[:1])",
    ),
    ("", "    if length <= 0:", "    if length < 0:"),
    ("", "(12 * INCH_MM if side.endswith", "(10 * INCH_MM if side.endswith"),
    (
        "",
        "return words.strip(), (in_mm[0], in_mm[1])",
        "return words.strip(), (in_mm[1], in_mm[0])",
    ),
    (
        "",
        "divmod(round(abs(length_mm) / INCH_MM * 32), 32)",
        "divmod(round(abs(length_mm) / INCH_MM * 16), 16)",
    ),
    ("", 'sign = "-" if length_mm < 0', 'sign = "-" if length_mm > 0'),
    ("", "round(abs(length_mm) / INCH_MM * 32)", "int(abs(length_mm) / INCH_MM * 32)"),
    ("", 'return f"{sign}{whole} {part}/32" if whole', 'return f"{sign}{part}/32" if whole'),
    ("", "    if abs(length_mm) < 0.05:", "    if abs(length_mm) < 0.5:"),
]
