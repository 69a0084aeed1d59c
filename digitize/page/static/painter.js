// A form painted on a canvas: nearest metal hides what is behind it, lamps mirror in it if wanted,
// and the paper's lines lie on it. No GPU is asked for: every phone and every browser can do it.

const LAMPS = 14; // over half a turn
const LAMP_SHARE = 0.32; // of the way from one to the next that shines
const DARKEST = 0.35;
const NEARER = 0.0015; // metres that lines stand out, so that the metal they lie on hides none
const LINE_PX = 2;

/** Turns a place's x, y, z by an angle about the upright, then tilts it; z is towards the eye. */
export function turned(turn, tilt) {
  const [s, c] = [Math.sin(turn), Math.cos(turn)];
  const [u, v] = [Math.sin(tilt), Math.cos(tilt)];
  return [c, 0, s, u * s, v, -u * c, -v * s, u, v * c];
}

/** The middle of a model, and how far its furthest corner is from there, metres. */
export function middleOf({ metal: { places } }) {
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (let k = 0; k < places.length; k++) {
    low[k % 3] = Math.min(low[k % 3], places[k]);
    high[k % 3] = Math.max(high[k % 3], places[k]);
  }
  const middle = low.map((each, axis) => (each + high[axis]) / 2);
  return { middle, reach: Math.hypot(...high.map((each, axis) => (each - low[axis]) / 2)) };
}

/**
 * Paint a model on a canvas.
 *
 * `look` has `turn` and `tilt` (radians), `scale` (pixels per metre), `shift` (pixels, from the
 * canvas's middle), `middle` (the place that it turns about) and `lamps`, whether they are seen.
 */
export function paint(canvas, { metal, lines }, look) {
  const { width, height } = canvas;
  const context = canvas.getContext("2d");
  const picture = context.createImageData(width, height);
  const pixels = picture.data;
  const nearest = new Float32Array(width * height).fill(-Infinity);
  const by = turned(look.turn, look.tilt);
  const seen = seenBy(by, look, width, height);
  const at = seen(metal.places);
  const normals = mixed(by, metal.normals);
  const { triangles, colours } = metal;
  for (let t = 0; t < triangles.length; t += 3)
    triangle(triangles[t], triangles[t + 1], triangles[t + 2]);
  for (const line of lines) {
    const ends = seen(line.places);
    for (let k = 0; k < ends.length; k += 6) piece(ends, k, line.colour);
  }
  context.putImageData(picture, 0, 0);

  function triangle(a, b, c) {
    const [ax, ay, bx, by_, cx, cy] = [at[3 * a], at[3 * a + 1], at[3 * b], at[3 * b + 1], at[3 * c], at[3 * c + 1]];
    const whole = (bx - ax) * (cy - ay) - (by_ - ay) * (cx - ax);
    if (Math.abs(whole) < 1e-6) return;
    const left = Math.max(Math.ceil(Math.min(ax, bx, cx)), 0);
    const right = Math.min(Math.floor(Math.max(ax, bx, cx)), width - 1);
    const top = Math.max(Math.ceil(Math.min(ay, by_, cy)), 0);
    const bottom = Math.min(Math.floor(Math.max(ay, by_, cy)), height - 1);
    for (let y = top; y <= bottom; y++)
      for (let x = left; x <= right; x++) {
        const second = ((x - ax) * (cy - ay) - (y - ay) * (cx - ax)) / whole;
        const third = ((bx - ax) * (y - ay) - (by_ - ay) * (x - ax)) / whole;
        const first = 1 - second - third;
        if (first < -1e-6 || second < -1e-6 || third < -1e-6) continue;
        const depth = first * at[3 * a + 2] + second * at[3 * b + 2] + third * at[3 * c + 2];
        const pixel = y * width + x;
        if (depth <= nearest[pixel]) continue;
        nearest[pixel] = depth;
        let nx = first * normals[3 * a] + second * normals[3 * b] + third * normals[3 * c];
        let ny = first * normals[3 * a + 1] + second * normals[3 * b + 1] + third * normals[3 * c + 1];
        let nz = first * normals[3 * a + 2] + second * normals[3 * b + 2] + third * normals[3 * c + 2];
        const long = Math.hypot(nx, ny, nz) || 1;
        const facing = Math.abs(nz) / long;
        [nx, ny, nz] = [(nx / long) * Math.sign(nz || 1), (ny / long) * Math.sign(nz || 1), facing];
        const light = DARKEST + (1 - DARKEST) * facing;
        // The way to the eye, mirrored, ends at a lamp or between two.
        const angle = Math.atan2(2 * nz * ny, 2 * nz * nx) / Math.PI;
        const lit = look.lamps && (((angle * LAMPS) % 1) + 1) % 1 < LAMP_SHARE ? 70 : 0;
        for (let k = 0; k < 3; k++) {
          const own = first * colours[4 * a + k] + second * colours[4 * b + k] + third * colours[4 * c + k];
          pixels[4 * pixel + k] = own * light + lit;
        }
        pixels[4 * pixel + 3] = 255;
      }
  }

  function piece(ends, k, colour) {
    const [ax, ay, az, bx, by_, bz] = ends.slice(k, k + 6);
    const steps = Math.max(Math.ceil(Math.hypot(bx - ax, by_ - ay)), 1);
    for (let step = 0; step <= steps; step++) {
      const share = step / steps;
      const left = Math.round(ax + share * (bx - ax));
      const top = Math.round(ay + share * (by_ - ay));
      const depth = az + share * (bz - az) + NEARER;
      for (let y = top; y < top + LINE_PX; y++)
        for (let x = left; x < left + LINE_PX; x++) {
          if (x < 0 || y < 0 || x >= width || y >= height) continue;
          const pixel = y * width + x;
          if (depth < nearest[pixel]) continue;
          pixels.set([...colour, 255], 4 * pixel);
        }
    }
  }
}

function mixed(by, places) {
  const found = new Float32Array(places.length);
  for (let k = 0; k < places.length; k += 3)
    for (let row = 0; row < 3; row++)
      found[k + row] =
        by[3 * row] * places[k] + by[3 * row + 1] * places[k + 1] + by[3 * row + 2] * places[k + 2];
  return found;
}

/** What carries places to pixels from the left and the top, and metres towards the eye. */
function seenBy(by, look, width, height) {
  const [x, y] = mixed(by, look.middle);
  return (places) => {
    const found = mixed(by, places);
    for (let k = 0; k < found.length; k += 3) {
      found[k] = width / 2 + look.shift[0] + look.scale * (found[k] - x);
      found[k + 1] = height / 2 + look.shift[1] - look.scale * (found[k + 1] - y);
    }
    return found;
  };
}
