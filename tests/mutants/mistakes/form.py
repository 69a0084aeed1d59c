"""Mistakes in the panel's form: the net, lengths, turns, curvature, the solution."""

MISTAKES = [
    ("mesh.py", "(row % step == 0) & (column % step == 0)", "row % step == 0"),
    ("mesh.py", "enumerate((forward, ~forward))", "enumerate((~forward, forward))"),
    ("mesh.py", "far = np.roll(triangles, -2, axis=1)", "far = np.roll(triangles, -1, axis=1)"),
    # Finished lengths.
    ("metric.py", "(1 - shrink) ** 2 - 1", "(1 - shrink) - 1"),
    ("metric.py", "(1 - shrink) ** 2 - 1", "(1 + shrink) ** 2 - 1"),
    ("metric.py", "along - sagging**2 / (24 * along)", "along"),
    ("metric.py", "along - sagging**2 / (24 * along)", "along - sagging / (24 * along)"),
    # Turns and curvature.
    (
        "bending.py",
        "p[:, 0] ** 2 / 2, p[:, 0] * p[:, 1],",
        "p[:, 0] ** 2 / 2, p[:, 0] * p[:, 1] / 2,",
    ),
    ("bending.py", "parts(d) - by_b[:, None] * parts(b)", "parts(d) + by_b[:, None] * parts(b)"),
    ("bending.py", "weight = 1 - shares[:, at].T", "weight = shares[:, at].T"),
    (
        "bending.py",
        "along = along - across * lean[:, None]",
        "along = along + across * lean[:, None]",
    ),
    (
        "bending.py",
        "np.stack([row(one, one), row(one, two), row(two, two)]",
        "np.stack([row(two, two), row(one, two), row(one, one)]",
    ),
    # The start and the solution.
    ("start.py", "ways[0] - ways[1])", "ways[1] - ways[0])"),
    ("start.py", "sin * spin + (1 - cos)", "sin * spin + (1 + cos)"),
    ("start.py", "_about(ahead, turns)", "_about(ahead, -turns)"),
    ("start.py", "(first**2 + third**2 - second**2)", "(first**2 + second**2 - third**2)"),
    (
        "solve.py",
        "by_c, by_d = -left * length / left_size",
        "by_c, by_d = left * length / left_size",
    ),
    (
        "solve.py",
        "by_a = -(1 - at_c) * by_c - (1 - at_d) * by_d",
        "by_a = -at_c * by_c - at_d * by_d",
    ),
    (
        "solve.py",
        "right = np.cross(run, c - a), np.cross(d - a, run)",
        "right = np.cross(c - a, run), np.cross(run, d - a)",
    ),
    (
        "solve.py",
        "met = max(self.strain_off, self.bend_off) < HOLDS",
        "met = self.most_turn > HOLDS",
    ),
    # What the record tells.
    ("metric.py", "np.gradient(rows, axis=1)", "np.gradient(rows, axis=0)"),
    ("strips.py", "out = out + (curving * onward)", "out = out - (curving * onward)"),
    (
        "strips.py",
        "np.clip(self.depth, 0.0, self.width) / self.radius",
        "np.maximum(self.depth, 0.0) / self.radius",
    ),
    ("strips.py", "* (-1.0 if on_left else 1.0)", "* (1.0 if on_left else -1.0)"),
    ("strips.py", "* (1.0 if on_left else -1.0)", "* 1.0"),
    ("known.py", "np.where(within, 1 / at.radius, 0.0)", "np.where(within, at.radius, 0.0)"),
    (
        "known.py",
        "within = of_a_bend & (at.depth < at.width) & np.isfinite(at.radius)",
        "within = of_a_bend & np.isfinite(at.radius)",
    ),
    ("known.py", "* np.sin(turned)", "* np.cos(turned)"),
    ("known.py", "RADIUS_SHARE / at.radius", "RADIUS_SHARE * at.radius"),
    ("known.py", "found[of_a_bend, 1:] += at.curved[of_a_bend, None]", "pass"),
    ("known.py", "math.sqrt(max(mean, 0.0)) * metric", "max(mean, 0.0) * metric"),
    ("known.py", "math.radians(turned_deg) / inside.area", "turned_deg / inside.area"),
    ("known.py", "np.maximum(-at.depth, at.depth - at.width)", "np.maximum(-at.depth, at.depth)"),
    (
        "rounds.py",
        "np.arccos(np.clip(np.gradient(metal, radius)",
        "np.arcsin(np.clip(np.gradient(metal, radius)",
    ),
    ("rounds.py", "np.sin(fall) * metal / np.max", "np.cos(fall) * metal / np.max"),
    ("rounds.py", "np.sin(fall) * metal / np.max", "np.sin(fall) / np.max"),
    ("rounds.py", "outward = np.gradient(fall, radius)", "outward = -np.gradient(fall, radius)"),
    ("rounds.py", "(length - fan.take_up(depths)", "(length + fan.take_up(depths)"),
    ("rounds.py", "form_along(out, outward[:, None])", "form_along(along, outward[:, None])"),
    # What it may be off by.
    ("doubt.py", "chi2.ppf(0.95, freedom)", "chi2.ppf(0.95, 2 * freedom)"),
    ("doubt.py", "trace / freedom * chi2", "trace * chi2"),
    ("causes.py", "-share / radius, 0.0)", "-share * radius, 0.0)"),
    (
        "causes.py",
        "-off * share / np.maximum(at.width, 1.0)",
        "off * share / np.maximum(at.width, 1.0)",
    ),
    ("causes.py", "OPEN_PER_MM * share", "0.0 * share"),
    ("strips.py", "within - at.radius * np.sin(turned)", "within + at.radius * np.sin(turned)"),
    ("strips.py", "past * (1 - np.cos(turned))", "past * np.cos(turned)"),
    (
        "metric.py",
        "self.fan.spread_out(course, taken) * share",
        "self.fan.spread_out(course, taken)",
    ),
]
