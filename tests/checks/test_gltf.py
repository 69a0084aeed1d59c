"""The form's model in readers that are not ours.

Sources: The Khronos Group, glTF 2.0 Specification (2021), section 3.6: metres, y up, faces
counter-clockwise; the readers trimesh and pygltflib; the Khronos glTF Validator, where node has it.
"""

import json
import shutil
import struct
import subprocess

import numpy as np
import pygltflib
import pytest
import trimesh

from digitize.draw import Model, model_glb, model_stl
from digitize.form import FormLine

VALIDATE = """
require('gltf-validator').validateBytes(new Uint8Array(require('fs').readFileSync(process.argv[1])))
  .then(found => console.log(JSON.stringify(found.issues)))
"""


@pytest.fixture(scope="module")
def model():
    """A roof of 300 mm by 200 mm, with one side 100 mm down."""
    places = np.array(
        [[0, 0, 100], [200, 0, 100], [200, 200, 100], [0, 200, 100], [300, 0, 0], [300, 200, 0.0]]
    )
    triangles = np.array([[0, 1, 2], [0, 2, 3], [1, 4, 5], [1, 5, 2]])
    line = FormLine("L1 R1-start", "radius-start", (places[[1, 2]], places[[4, 5]]))
    pale = np.array([False] * 4 + [True] * 2)
    return Model("roof", places, triangles, pale, [line], ("length 300 mm within 2.0 mm",))


def test_one_reader_finds_the_metal_in_metres_and_lines_by_name(model):
    read = trimesh.load(trimesh.util.wrap_as_stream(model_glb(model)), file_type="glb")
    assert set(read.graph.nodes_geometry) == {"panel", "L1 R1-start", "L1 R1-start (2)"}
    assert read.metadata["words"] == ["length 300 mm within 2.0 mm"]
    metal = read.geometry["panel"]
    # y is up: the roof lies 0.1 m over the foot; what lay back lies towards -z.
    assert metal.bounds == pytest.approx(np.array([[0, 0, -0.2], [0.3, 0.1, 0]]), abs=1e-6)
    assert metal.face_normals[0] == pytest.approx([0, 1, 0], abs=1e-6)
    assert metal.area == pytest.approx(0.04 + 0.2 * np.sqrt(0.02), rel=1e-5)
    for name in ("L1 R1-start", "L1 R1-start (2)"):
        assert read.geometry[name].length == pytest.approx(0.2, rel=1e-5)


def test_another_reader_finds_triangles_and_lines(model):
    read = pygltflib.GLTF2.load_from_bytes(model_glb(model))
    assert read.asset.version == "2.0"
    modes = {
        node.name: read.meshes[node.mesh].primitives[0].mode
        for node in read.nodes
        if node.mesh is not None
    }
    assert modes["panel"] in (None, pygltflib.TRIANGLES)
    assert modes["L1 R1-start"] in (pygltflib.LINES, pygltflib.LINE_STRIP)
    metal = read.meshes[next(n.mesh for n in read.nodes if n.name == "panel")].primitives[0]
    place = read.accessors[metal.attributes.POSITION]
    assert place.max == pytest.approx([0.3, 0.1, 0.0], abs=1e-6)


def test_the_other_side_is_left_for_right_and_as_proud(model):
    read = trimesh.load(trimesh.util.wrap_as_stream(model_glb(model.mirrored())), file_type="glb")
    assert read.metadata["words"] == list(model.words)
    metal = read.geometry["panel"]
    assert metal.bounds[:, 0] == pytest.approx([-0.3, 0.0], abs=1e-6)
    assert metal.face_normals[0] == pytest.approx([0, 1, 0], abs=1e-6)


def test_an_stl_is_in_mm(model):
    written = model_stl(model)
    (count,) = struct.unpack("<I", written[80:84])
    first = np.frombuffer(written[84:134], dtype="<f4", count=12).reshape(4, 3)
    assert count == 4
    assert first[0] == pytest.approx([0, 0, 1])
    assert first[1:] == pytest.approx(model.places[[0, 1, 2]])


def test_the_khronos_validator_finds_nothing_wrong(model, tmp_path):
    node = shutil.which("node")
    if node is None:
        pytest.skip("no node")
    path = tmp_path / "form.glb"
    path.write_bytes(model_glb(model))
    ran = subprocess.run([node, "-e", VALIDATE, str(path)], capture_output=True, text=True)
    if "Cannot find module" in ran.stderr:
        pytest.skip("node has no gltf-validator")
    issues = json.loads(ran.stdout)
    assert (issues["numErrors"], issues["numWarnings"]) == (0, 0), issues
