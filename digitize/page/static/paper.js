// The paper from above at true size, with lines over it: moved and enlarged with fingers, wheel, keys.
//
// `view` maps mm (y up) to pixels of the screen: x = left + scale * X, y = top - scale * Y.

import { drawn, element } from "./element.js";
import { boxOf, nearestOn, pathOf } from "./geometry.js";
import { magnifier } from "./magnifier.js";

const MOST_SCALE = 20; // pixels a mm: 0.05 mm a pixel
const LEAST_SCALE = 0.05;
const FINGER_PX = 24;
const MOVED_PX = 7;
const COARSE_PX = 2000;
const SURE = 0.8; // less, and a proposed role is shown as unsure

export const isUnsure = (line, data) =>
  (line.role_by === "proposed" && line.role_confidence < SURE) ||
  data.tucks.some((tuck) => tuck.unsure && [tuck.slit, tuck.lap_line].includes(line.id));

export function paper(looks, told) {
  const view = { scale: 1, left: 0, top: 0 };
  const photo = drawn("g", { transform: "matrix(1 0 0 -1 0 0)", class: "photo" });
  const ground = drawn("g", { class: "ground" });
  const lines = drawn("g", { class: "lines" });
  const sketch = drawn("g", { class: "sketch" });
  const world = drawn("g", {}, photo, ground, lines, sketch);
  const labels = drawn("g", { class: "labels" });
  const marks = drawn("g", { class: "marks" });
  const svg = drawn(
    "svg",
    { class: "paper", tabindex: 0, role: "application", "aria-label": told.label },
    world,
    labels,
    marks,
  );
  const glass = magnifier();
  const cross = element("div", { class: "cross", "aria-hidden": "true" });
  const stage = element("div", { class: "stage" }, svg, glass.canvas, cross);
  const made = new Map(); // of each line: what it was drawn from, and its elements
  let data = null;
  let pictures = null;
  let pictured = "";
  let mode = null;
  let selected = null;

  // Places.

  const size = () => [svg.clientWidth || 1, svg.clientHeight || 1];
  const toScreen = ([x, y]) => [view.left + view.scale * x, view.top - view.scale * y];
  const toPaper = ([x, y]) => [(x - view.left) / view.scale, (view.top - y) / view.scale];
  const inStage = (event) => {
    const box = svg.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };

  let waiting = false;
  function place() {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      world.setAttribute(
        "transform",
        `matrix(${view.scale} 0 0 ${-view.scale} ${view.left} ${view.top})`,
      );
      for (const label of [...labels.children, ...marks.children]) {
        const [x, y] = toScreen(label.at);
        label.setAttribute("transform", `translate(${x} ${y})`);
      }
      labels.classList.toggle("small", view.scale < 0.9);
      labels.classList.toggle("tiny", view.scale < 0.55);
      pictures?.sharpen();
    });
  }

  function enlarge(factor, [x, y]) {
    const scale = Math.min(Math.max(view.scale * factor, LEAST_SCALE), MOST_SCALE);
    const [px, py] = toPaper([x, y]);
    view.scale = scale;
    view.left = x - scale * px;
    view.top = y + scale * py;
    place();
  }

  function fit() {
    const [x0, y0, x1, y1] = boxOf(data.outline);
    const [width, height] = size();
    view.scale = Math.min((0.94 * width) / (x1 - x0), (0.94 * height) / (y1 - y0));
    view.left = width / 2 - (view.scale * (x0 + x1)) / 2;
    view.top = height / 2 + (view.scale * (y0 + y1)) / 2;
    place();
  }

  function fly(at, least = 3) {
    const [width, height] = size();
    view.scale = Math.max(view.scale, least);
    view.left = width / 2 - view.scale * at[0];
    view.top = height / 2 + view.scale * at[1];
    const ring = drawn("circle", { class: "pulse", r: 22 });
    ring.at = at;
    marks.append(ring);
    setTimeout(() => ring.remove(), 2400);
    place();
  }

  // What is drawn.

  function show(now) {
    const first = data === null;
    data = now;
    const look = JSON.stringify([data.rectified, data.picture]);
    if (look !== pictured) {
      pictured = look;
      photo.replaceChildren();
      pictures = data.rectified ? picturesOf(data, told.picture, photo, view) : null;
    }
    drawGround();
    const gone = new Set(made.keys());
    for (const line of data.lines) {
      gone.delete(line.id);
      showLine(line);
    }
    for (const id of gone) {
      for (const part of made.get(id).parts) part.remove();
      made.delete(id);
    }
    for (const tuck of data.tucks) showTuck(tuck);
    select(selected);
    if (first) fit();
    place();
  }

  function drawGround() {
    const ring = (points, kind) =>
      drawn("path", { class: kind, d: `${trace(points)}Z`, "vector-effect": "non-scaling-stroke" });
    const open = (points, kind) =>
      drawn("path", { class: kind, d: trace(points), "vector-effect": "non-scaling-stroke" });
    ground.replaceChildren(
      ring(data.outline, "outline"),
      ...data.outline_unsure.map((points) => open(points, "outline unsure")),
      ...data.unseen.map((each) => ring(each.boundary, "unseen")),
      ...data.zones.map((each) => ring(each.boundary, "zone")),
      ...data.areas.map((each) => ring(each.boundary, "area")),
    );
    for (const label of [...labels.querySelectorAll(".of-tuck, .of-note, .of-remark")]) label.remove();
    for (const note of data.notes) {
      const [x0, y0, x1, y1] = note.box;
      ground.append(ring([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], "note"));
    }
    data.remarks.forEach((remark, index) => {
      if (!remark.at || remark.severity === "note") return;
      const flag = drawn("path", { class: `of-remark ${remark.severity}`, d: "M0 0 -7 -15 7 -15Z" });
      flag.at = remark.at;
      flag.remark = index;
      labels.append(flag);
    });
  }

  function showLine(line) {
    const unsure = isUnsure(line, data);
    const key = JSON.stringify([line.closed, line.role, line.withdrawn, line.group, unsure]);
    const before = made.get(line.id);
    if (before?.key === key && isSame(before.points, line.points)) {
      before.points = line.points;
      return;
    }
    for (const part of before?.parts ?? []) part.remove();
    const look = line.withdrawn ? looks.withdrawn : (looks.roles[line.role] ?? looks.roles.unknown);
    const d = trace(line.points) + (line.closed ? "Z" : "");
    const stroke = { d, "vector-effect": "non-scaling-stroke" };
    const dashes = look.dashes.map((each) => 1.6 * each).join(" ");
    const casing = drawn("path", { class: unsure ? "casing unsure" : "casing", ...stroke });
    const path = drawn("path", {
      class: "line",
      "data-line": line.id,
      "data-role": line.role,
      stroke: look.colour,
      "stroke-dasharray": dashes || null,
      ...stroke,
    });
    const label = drawn(
      "text",
      { class: "of-line", y: -6 },
      `${line.id}${line.group ? ` ${line.group}` : ""}${unsure ? " ?" : ""}`,
    );
    label.at = line.points[Math.floor(line.points.length / 2)];
    lines.append(casing, path);
    labels.append(label);
    made.set(line.id, { key, points: line.points, parts: [casing, path, label], path });
  }

  function showTuck(tuck) {
    const label = drawn(
      "text",
      { class: tuck.unsure ? "of-tuck unsure" : "of-tuck", x: 8, y: 4 },
      `${tuck.id} ${tuck.lap_at_trim.toFixed(1)}${tuck.unsure ? " ?" : ""}`,
    );
    label.at = tuck.tip;
    const dot = drawn("circle", { class: "of-tuck", r: 4 });
    dot.at = tuck.tip;
    labels.append(label, dot);
  }

  function select(what) {
    selected = what;
    for (const [id, each] of made)
      each.path.classList.toggle("selected", what?.kind === "line" && what.id === id);
    for (const handle of [...marks.querySelectorAll(".handle")]) handle.remove();
    const line = what?.kind === "line" && data?.lines.find((each) => each.id === what.id);
    if (line && !line.closed)
      for (const index of [0, line.points.length - 1]) {
        const handle = drawn("circle", { class: "handle", r: 9 });
        handle.at = line.points[index];
        handle.line = line.id;
        marks.append(handle);
      }
    place();
  }

  /** What is being pointed out: places, and a path through them. */
  function sketched(points, path = points) {
    sketch.replaceChildren(
      drawn("path", {
        class: "sketched",
        d: path.length > 1 ? trace(path) : "",
        "vector-effect": "non-scaling-stroke",
      }),
    );
    for (const old of [...marks.querySelectorAll(".pointed")]) old.remove();
    for (const at of points) {
      const dot = drawn("circle", { class: "pointed", r: 6 });
      dot.at = at;
      marks.append(dot);
    }
    place();
  }

  // What is under a finger.

  function found(at) {
    const reach = FINGER_PX / view.scale;
    let best = null;
    for (const line of data.lines) {
      const near = nearestOn(pathOf(line), at);
      if (near.off < reach && (!best || near.off < best.off))
        best = { kind: "line", id: line.id, off: near.off };
    }
    for (const tuck of data.tucks) {
      // Its cut ends at the same place: whoever taps the dot means the tuck.
      const off = Math.hypot(at[0] - tuck.tip[0], at[1] - tuck.tip[1]) - 0.5 * reach;
      if (off < 0 && (!best || off < best.off)) best = { kind: "tuck", id: tuck.id, off };
    }
    data.remarks.forEach((remark, index) => {
      if (!remark.at || remark.severity === "note") return;
      const [x, y] = toScreen(remark.at);
      const [px, py] = toScreen(at);
      const off = (Math.hypot(px - x, py - y + 10) + 4) / view.scale;
      if (off < reach && (!best || off < best.off)) best = { kind: "remark", id: index, off };
    });
    if (best) return best;
    const note = data.notes.find(
      ({ box }) => at[0] >= box[0] && at[0] <= box[2] && at[1] >= box[1] && at[1] <= box[3],
    );
    return note ? { kind: "note", id: note.id } : null;
  }

  // Fingers, mouse, keys.

  const fingers = new Map();
  let begun = null; // where a single finger came down, and what it drags

  svg.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    svg.setPointerCapture(event.pointerId);
    const at = inStage(event);
    fingers.set(event.pointerId, at);
    if (fingers.size > 1) {
      begun = null;
      glass.hide();
      return;
    }
    // A mouse is exact and moves the paper; a finger first shows what it covers.
    const aims = mode !== null && event.pointerType !== "mouse";
    begun = { at, moved: false, aims, handle: mode ? null : handleNear(at) };
    if (aims || begun.handle) aim(at);
  });

  svg.addEventListener("pointermove", (event) => {
    const at = inStage(event);
    const before = fingers.get(event.pointerId);
    if (!before) return;
    if (fingers.size === 2) {
      const [one, two] = [...fingers.entries()];
      const other = one[0] === event.pointerId ? two[1] : one[1];
      const was = Math.hypot(before[0] - other[0], before[1] - other[1]);
      const is = Math.hypot(at[0] - other[0], at[1] - other[1]);
      const middle = [(at[0] + other[0]) / 2, (at[1] + other[1]) / 2];
      view.left += (at[0] - before[0]) / 2;
      view.top += (at[1] - before[1]) / 2;
      if (was > 1) enlarge(is / was, middle);
    } else if (begun) {
      if (Math.hypot(at[0] - begun.at[0], at[1] - begun.at[1]) > MOVED_PX) begun.moved = true;
      if (begun.aims || begun.handle) {
        aim(at);
        if (begun.handle) drag(begun.handle, at);
      } else if (begun.moved) {
        view.left += at[0] - before[0];
        view.top += at[1] - before[1];
        place();
      }
    }
    fingers.set(event.pointerId, at);
  });

  function up(event) {
    const at = fingers.get(event.pointerId);
    fingers.delete(event.pointerId);
    const now = begun;
    if (fingers.size === 0) {
      begun = null;
      glass.hide();
    }
    if (!at || !now || event.type === "pointercancel") {
      if (now?.handle) select(selected);
      return;
    }
    if (now.handle) {
      if (now.moved) told.dragged(now.handle.line, now.handle.at, toPaper(at));
      select(selected);
    } else if (mode && (now.aims || !now.moved)) mode(toPaper(at));
    else if (mode) return;
    else if (!now.moved) told.tapped(found(toPaper(at)));
  }
  svg.addEventListener("pointerup", up);
  svg.addEventListener("pointercancel", up);

  svg.addEventListener(
    "wheel",
    (event) => {
      event.preventDefault();
      enlarge(Math.exp(-event.deltaY * (event.ctrlKey ? 0.01 : 0.0016)), inStage(event));
    },
    { passive: false },
  );

  const STEPS = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] };
  svg.addEventListener("keydown", (event) => {
    const middle = size().map((side) => side / 2);
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (STEPS[event.key]) {
      const fine = event.shiftKey ? 0.1 : 1;
      view.left += fine * STEPS[event.key][0];
      view.top += fine * STEPS[event.key][1];
      place();
    } else if (event.key === "+" || event.key === "=") enlarge(1.3, middle);
    else if (event.key === "-") enlarge(1 / 1.3, middle);
    else if (event.key === "0") fit();
    else if (event.key === "Enter") {
      if (mode) mode(toPaper(middle));
      else told.tapped(found(toPaper(middle)));
    } else return;
    event.preventDefault();
  });

  function handleNear([x, y]) {
    for (const handle of marks.querySelectorAll(".handle")) {
      const [hx, hy] = toScreen(handle.at);
      if (Math.hypot(x - hx, y - hy) < FINGER_PX) return { at: handle.at, mark: handle, line: handle.line };
    }
    return null;
  }

  function drag(handle, [x, y]) {
    handle.mark.setAttribute("transform", `translate(${x} ${y})`);
  }

  function aim(at) {
    glass.show(at, size(), toPaper(at), view.scale, pictures, data, looks);
  }

  const watching = new ResizeObserver(() => place());
  watching.observe(svg);

  return {
    stage,
    svg,
    show,
    fit,
    fly,
    select,
    sketched,
    enlarge: (factor) => enlarge(factor, size().map((side) => side / 2)),
    /** Places are pointed out from now on, and `heard` hears them; null: lines are tapped again. */
    point(heard) {
      mode = heard;
      stage.classList.toggle("pointing", heard !== null);
    },
    /** `photo`, `lines` or `both`. */
    layers(which) {
      stage.dataset.layers = which;
    },
    close() {
      watching.disconnect();
    },
  };
}

/** Whether two polylines are one; most often they are the very same. */
function isSame(one, two) {
  return (
    one === two ||
    (one.length === two.length &&
      one.every(([x, y], index) => x === two[index][0] && y === two[index][1]))
  );
}

function trace(points) {
  return points.map(([x, y], index) => `${index ? "L" : "M"}${x.toFixed(2)} ${y.toFixed(2)}`).join("");
}

/** The paper's picture: a coarse one at once, the whole one when it is looked at from close by. */
function picturesOf(data, path, group, view) {
  const { left, top, mm_per_px: step, size_px: pixels } = data.rectified;
  const image = drawn("image", { preserveAspectRatio: "none" });
  group.append(image);
  const coarse = new Image();
  const whole = new Image();
  const state = { image: coarse, mmPerPx: step, left, top };
  function place(shown, count) {
    image.setAttribute("x", left - step / 2);
    image.setAttribute("y", -(top + step / 2));
    image.setAttribute("width", count[0] * step);
    image.setAttribute("height", count[1] * step);
    image.setAttribute("href", shown.src);
    state.image = shown;
    state.mmPerPx = (count[0] * step) / shown.naturalWidth;
  }
  let size = pixels;
  let sharp = false;
  coarse.addEventListener("load", () => size && !sharp && place(coarse, size));
  whole.addEventListener("load", () => {
    sharp = true;
    size = [whole.naturalWidth, whole.naturalHeight];
    place(whole, size);
  });
  coarse.src = `${path}?most=${COARSE_PX}&v=${data.picture}`;
  const full = `${path}?v=${data.picture}`;
  if (!pixels) whole.src = full;
  state.sharpen = () => {
    const enough = pixels ? COARSE_PX / (Math.max(...pixels) * step) : 0;
    if (!whole.src && view.scale * devicePixelRatio > enough) whole.src = full;
  };
  return state;
}
