"""Render the demo photos with a physically based path tracer (Mitsuba 3) and a model of a phone.

    python -m pip install -e '.[render]'
    python sample_photos/render.py [NAME ...] [--samples 96]

Each scene's first photo comes with NAME.truth.json: the record as pattern.json has it, plus the
camera and the cards' places on the floor. These are rendered photos; nothing in them was
photographed.
"""

import argparse
import json
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import mitsuba as mi
import numpy as np
import pypdfium2
import skimage.data
from corner import Floats, develop
from drawn import Marking, truth_of
from marking import mark
from phone import HEIGHT, WIDTH, save, take
from sheet import PIXELS_PER_MM, paint

from digitize.card.layout import SHEETS_MM
from digitize.card.sheet import card_pdf

mi.set_variant("llvm_ad_rgb" if "llvm_ad_rgb" in mi.variants() else "scalar_rgb")
FOLDER = Path(__file__).parent
BORDER = 12.0
CARD_PIXELS_PER_MM = 8.0


@dataclass(frozen=True)
class Scene:
    """One photo. Lengths in mm on the floor, x right, y up, the paper's middle at the origin."""

    side: str
    floor: str
    cards: tuple[tuple[int, str, float, float, float], ...]  # number, sheet, x, y, turn in degrees
    aim: tuple[float, float]
    camera: tuple[float, float, float]
    roll: float
    equivalent_mm: float
    curl: float
    lamp: float
    shadow: bool
    turn: float
    orientation: int
    seed: int
    view_of: str = ""  # the scene whose paper and truth these are


SCENES = {
    "easy": Scene(
        "left",
        "gravel",
        (
            (1, "a4", -575, 130, 4),
            (2, "a4", 588, -160, 186),
            (3, "a4", -120, 455, 92),
            (4, "a4", -260, -455, 88),
        ),
        (0, 10),
        (60, -90, 1210),
        1,
        26,
        0.3,
        0.6,
        False,
        2,
        1,
        11,
    ),
    "shadow": Scene(
        "left",
        "brick",
        (
            (5, "a4", -590, -40, -3),
            (6, "a4", 610, -230, 175),
            (7, "a4", -40, 465, 85),
            (8, "letter", -230, -460, 94),
        ),
        (0, 0),
        (-150, -470, 1190),
        -2,
        26,
        0.3,
        2.4,
        True,
        -4,
        1,
        12,
    ),
    "other-side": Scene(
        "right",
        "brick",
        (
            (1, "a4", -600, -180, 10),
            (2, "a4", 575, 140, -7),
            (3, "a4", 60, 455, 90),
            (4, "a4", 250, -460, 95),
        ),
        (0, 0),
        (90, 160, 1230),
        3,
        25,
        2.6,
        0.9,
        False,
        5,
        6,
        13,
    ),
    "one-card": Scene(
        "left",
        "gravel",
        ((9, "a4", -585, -60, 3),),
        (-60, 0),
        (-40, -200, 1120),
        0,
        26,
        0.3,
        0.8,
        False,
        -1,
        1,
        14,
    ),
}
# The curled paper again, from two other sides.
for _name, _aim, _camera in (
    ("other-side-2", (-90, -40), (-560, -300, 1200)),
    ("other-side-3", (60, -30), (600, -260, 1220)),
):
    SCENES[_name] = replace(
        SCENES["other-side"], aim=_aim, camera=_camera, roll=0, orientation=1, view_of="other-side"
    )


def _texture(picture: Floats, raw: bool = True) -> dict[str, object]:
    return {
        "type": "bitmap",
        "bitmap": mi.Bitmap(np.ascontiguousarray(picture, np.float32)),
        "raw": raw,
    }


def _grid(
    origin: Floats, x_axis: Floats, y_axis: Floats, z: Floats, opacity: Floats | None = None
) -> mi.Mesh:
    """A sheet as a grid of triangles, heights (rows from the top), texture over all of it.

    Triangles where nothing is opaque are left out: they would keep the lamps' light off the floor.
    """
    rows, columns = z.shape
    u, v = np.meshgrid(np.linspace(0, 1, columns), np.linspace(0, 1, rows))
    points = origin + u[..., None] * x_axis + (1 - v)[..., None] * y_axis
    points = np.dstack([points, z]).reshape(-1, 3)
    index = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, :-1], index[1:, 1:]
    faces = np.concatenate(
        [np.stack([a, c, b], -1).reshape(-1, 3), np.stack([b, c, d], -1).reshape(-1, 3)]
    )
    if opacity is not None:
        kept = cv2.resize(opacity, (columns, rows), interpolation=cv2.INTER_AREA)
        kept = cv2.dilate(kept, np.ones((3, 3))).ravel() > 0
        faces = faces[kept[faces].any(axis=1)]
    mesh = mi.Mesh(
        "sheet", len(points), len(faces), has_vertex_normals=True, has_vertex_texcoords=True
    )
    parameters = mi.traverse(mesh)
    parameters["vertex_positions"] = points.ravel().astype(np.float32)
    parameters["faces"] = faces.ravel().astype(np.uint32)
    parameters["vertex_texcoords"] = np.stack([u, v], -1).ravel().astype(np.float32)
    parameters.update()
    mesh.recompute_vertex_normals()
    return mesh


def _with_material(mesh: mi.Mesh, material: dict[str, object], path: Path) -> dict[str, object]:
    mesh.write_ply(str(path))
    return {"type": "ply", "filename": str(path), "material": material}


def _heights(
    shape: tuple[int, int],
    marking: Marking,
    width: float,
    height: float,
    curl: float,
    rng: np.random.Generator,
) -> Floats:
    """How far the paper stands off the floor: slow curl, and a small step at each crease."""
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(float)
    x, y = x / (shape[1] - 1) * width - BORDER, height - BORDER - y / (shape[0] - 1) * height
    wave = np.zeros(shape)
    for _ in range(5):
        kx, ky = rng.normal(0, 1.2, 2)
        wave += np.sin(kx * x / 150 + ky * y / 150 + rng.uniform(0, 6.28))
    wave = (wave - wave.min()) / np.ptp(wave)
    away = np.hypot((x - width / 2) / width, (y - height / 2) / height)
    lift = curl * (0.45 * wave + 0.55 * np.clip(away / 0.6, 0, 1) ** 2)
    for crease, sign in zip(marking.creases, (1.0, -0.6), strict=True):
        points = np.stack([x, y], -1).reshape(-1, 2)
        near = np.flatnonzero(
            (np.abs(points - crease.mean(axis=0)) < np.ptp(crease, axis=0) / 2 + 8).all(axis=1)
        )
        gaps = np.min(np.linalg.norm(points[near, None] - crease[None, ::16], axis=2), axis=1)
        lift.ravel()[near] += sign * 0.5 * np.exp(-gaps / 0.8)
    return 0.45 + lift


def _look_at(scene: Scene) -> Floats:
    """(3, 4) floor to camera (x right, y down, z ahead)."""
    eye = np.array(scene.camera)
    ahead = np.array([*scene.aim, 0.0]) - eye
    ahead /= np.linalg.norm(ahead)
    roll = np.radians(scene.roll)
    right = np.cross(ahead, [np.sin(roll), np.cos(roll), 0.0])
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(ahead, right), ahead])
    return np.column_stack([rotation, -rotation @ eye])


def render(name: str, samples: int) -> None:
    """Render one scene and write its photo and its truth."""
    scene = SCENES[name]
    rng = np.random.default_rng(scene.seed)
    marking = mark(develop(), scene.seed, scene.side)
    colour, opacity = paint(marking, BORDER, scene.seed)
    width, height = colour.shape[1] / PIXELS_PER_MM, colour.shape[0] / PIXELS_PER_MM
    heights = _heights((int(height), int(width)), marking, width, height, scene.curl, rng)
    turn = np.radians(scene.turn)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    corner = rotation @ np.array([-width / 2, -height / 2])
    work = FOLDER / "out"
    work.mkdir(exist_ok=True)
    sheet = _grid(corner, rotation @ [width, 0], rotation @ [0, height], heights, opacity)
    paper_material = {
        "type": "mask",
        "opacity": _texture(opacity[..., None]),
        "inner": {
            "type": "twosided",
            "inner": {"type": "diffuse", "reflectance": _texture(colour)},
        },
    }
    floor = getattr(skimage.data, scene.floor)().astype(np.float32) / 255
    floor = np.tile(np.block([[floor, floor[:, ::-1]], [floor[::-1], floor[::-1, ::-1]]]), (5, 5))
    tint = np.array([0.5, 0.49, 0.47]) if scene.floor == "gravel" else np.array([0.55, 0.42, 0.36])
    objects: dict[str, object] = {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": 5},
        "paper": _with_material(sheet, paper_material, work / "paper.ply"),
        "floor": {
            "type": "rectangle",
            "to_world": mi.ScalarTransform4f().scale([1500, 1500, 1]),
            "material": {
                "type": "diffuse",
                "reflectance": _texture((floor**2.2)[..., None] * tint),
            },
        },
        "sky": {"type": "constant", "radiance": 0.16},
        "window": {
            "type": "rectangle",
            "to_world": mi.ScalarTransform4f().look_at([-2600, 900, 1700], [0, 0, 300], [0, 0, 1])
            @ mi.ScalarTransform4f().scale([800, 600, 1]),
            "emitter": {"type": "area", "radiance": {"type": "rgb", "value": [3.2, 3.4, 3.7]}},
        },
        "lamp": {
            "type": "sphere",
            "center": [1500.0, 1100.0, 2100.0],
            "radius": 45.0,
            "emitter": {
                "type": "area",
                "radiance": {
                    "type": "rgb",
                    "value": [scene.lamp * 420, scene.lamp * 385, scene.lamp * 320],
                },
            },
        },
    }
    if scene.shadow:
        objects["post"] = {
            "type": "rectangle",
            "to_world": mi.ScalarTransform4f().translate([640, 520, 800])
            @ mi.ScalarTransform4f().rotate([0, 0, 1], 35)
            @ mi.ScalarTransform4f().scale([70, 700, 1]),
            "material": {"type": "twosided", "inner": {"type": "diffuse"}},
        }
    for number, paper, x, y, angle in scene.cards:
        page = pypdfium2.PdfDocument(card_pdf([number], paper))[0]
        picture = page.render(scale=CARD_PIXELS_PER_MM * 25.4 / 72).to_numpy()[..., :1] / 255.0
        across, along = SHEETS_MM[paper]
        spin = np.radians(angle)
        turned = np.array([[np.cos(spin), -np.sin(spin)], [np.sin(spin), np.cos(spin)]])
        place = np.array([x, y]) + turned @ [-across / 2, -along / 2]
        card = _grid(place, turned @ [across, 0], turned @ [0, along], np.full((3, 3), 0.1))
        material = {
            "type": "diffuse",
            "reflectance": _texture(0.04 + 0.74 * picture**2.2 * np.ones(3)),
        }
        objects[f"card{number}"] = _with_material(card, material, work / f"card{number}.ply")

    focal = scene.equivalent_mm / 43.2666 * np.hypot(WIDTH, HEIGHT)
    margin = 1.10
    wide, high = int(WIDTH * margin), int(HEIGHT * margin)
    ahead = np.array([*scene.aim, 0.0])
    roll = np.radians(scene.roll)
    objects["camera"] = {
        "type": "perspective",
        "fov_axis": "x",
        "fov": float(np.degrees(2 * np.arctan(wide / 2 / focal))),
        "near_clip": 10.0,
        "far_clip": 10000.0,
        "to_world": mi.ScalarTransform4f().look_at(
            list(scene.camera), ahead.tolist(), [float(np.sin(roll)), float(np.cos(roll)), 0.0]
        ),
        "film": {
            "type": "hdrfilm",
            "width": wide,
            "height": high,
            "rfilter": {"type": "gaussian", "stddev": 0.45},
            "pixel_format": "rgb",
        },
        "sampler": {"type": "independent"},
    }
    world = mi.load_dict(objects)
    passes = max(samples // 4, 1)
    light = np.zeros((high, wide, 3), np.float32)
    for index in range(passes):
        light += np.array(mi.render(world, spp=4, seed=scene.seed * 1000 + index)) / passes
    camera = {
        "focal_px": focal,
        "principal_px": [WIDTH / 2 + 9.0, HEIGHT / 2 - 6.0],
        "radial": [0.035, -0.028],
        "orientation": scene.orientation,
        "floor_to_camera": _look_at(scene).tolist(),
    }
    # A path that finds the lamp by chance through the paper's cut edge leaves a white speck.
    light = np.minimum(light, 3.0 * cv2.medianBlur(light, 5) + 0.02)
    photo = take(light, camera, rng)
    save(FOLDER / f"{name}.jpg", photo, scene.orientation, scene.equivalent_mm)
    if scene.view_of:
        return
    truth = truth_of(marking)
    truth["camera"] = camera
    truth["paper_to_floor"] = {
        "turn_deg": scene.turn,
        "origin": (corner + rotation @ [BORDER, BORDER]).tolist(),
    }
    truth["cards"] = [
        {"number": n, "paper": paper, "centre": [x, y], "turn_deg": a}
        for n, paper, x, y, a in scene.cards
    ]
    truth["rendered"] = {"curl_mm": scene.curl, "samples": samples}
    (FOLDER / f"{name}.truth.json").write_text(json.dumps(truth) + "\n")


def main() -> None:
    """Render the scenes named on the command line, or all."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("names", nargs="*", choices=[[], *SCENES], default=[])
    parser.add_argument("--samples", type=int, default=96)
    arguments = parser.parse_args()
    for name in arguments.names or SCENES:
        render(name, arguments.samples)


if __name__ == "__main__":
    main()
