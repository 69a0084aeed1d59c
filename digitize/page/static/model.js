// A form's model, as the program writes it: glTF 2.0 in one file, its metal and the paper's lines.

const NUMBERS = { 5121: Uint8Array, 5123: Uint16Array, 5125: Uint32Array, 5126: Float32Array };
const PARTS = { SCALAR: 1, VEC2: 2, VEC3: 3, VEC4: 4 };
const TRIANGLES = 4;
const LINES = 1;

/**
 * The metal and the lines of a model's bytes: the metal's `places` and `normals` (x, y, z of each
 * corner, metres, y up), `colours` (red, green, blue and opacity) and `triangles` (three corners
 * each); of each line its `name`, `places` (of pieces, two ends each) and `colour`. `words` say what
 * there is to say about it.
 */
export function modelOf(bytes) {
  const view = new DataView(bytes);
  const size = view.getUint32(12, true);
  const told = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 20, size)));
  const start = 20 + size + 8;

  function values(number) {
    const accessor = told.accessors[number];
    const part = told.bufferViews[accessor.bufferView];
    const at = start + (part.byteOffset ?? 0) + (accessor.byteOffset ?? 0);
    const count = accessor.count * PARTS[accessor.type];
    return new NUMBERS[accessor.componentType](bytes.slice(at), 0, count);
  }

  const model = { metal: null, lines: [], words: told.scenes[0].extras?.words ?? [] };
  for (const node of told.nodes) {
    if (node.mesh === undefined) continue;
    const [first] = told.meshes[node.mesh].primitives;
    const places = values(first.attributes.POSITION);
    const colours = values(first.attributes.COLOR_0);
    if (first.mode === TRIANGLES)
      model.metal = {
        places,
        colours,
        normals: values(first.attributes.NORMAL),
        triangles: values(first.indices),
      };
    else if (first.mode === LINES)
      model.lines.push({ name: node.name, places, colour: [...colours.slice(0, 3)] });
  }
  return model;
}
