"""The form as a model: glTF 2.0 in metres with its lines on it, and STL in mm."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import trimesh
from numpy.typing import NDArray
from trimesh.exchange.gltf import export_glb
from trimesh.exchange.stl import export_stl

from digitize.draw.style import STYLES
from digitize.form import FormLine

Floats = NDArray[np.float64]
METRE_MM = 1000.0
# glTF's y is up and its z towards the one who looks: ours are forward and up.
UPRIGHT = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
METAL, PALE = (176, 182, 190, 255), (236, 225, 200, 255)


@dataclass(frozen=True)
class Model:
    """A form to be written.

    Attributes
    ----------
    places : (V, 3) mm, z up; triangles : (F, 3), counter-clockwise seen from the marked face.
    open : (V,) corners that are not determined, drawn pale.
    words : what there is to say about it, which travels with it.
    """

    name: str
    places: Floats
    triangles: NDArray[np.int64]
    open: NDArray[np.bool_]
    lines: Sequence[FormLine]
    words: tuple[str, ...] = ()

    def mirrored(self) -> "Model":
        """The opposite side's: left is right, and the same face is marked."""
        flip = np.array([-1.0, 1.0, 1.0])
        lines = [replace(line, runs=tuple(run * flip for run in line.runs)) for line in self.lines]
        places, triangles = self.places * flip, self.triangles[:, ::-1]
        return replace(self, places=places, triangles=triangles, lines=lines)


def model_glb(model: Model) -> bytes:
    """The bytes of a glTF 2.0 file: a node ``panel``, and one for each run of a line,
    by its name.
    """
    scene = trimesh.Scene(metadata={"words": list(model.words)} if model.words else None)
    colours = np.where(model.open[:, None], PALE, METAL).astype(np.uint8)
    metal = trimesh.Trimesh(
        model.places @ UPRIGHT.T / METRE_MM, model.triangles, vertex_colors=colours, process=False
    )
    metal.metadata["name"] = model.name
    scene.add_geometry(metal, node_name="panel", geom_name="panel")
    for line in model.lines:
        colour = np.array([*bytes.fromhex(STYLES[line.role].colour[1:]), 255], dtype=np.uint8)
        for number, run in enumerate(line.runs):
            path = trimesh.load_path(run @ UPRIGHT.T / METRE_MM)
            path.colors = np.tile(colour, (len(path.entities), 1))
            # A node for each run: the writer would join them to one.
            name = line.name if number == 0 else f"{line.name} ({number + 1})"
            scene.add_geometry(path, node_name=name, geom_name=name)
    return bytes(export_glb(scene, include_normals=True))


def model_stl(model: Model) -> bytes:
    """The bytes of an STL file in mm."""
    metal = trimesh.Trimesh(model.places, model.triangles, process=False)
    return bytes(export_stl(metal))
