"""Mistakes in telling the paper from the floor, and in placing its edge."""

MISTAKES = [
    (
        "outline.py",
        "return normal if area > 0 else -normal",
        "return -normal if area > 0 else normal",
    ),
    (
        "outline.py",
        "points = points + _outward(points) * _edge_offset(",
        "points = points - _outward(points) * _edge_offset(",
    ),
    ("outline.py", "if not shape.exterior.is_ccw:", "if shape.exterior.is_ccw:"),
    ("outline.py", "shape.exterior.coords)[:-1]", "shape.exterior.coords)"),
    ("outline.py", "+ 1] - step / 2", "+ 1] + step / 2"),
    ("outline.py", "np.argmin(cost, axis=1) + 1]", "np.argmin(cost, axis=1)]"),
    ("outline.py", "(3 * inner + outer)", "(inner + 3 * outer)"),
    ("outline.py", "rest**2 / (len(along) - count)[:, None]", "rest**2 / len(along)"),
    (
        "outline.py",
        "max(contours, key=cv2.contourArea)[:, 0]",
        "min(contours, key=cv2.contourArea)[:, 0]",
        "the cut by colour leaves two parts only where a scrap lies within 16 mm of the paper",
    ),
    ("outline.py", "seed.sum() * mm_per_px**2 <", "seed.sum() * mm_per_px <"),
    ("outline.py", "if 2 * cv2.contourArea(contour)", "if cv2.contourArea(contour)"),
    ("outline.py", "cv2.contourArea(contour) * mm_per_px >", "cv2.contourArea(contour) >"),
    ("outline.py", "coarse.to_px(corners) / SHRINK", "coarse.to_px(corners)"),
    ("outline.py", "usable &= ~on_card", "usable &= True"),
    (
        "outline.py",
        "(EDGE_SEARCH_MM, EDGE_SEARCH_MM / 2)",
        "(EDGE_SEARCH_MM / 2, EDGE_SEARCH_MM / 4)",
    ),
    (
        "outline.py",
        "inner[largest[:, 1].astype(int), largest[:, 0].astype(int)].all()",
        "inner[largest[:, 1].astype(int), largest[:, 0].astype(int)].any()",
    ),
]
