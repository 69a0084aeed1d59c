// Lists: what to look at, all lines, all writing, all that was told. Each flies to its place.

import { named, post } from "./ask.js";
import { button, element, field, say } from "./element.js";
import { isUnsure } from "./paper.js";
import { swatch } from "./line_panel.js";
import { writing } from "./tuck_panel.js";

const NAMES = { stop: "Settle before cutting", warning: "Look at", note: "Note" };

export function warningList(tools) {
  const { data } = tools;
  const order = ["stop", "warning", "note"];
  const remarks = data.remarks
    .map((remark, index) => ({ ...remark, index }))
    .sort((a, b) => order.indexOf(a.severity) - order.indexOf(b.severity));
  const accuracy = data.accuracy_mm
    ? element("p", {}, `The paper's edge is true to ${data.accuracy_mm.toFixed(1)} mm (19 times in 20).`)
    : null;
  const again = data.photos ? button("Read its photos again …", () => readAgain(tools)) : null;
  if (!remarks.length)
    return element("div", {}, accuracy, element("p", {}, "Nothing to look at."), again);
  return element(
    "div",
    {},
    accuracy,
    element(
      "ul",
      { class: "list" },
      remarks.map((remark) =>
        element(
          "li",
          { class: remark.severity },
          element(
            "button",
            { type: "button", "data-remark": remark.index, onclick: () => fly(remark, tools) },
            element("strong", {}, `${NAMES[remark.severity]}: `),
            remark.words,
          ),
        ),
      ),
    ),
    again,
  );
}

async function readAgain(tools) {
  try {
    const begun = await post(`${named(tools.name)}/again`);
    location.hash = `#/shoot/${begun.shoot}`;
  } catch (error) {
    say(error.message, true);
  }
}

function fly(remark, tools) {
  const { data } = tools;
  const line = data.lines.find((each) => remark.about.includes(each.id));
  const tuck = data.tucks.find((each) => remark.about.includes(each.id));
  if (tuck) tools.select({ kind: "tuck", id: tuck.id });
  else if (line) tools.select({ kind: "line", id: line.id });
  const at = remark.at ?? tuck?.tip ?? line?.points[Math.floor(line.points.length / 2)];
  if (at) tools.fly(at);
}

export function lineList(tools) {
  const { data, looks } = tools;
  return element(
    "ul",
    { class: "list" },
    data.lines.map((line) =>
      element(
        "li",
        { class: isUnsure(line, data) ? "unsure" : "" },
        element(
          "button",
          { type: "button", onclick: () => tools.select({ kind: "line", id: line.id }, true) },
          swatch(line.withdrawn ? looks.withdrawn : looks.roles[line.role]),
          `${line.id}${line.group ? ` ${line.group}` : ""}: `,
          line.withdrawn ? "struck out" : looks.roles[line.role].words,
          isUnsure(line, data) ? ` (unsure, ${Math.round(100 * line.role_confidence)} %)` : "",
          `, ${line.length}`,
        ),
      ),
    ),
  );
}

export function writingList(tools) {
  const { data } = tools;
  if (!data.notes.length) return element("p", {}, "There is no writing on the paper.");
  return element(
    "ul",
    { class: "list" },
    data.notes.map((note) => {
      const words = field(`${note.id} says`, { value: note.text ?? "", maxlength: 200 });
      const [x0, y0, x1, y1] = note.box;
      const at = [(x0 + x1) / 2, (y0 + y1) / 2];
      return element(
        "li",
        {},
        writing(note),
        words,
        element(
          "div",
          { class: "row" },
          button("Save", () => tools.tell([{ kind: "words", at, words: words.input.value }])),
          button("Show", () => tools.fly(at)),
        ),
      );
    }),
  );
}

export function factList(tools) {
  const { data } = tools;
  if (!data.facts.length) return element("p", {}, "Nothing has been told about this pattern yet.");
  return element(
    "ul",
    { class: "list" },
    [...data.facts].reverse().map((fact) =>
      element(
        "li",
        { class: fact.counts ? "" : "gone" },
        element("span", {}, `${fact.number}. ${fact.words}${fact.counts ? "" : " (taken back)"}`),
        element(
          "div",
          { class: "row" },
          fact.at ? button("Show", () => tools.fly(fact.at)) : null,
          fact.counts
            ? button("Take back", () => tools.takeBack(fact.number))
            : button("Tell again", () => tools.tellAgain(fact.number)),
        ),
      ),
    ),
  );
}
