// The drawer: kept patterns, found by words, with pictures.

import { get, post } from "./ask.js";
import { button, element, field, say } from "./element.js";

export async function drawerView(main) {
  const words = field("Words of the name, part, reference or notes", { type: "search" });
  const list = element("ul", { class: "cards" });
  const said = element("p");
  main.append(element("h1", { tabindex: -1 }, "The drawer of kept patterns"), words, said, list);
  let asked = 0;
  async function look() {
    const turn = (asked += 1);
    const found = await get(`/api/drawer?words=${encodeURIComponent(words.input.value)}`);
    if (turn !== asked) return;
    said.textContent = found.kept.length
      ? found.damages.join("; ")
      : "Nothing is kept that fits. A pattern is kept under Take.";
    list.replaceChildren(...found.kept.map(card));
  }
  words.input.addEventListener("input", () => look().catch((error) => say(error.message, true)));
  await look();
}

function card(each) {
  const about = [each.part, each.reference].filter(Boolean).join(", ");
  return element(
    "li",
    { class: "card" },
    element("img", {
      src: `/api/drawer/${encodeURIComponent(each.pattern)}/picture`,
      alt: "",
      loading: "lazy",
    }),
    element("h2", {}, each.pattern),
    about ? element("p", {}, about) : null,
    element(
      "p",
      {},
      `${each.side} side, ${Math.round(each.width_mm)} x ${Math.round(each.height_mm)} mm; ` +
        `revision ${each.revision} of ${each.kept.slice(0, 10)}`,
    ),
    button("Put on the bench", async () => {
      try {
        const taken = await post(`/api/drawer/${encodeURIComponent(each.pattern)}/take`);
        location.hash = `#/pattern/${encodeURIComponent(taken.pattern)}`;
      } catch (error) {
        say(error.message, true);
      }
    }),
  );
}
