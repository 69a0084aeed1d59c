// A line: what it is, how sure, how long, its radius; and all that can be told about it.

import { lengthIn } from "./ask.js";
import { button, choice, drawn, element, field, say } from "./element.js";
import { lengthOf, nearestOn, pathOf, placeAlong } from "./geometry.js";

export function linePanel(line, tools) {
  return element(
    "div",
    {},
    element("h2", {}, `${line.id}${line.group ? ` ${line.group}` : ""}`),
    element("p", {}, saying(line, tools.looks)),
    element("h3", {}, "What it is"),
    roles(line, tools),
    ofTuck(line, tools),
    element("h3", {}, "Radius"),
    radius(line, tools),
    element("h3", {}, "Note"),
    note(line, tools),
    element("h3", {}, "Put it right"),
    repairs(line, tools),
  );
}

function saying(line, looks) {
  const what = line.withdrawn ? "struck out" : looks.roles[line.role].words;
  const sure = line.role_by === "told" ? "told" : `${Math.round(100 * line.role_confidence)} % sure`;
  return `${what}, ${sure}; ${line.length} long`;
}

export function swatch(look) {
  return drawn(
    "svg",
    { class: "swatch", viewBox: "0 0 36 8", "aria-hidden": "true" },
    drawn("path", {
      d: "M1 4H35",
      stroke: look.colour,
      "stroke-width": 3,
      "stroke-dasharray": look.dashes.join(" ") || null,
    }),
  );
}

function roles(line, tools) {
  return element(
    "div",
    { class: "roles" },
    Object.entries(tools.looks.roles).map(([role, look]) =>
      element(
        "button",
        {
          type: "button",
          "aria-pressed": String(line.role === role),
          "data-role": role,
          onclick: () =>
            tools.tell([{ kind: "role", on: line.id, role }], () => {
              Object.assign(line, { role, role_by: "told", role_confidence: 1 });
            }),
        },
        swatch(look),
        look.words,
      ),
    ),
  );
}

function ofTuck(line, tools) {
  const tuck = tools.data.tucks.find((each) =>
    [each.slit, each.lap_line, each.other_crease].includes(line.id),
  );
  if (!tuck) return null;
  return element(
    "p",
    {},
    button(`It is of tuck ${tuck.id}`, () => tools.select({ kind: "tuck", id: tuck.id })),
  );
}

function radius(line, tools) {
  const value = field("Radius", { autocomplete: "off", placeholder: '3 1/4" or 82' });
  const unit = choice(
    "in",
    [
      ["mm", "mm"],
      ["inch", "inch"],
    ],
    tools.data.unit,
  );
  const path = pathOf(line);

  const read = () => lengthIn(value.input.value, unit.input.value);

  async function all() {
    try {
      await tools.tell([{ kind: "radius", on: line.id, radii: [{ radius: await read() }] }]);
    } catch (error) {
      say(error.message, true);
    }
  }

  async function somewhere() {
    let mm;
    try {
      mm = await read();
    } catch (error) {
      say(error.message, true);
      return;
    }
    tools.point(`Tap where on ${line.id} the radius is ${value.input.value}.`, (at) => {
      tools.stopPointing();
      // As the line is now: another page may have told of it meanwhile.
      const now = tools.data.lines.find((each) => each.id === line.id);
      if (!now) return;
      const radii = now.radii.map((each) => ({
        at: placeAlong(pathOf(now), each.along),
        radius: each.radius,
      }));
      radii.push({ at: nearestOn(pathOf(now), at).at, radius: mm });
      tools.tell([{ kind: "radius", on: line.id, radii }]);
    });
  }

  const length = lengthOf(path) || 1;
  return element(
    "div",
    {},
    element(
      "ul",
      { class: "radii" },
      line.radius_words.map((each) =>
        element(
          "li",
          {},
          line.radii.length
            ? `${each.words} at ${Math.round((100 * each.along) / length)} %`
            : `${each.words} all along`,
        ),
      ),
    ),
    element("div", { class: "row" }, value, unit),
    element(
      "div",
      { class: "row" },
      button("All along", all),
      button("At a place …", somewhere),
      line.radius_words.length
        ? button("None", () => tools.tell([{ kind: "radius", on: line.id, radii: [] }]))
        : null,
    ),
  );
}

function note(line, tools) {
  const words = field("Words about it", { value: line.note ?? "", maxlength: 200 });
  return element(
    "div",
    { class: "row" },
    words,
    button("Save", () => tools.tell([{ kind: "words", on: line.id, words: words.input.value }])),
  );
}

function repairs(line, tools) {
  const on = line.id;
  const path = pathOf(line);
  const at = (place) => nearestOn(path, place).at;

  function once(words, fact) {
    tools.point(words, (place) => {
      tools.stopPointing();
      tools.tell([fact(place)]);
    });
  }

  function other(words, fact) {
    tools.point(words, (place) => {
      const near = tools.data.lines
        .filter((each) => each.id !== on)
        .map((each) => ({ id: each.id, off: nearestOn(pathOf(each), place).off }))
        .sort((a, b) => a.off - b.off)[0];
      if (!near || near.off > 10) {
        say("There is no other line so close: tap on it.", true);
        return;
      }
      tools.stopPointing();
      tools.tell([fact(near.id)]);
    });
  }

  function stretch() {
    const ends = [];
    tools.point("Tap both ends of the stretch to erase.", (place) => {
      ends.push(at(place));
      tools.sketched(ends);
      if (ends.length < 2) return;
      tools.stopPointing();
      tools.tell([{ kind: "erase", on, between: ends }]);
    });
  }

  const erase = () =>
    tools.tell([{ kind: "erase", on }], () => {
      tools.data.lines = tools.data.lines.filter((each) => each.id !== on);
      tools.select(null);
    });
  return element(
    "div",
    { class: "row" },
    button("Erase it", erase),
    button("Erase a stretch …", stretch),
    button("Split …", () => once("Tap where it is two lines.", (p) => ({ kind: "split", on, at: at(p) }))),
    button("Join …", () => other("Tap the line that it goes on as.", (to) => ({ kind: "join", on, to }))),
    line.closed ? null : button("Close", () => tools.tell([{ kind: "close", on }])),
    button("It is a cut", () => tools.tell([{ kind: "cut", on }])),
    button("A cut, with its lap line …", () =>
      other("Tap its lap line.", (id) => ({ kind: "cut", on, lap_line: id })),
    ),
    button("It is a fold", () => tools.tell([{ kind: "fold", on }])),
    button("A fold, with its other crease …", () =>
      other("Tap the other crease.", (id) => ({ kind: "fold", on, other: id })),
    ),
    ["slit", "crease"].includes(line.role)
      ? button("No tuck", () => tools.tell([{ kind: "no-tuck", on }]))
      : null,
    element("p", { class: "small" }, "Drag a round end to move it."),
  );
}
