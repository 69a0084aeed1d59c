// The bench: the patterns being worked on.

import { get, named } from "./ask.js";
import { button, element } from "./element.js";

export async function benchView(main) {
  main.append(element("h1", { tabindex: -1 }, "On the bench"));
  const patterns = await get("/api/patterns");
  main.append(
    element("p", {}, element("a", { class: "button main", href: "#/shoot" }, "Photograph a paper")),
  );
  if (!patterns.length)
    main.append(
      element(
        "p",
        {},
        "Nothing is here yet. Lay the paper on the floor, marked face up, a scale card beside each " +
          "side of it, and photograph it; or take a kept pattern out of the drawer.",
      ),
    );
  main.append(element("ul", { class: "cards" }, patterns.map(card)));
}

function card(each) {
  if (each.wrong) return element("li", { class: "card wrong" }, each.name, element("p", {}, each.wrong));
  const open = `#/pattern/${encodeURIComponent(each.id)}`;
  const warned = each.stops
    ? `${each.stops} to settle before cutting`
    : each.warnings
      ? `${each.warnings} to look at`
      : "";
  return element(
    "li",
    { class: "card" },
    element(
      "a",
      { href: open },
      each.picture
        ? element("img", {
            src: `${named(each.id)}/thumbnail?v=${each.version}`,
            alt: "",
            loading: "lazy",
          })
        : null,
      element("h2", {}, each.name),
    ),
    element("p", {}, `${each.side} side, ${each.size[0]} x ${each.size[1]} mm, ${each.tucks} tucks`),
    warned ? element("p", { class: "warned" }, warned) : null,
    element(
      "p",
      { class: "row" },
      button("Open", () => (location.hash = open)),
      button("Take", () => (location.hash = `#/take/${encodeURIComponent(each.id)}`)),
    ),
  );
}
