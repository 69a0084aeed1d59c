// Take what the metal needs: drawings for either side, and a place in the drawer.

import { get, named, post } from "./ask.js";
import { button, choice, element, field, say } from "./element.js";

const DRAWINGS = [
  ["job", "Job sheet on A4", "PDF to print: the steps in order, plan, lengths, shrink"],
  ["job-letter", "Job sheet on Letter", "the same on Letter paper"],
  ["a4", "Tiles on A4", "PDF to print at 100 % and tape together, true size"],
  ["letter", "Tiles on Letter", "the same on Letter paper"],
  ["pdf", "One large page", "PDF at true size, for a plotter"],
  ["dxf", "DXF", "for a cutting table or CAD"],
  ["svg", "SVG", "for a vector editor"],
];

export async function takeView(main, name) {
  const pattern = await get(named(name));
  const other = { left: "right", right: "left", unknown: "opposite" }[pattern.side];
  const side = choice(
    "Side",
    [
      ["this", `This side (${pattern.side}), marked face up`],
      ["other", `The other side (${other}), mirrored, marked face down`],
    ],
    "this",
  );
  const links = element("ul", { class: "takes" });
  function list() {
    links.replaceChildren(
      ...DRAWINGS.map(([format, words, about]) =>
        element(
          "li",
          {},
          element(
            "a",
            {
              class: "button",
              href: `${named(name)}/drawing/${format}?side=${side.input.value}`,
              target: "_blank",
              rel: "noopener",
            },
            words,
          ),
          element("span", {}, about),
        ),
      ),
    );
  }
  side.input.addEventListener("change", list);
  list();
  main.append(
    element(
      "p",
      {},
      element("a", { href: `#/pattern/${encodeURIComponent(name)}` }, "Back to the pattern"),
    ),
    element("h1", { tabindex: -1 }, `Take ${pattern.name}`),
    ...[warnings(pattern)].filter(Boolean),
    element("h2", {}, "Drawings"),
    side,
    links,
    element(
      "p",
      { class: "small" },
      "Gloves for sharp edges, eye protection, try a scrap first. Structural or roadworthiness " +
        "parts: local codes and licensed practice.",
    ),
    element("h2", {}, "In space"),
    element(
      "p",
      {},
      element(
        "a",
        { class: "button", href: `#/space/${encodeURIComponent(name)}` },
        "See the panel in space",
      ),
      " with gauges to hold against the metal",
    ),
    keeping(name, pattern),
    element("h2", {}, "Clear away"),
    button("Take it off the bench", () => remove(name, pattern)),
  );
}

function warnings(pattern) {
  const open = pattern.remarks.filter((each) => each.severity !== "note");
  if (!open.length) return null;
  return element(
    "details",
    {},
    element("summary", {}, `${open.length} to look at before cutting`),
    element("ul", {}, open.map((each) => element("li", {}, each.words))),
  );
}

function keeping(name, pattern) {
  const part = field("Vehicle or part", { value: pattern.part ?? "", maxlength: 200 });
  const reference = field("Customer's reference", { value: pattern.reference ?? "", maxlength: 200 });
  const note = field("Words to find it by", { maxlength: 200 });
  const again = field("It is the same part as what is kept under this name, from other photos", {
    type: "checkbox",
  });
  const press = button(
    "Keep",
    async () => {
      press.disabled = true;
      say("keeping …");
      try {
        const kept = await post(`${named(name)}/keep`, {
          part: part.input.value,
          reference: reference.input.value,
          note: note.input.value,
          revise: again.input.checked,
        });
        say(`Kept as ${kept.words}`);
      } catch (error) {
        say(error.message, true);
      }
      press.disabled = false;
    },
    { class: "main" },
  );
  return element(
    "section",
    {},
    element("h2", {}, "Keep in the drawer"),
    part,
    reference,
    note,
    again,
    press,
  );
}

async function remove(name, pattern) {
  if (!confirm(`Take ${pattern.name} off the bench? What is not kept in the drawer is lost.`)) return;
  try {
    await post(`${named(name)}/remove`);
    location.hash = "#/";
  } catch (error) {
    say(error.message, true);
  }
}
