// A pattern's panel in space: solved when asked for, turned by finger, mouse or keys, either side.

import { bytes, get, named, post } from "./ask.js";
import { button, choice, element, field, say } from "./element.js";
import { modelOf } from "./model.js";
import { middleOf, paint } from "./painter.js";

const VIEWS = {
  above: [0, Math.PI / 2],
  front: [0, 0],
  right: [-Math.PI / 2, 0],
  corner: [-0.6, 0.65],
};
const STEP = 0.1; // radians a key turns by
const PER_PX = 0.008; // radians a finger turns by
const SHOWN = 0.85; // of the canvas, that the panel fills
const FLAT = 1.4;

export async function spaceView(main, name) {
  const pattern = await get(named(name));
  const path = `${named(name)}/form`;
  const stop = new AbortController();
  const body = element("div", {});
  main.append(
    element(
      "p",
      {},
      element("a", { href: `#/pattern/${encodeURIComponent(name)}` }, "Back to the pattern"),
    ),
    element("h1", { tabindex: -1 }, `${pattern.name} in space`),
    body,
  );
  let shown = null;

  function solving(form) {
    const at = Math.max(form.stages.indexOf(form.stage), 0);
    body.replaceChildren(
      element("p", { role: "status" }, `solving: ${form.stage} …`),
      element("progress", { max: form.stages.length, value: at + 1, "aria-label": "solving" }),
      button("Stop", () => told(`${path}/stop`)),
    );
  }

  function asking(form) {
    body.replaceChildren(
      ...(form.wrong ? [element("p", { class: "wrong", role: "alert" }, form.wrong)] : []),
      element(
        "p",
        {},
        "From the paper's finished lengths and the radii told, the panel's shape in space is solved, " +
          "with what it may be off by, and gauges to hold against the metal. It takes half a minute.",
      ),
      button("Solve", () => told(path), { class: "main" }),
    );
  }

  async function told(where) {
    try {
      await post(where);
    } catch (error) {
      say(error.message, true);
    }
  }

  (async () => {
    let known = "";
    while (!stop.signal.aborted) {
      try {
        const form = await get(`${path}?known=${known}`, stop.signal);
        known = form.version;
        if (form.solving) solving(form);
        else if (!form.there) asking(form);
        else {
          shown = await panel(body, name, path, pattern);
          return;
        }
        if (!form.solving) await new Promise((resolve) => setTimeout(resolve, 400));
      } catch (error) {
        if (stop.signal.aborted) return;
        body.replaceChildren(element("p", { class: "wrong" }, error.message));
        await new Promise((resolve) => setTimeout(resolve, 2000));
      }
    }
  })();
  return () => {
    stop.abort();
    shown?.();
  };
}

/** Show a form that is solved; what it gives ends that. */
async function panel(body, name, path, pattern) {
  const other = { left: "right", right: "left", unknown: "opposite" }[pattern.side];
  const side = choice(
    "Side",
    [
      ["", `This side (${pattern.side})`],
      [".mirrored", `The other side (${other}), mirrored`],
    ],
    "",
  );
  const lamps = field("Lamps mirrored in it: smooth lines, smooth metal", { type: "checkbox" });
  const canvas = element("canvas", {
    class: "space",
    tabindex: 0,
    role: "application",
    "aria-label": `${pattern.name} in space; arrows turn, plus and minus enlarge, 0 shows all`,
  });
  const words = element("ul", { class: "words" });
  const links = element("ul", { class: "takes" });
  const looks = [
    ["From above", "above"],
    ["From the front", "front"],
    ["From the right", "right"],
    ["From a corner", "corner"],
  ].map(([said, key]) => button(said, () => turnTo(...VIEWS[key])));
  const zoom = [
    button("+", () => enlarge(1.3), { "aria-label": "Larger" }),
    button("−", () => enlarge(1 / 1.3), { "aria-label": "Smaller" }),
    button("All", fit, { "aria-label": "Show all of the panel" }),
  ];
  body.replaceChildren(
    element("div", { class: "row" }, side, lamps),
    canvas,
    element("div", { class: "row" }, ...zoom, ...looks),
    words,
    element("h2", {}, "Take"),
    links,
    element(
      "p",
      { class: "small" },
      "Check against the panel. Gloves for sharp edges, eye protection, try a scrap first. " +
        "Structural or roadworthiness parts: local codes and licensed practice.",
    ),
  );

  let model = null;
  const [turn, tilt] = VIEWS.corner;
  const look = { turn, tilt, scale: 1, shift: [0, 0], middle: [0, 0, 0], lamps: false };
  let reach = 1;
  let waiting = false;

  function show() {
    if (waiting || !model) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      paint(canvas, model, look);
      canvas.dataset.turn = look.turn.toFixed(3);
      canvas.dataset.tilt = look.tilt.toFixed(3);
      canvas.dataset.scale = look.scale.toFixed(1);
    });
  }

  function fit() {
    // A panel is flatter than it is long: not all of the ball about it has to be seen.
    look.scale = (SHOWN * Math.min(canvas.width, FLAT * canvas.height)) / (2 * reach);
    look.shift = [0, 0];
    show();
  }

  function enlarge(times) {
    look.scale *= times;
    look.shift = look.shift.map((each) => each * times);
    show();
  }

  function turnTo(turn, tilt) {
    [look.turn, look.tilt] = [turn, Math.max(Math.min(tilt, Math.PI / 2), -Math.PI / 2)];
    show();
  }

  async function open() {
    const end = side.input.value;
    try {
      model = modelOf(await bytes(`${path}/form${end}.glb`));
    } catch (error) {
      say(error.message, true);
      return;
    }
    ({ middle: look.middle, reach } = middleOf(model));
    words.replaceChildren(...model.words.map((each) => element("li", {}, each)));
    links.replaceChildren(
      ...[
        [`form${end}.pdf`, "Form sheet", "PDF: views, sizes, lengths before and after"],
        [`gauges${end}.pdf`, "Gauges", "PDF to print at 100 %, to hold against the metal"],
        [`gauges${end}.dxf`, "Gauges, DXF", "for a cutting table"],
        [`form${end}.glb`, "Model, GLB", "for a viewer"],
        [`form${end}.stl`, "Model, STL", "for CAD"],
      ].map(([file, said, about]) =>
        element(
          "li",
          {},
          element(
            "a",
            { class: "button", href: `${path}/${file}`, target: "_blank", rel: "noopener" },
            said,
          ),
          element("span", {}, about),
        ),
      ),
    );
    canvas.dataset.side = end || "this";
    fit();
  }

  side.input.addEventListener("change", open);
  lamps.input.addEventListener("change", () => {
    look.lamps = lamps.input.checked;
    show();
  });

  // Fingers, mouse, wheel and keys.

  const fingers = new Map();
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
  });
  canvas.addEventListener("pointermove", (event) => {
    const was = fingers.get(event.pointerId);
    if (!was) return;
    const now = [event.clientX, event.clientY];
    const [right, down] = [now[0] - was[0], now[1] - was[1]];
    const others = [...fingers].filter(([id]) => id !== event.pointerId);
    fingers.set(event.pointerId, now);
    if (!others.length && !event.shiftKey) {
      turnTo(look.turn + PER_PX * right, look.tilt + PER_PX * down);
      return;
    }
    const per = canvas.width / canvas.clientWidth;
    const share = others.length ? 0.5 : 1; // of two fingers each moves the middle by half
    look.shift = [look.shift[0] + share * per * right, look.shift[1] + share * per * down];
    if (others.length) {
      const [, still] = others[0];
      const apart = (at) => Math.hypot(at[0] - still[0], at[1] - still[1]);
      enlarge(apart(now) / Math.max(apart(was), 1));
    } else show();
  });
  for (const ends of ["pointerup", "pointercancel"])
    canvas.addEventListener(ends, (event) => fingers.delete(event.pointerId));
  canvas.addEventListener(
    "wheel",
    (event) => {
      enlarge(Math.exp(-event.deltaY / 600));
      event.preventDefault();
    },
    { passive: false },
  );
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (way) turnTo(look.turn + STEP * way[0], look.tilt + STEP * way[1]);
    else if (event.key === "+" || event.key === "=") enlarge(1.3);
    else if (event.key === "-") enlarge(1 / 1.3);
    else if (event.key === "0") fit();
    else return;
    event.preventDefault();
  });

  const watching = new ResizeObserver(() => {
    const sharp = Math.min(devicePixelRatio, 2);
    const before = canvas.width;
    canvas.width = Math.max(Math.round(canvas.clientWidth * sharp), 1);
    canvas.height = Math.max(Math.round(canvas.clientHeight * sharp), 1);
    if (!model) return;
    if (canvas.width === before) show();
    else fit();
  });
  watching.observe(canvas);
  await open();
  return () => watching.disconnect();
}
