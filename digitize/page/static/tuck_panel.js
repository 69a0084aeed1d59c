// A tuck and its laps; and a piece of writing.

import { lengthIn } from "./ask.js";
import { button, choice, element, field, say } from "./element.js";

export function tuckPanel(tuck, tools) {
  const lap = field("Lap measured by hand", { autocomplete: "off" });
  const depth = field("so far from the tip", { autocomplete: "off" });
  const unit = choice(
    "in",
    [
      ["mm", "mm"],
      ["inch", "inch"],
    ],
    tools.data.unit,
  );
  async function enter() {
    try {
      const [far, wide] = await Promise.all(
        [depth, lap].map((each) => lengthIn(each.input.value, unit.input.value)),
      );
      await tools.tell([{ kind: "take-up", on: tuck.slit, laps: [{ depth: far, lap: wide }] }]);
    } catch (error) {
      say(error.message, true);
    }
  }
  const marks = [tuck.slit, tuck.lap_line, tuck.other_crease].filter(Boolean);
  return element(
    "div",
    {},
    element("h2", {}, `${tuck.id}, a ${tuck.kind}`),
    element("p", {}, `${tuck.lap} at the trim edge${tuck.unsure ? "; unsure, not counted" : ""}`),
    element(
      "div",
      { class: "row" },
      marks.map((id) => button(id, () => tools.select({ kind: "line", id }, true))),
    ),
    element("h3", {}, "Put it right"),
    element(
      "div",
      { class: "row" },
      tuck.lap_line
        ? button(`Swap: ${tuck.lap_line} is the cut, ${tuck.slit} its lap line`, () =>
            tools.tell([{ kind: "cut", on: tuck.lap_line, lap_line: tuck.slit }]),
          )
        : null,
      tuck.unsure
        ? button("It is as read", () =>
            tools.tell([
              tuck.kind === "fold"
                ? { kind: "fold", on: tuck.slit, other: tuck.other_crease }
                : { kind: "cut", on: tuck.slit, lap_line: tuck.lap_line },
            ]),
          )
        : null,
      button("It is no tuck", () => tools.tell([{ kind: "no-tuck", on: tuck.slit }])),
    ),
    element("div", { class: "row" }, lap, depth, unit, button("Tell", enter)),
    element("h3", {}, "As measured"),
    element(
      "table",
      {},
      element(
        "thead",
        {},
        element("tr", {}, ["from the tip", "lap", "by"].map((words) => element("th", {}, words))),
      ),
      element(
        "tbody",
        {},
        tuck.stations.map((each) =>
          element("tr", {}, [each.depth, each.lap, each.evidence].map((words) => element("td", {}, words))),
        ),
      ),
    ),
  );
}

export function notePanel(note, tools) {
  const words = field("It says", { value: note.text ?? "", maxlength: 200 });
  const [x0, y0, x1, y1] = note.box;
  return element(
    "div",
    {},
    element("h2", {}, `${note.id}, writing`),
    writing(note),
    element(
      "div",
      { class: "row" },
      words,
      button("Save", () =>
        tools.tell([{ kind: "words", at: [(x0 + x1) / 2, (y0 + y1) / 2], words: words.input.value }]),
      ),
    ),
  );
}

export function writing(note) {
  if (!note.picture) return null;
  return element("img", {
    class: "writing",
    src: `data:image/png;base64,${note.picture}`,
    alt: note.text || `writing ${note.id}`,
  });
}
