"""Mistakes in reading and writing lengths."""

MISTAKES = [
    ("", "INCH_MM = 25.4", "INCH_MM = 25.0"),
    ("", "FOOT_MM = 12 * INCH_MM", "FOOT_MM = 10 * INCH_MM"),
    ("", '"cm": 10.0', '"cm": 1.0'),
    ("", "total += _value(number) * MM_OF[named]", "total = _value(number) * MM_OF[named]"),
    ("", "    if not 0 < total <=", "    if not 0 <= total <="),
    ("", "elif place and MM_OF[named] != INCH_MM:", "elif place and not named:"),
    (
        "",
        "(length_mm(sides[0], unit), length_mm(sides[1], unit))",
        "(length_mm(sides[1], unit), length_mm(sides[0], unit))",
    ),
    ("", "sides[0] += named[1]", "pass"),
    ("", 'if "/" in number:', 'if "//" in number:'),
    ("", 'Fraction(whole.strip() or "0") +', ""),
    ("", 'fraction.replace(",", ".")', 'fraction.replace(",", "")'),
    (
        "",
        "Fraction(round(abs(length_mm) / INCH_MM * 32), 32)",
        "Fraction(round(abs(length_mm) / INCH_MM * 16), 16)",
    ),
    ("", 'sign = "-" if length_mm < 0', 'sign = "-" if length_mm > 0'),
    ("", "round(abs(length_mm) / INCH_MM * 32)", "int(abs(length_mm) / INCH_MM * 32)"),
    ("", 'return f"{sign}{whole} {part}" if whole', 'return f"{sign}{part}" if whole'),
    ("", "(inches, metric) if unit", "(metric, inches) if unit"),
    ("", "    if abs(length_mm) < 0.05:", "    if abs(length_mm) < 0.5:"),
]
