// The pattern itself: what it is called, of which side and part, in which unit, of which metal.

import { get } from "./ask.js";
import { button, choice, element, field, say } from "./element.js";

export function aboutPanel(tools) {
  const { data } = tools;
  const name = field("Name", { value: data.name, maxlength: 80 });
  const side = choice("Side", [["left", "left"], ["right", "right"], ["unknown", "not said"]], data.side);
  const part = field("Vehicle or part", { value: data.part ?? "", maxlength: 200 });
  const reference = field("Customer's reference", { value: data.reference ?? "", maxlength: 200 });
  const unit = choice("Lengths in", [["mm", "mm"], ["inch", "inch"]], data.unit);
  const sheet = field("Sheet metal", {
    value: data.sheet_words ?? "",
    placeholder: "steel 18 ga, aluminium 1.5 mm",
    maxlength: 60,
  });
  async function save() {
    const fact = { kind: "about" };
    const said = { name, side, part, reference, unit };
    for (const [key, each] of Object.entries(said))
      if (each.input.value.trim() !== (data[key] ?? "")) fact[key] = each.input.value.trim();
    try {
      if (sheet.input.value.trim() && sheet.input.value !== data.sheet_words)
        fact.sheet = await get(`/api/sheet?words=${encodeURIComponent(sheet.input.value)}`);
    } catch (error) {
      say(error.message, true);
      return;
    }
    if (Object.keys(fact).length > 1) tools.tell([fact]);
  }
  return element(
    "div",
    {},
    element(
      "p",
      {},
      "Tap a line, a tuck's tip or writing on the paper. Two fingers enlarge it; the wheel does too.",
    ),
    element("h2", {}, "The pattern"),
    name,
    side,
    part,
    reference,
    unit,
    sheet,
    button("Save", save, { class: "main" }),
  );
}
