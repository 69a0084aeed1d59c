// Planar geometry of polylines, in mm.

export function pathOf(line) {
  return line.closed ? [...line.points, line.points[0]] : line.points;
}

/** The place on a path that lies nearest to a point: how far off, how far along, and where. */
export function nearestOn(path, [x, y]) {
  let best = { off: Infinity, along: 0, at: path[0] };
  let gone = 0;
  for (let i = 1; i < path.length; i += 1) {
    const [ax, ay] = path[i - 1];
    const dx = path[i][0] - ax;
    const dy = path[i][1] - ay;
    const square = dx * dx + dy * dy;
    const share = square ? Math.min(Math.max(((x - ax) * dx + (y - ay) * dy) / square, 0), 1) : 0;
    const at = [ax + share * dx, ay + share * dy];
    const off = Math.hypot(x - at[0], y - at[1]);
    const length = Math.sqrt(square);
    if (off < best.off) best = { off, along: gone + share * length, at };
    gone += length;
  }
  return best;
}

/** The place so many mm along a path. */
export function placeAlong(path, along) {
  let left = along;
  for (let i = 1; i < path.length; i += 1) {
    const dx = path[i][0] - path[i - 1][0];
    const dy = path[i][1] - path[i - 1][1];
    const length = Math.hypot(dx, dy);
    if (left <= length && length > 0) {
      const share = left / length;
      return [path[i - 1][0] + share * dx, path[i - 1][1] + share * dy];
    }
    left -= length;
  }
  return path[path.length - 1];
}

export function lengthOf(path) {
  let length = 0;
  for (let i = 1; i < path.length; i += 1)
    length += Math.hypot(path[i][0] - path[i - 1][0], path[i][1] - path[i - 1][1]);
  return length;
}

export function boxOf(points) {
  const xs = points.map((at) => at[0]);
  const ys = points.map((at) => at[1]);
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}
