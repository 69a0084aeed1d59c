// Let a phone in: a code to scan.

import { post } from "./ask.js";
import { button, element } from "./element.js";

export async function phoneView(main) {
  main.append(element("h1", { tabindex: -1 }, "On the phone"));
  const place = element("div");
  main.append(place);
  async function anew() {
    const code = await post("/api/phone").catch((error) => ({ wrong: error.message }));
    if (code.wrong) {
      place.replaceChildren(element("p", {}, code.wrong));
      return;
    }
    place.replaceChildren(
      element("p", {}, "Scan this with the phone's camera. It lets one phone in, once."),
      element("img", { class: "code", src: code.picture, alt: "QR code" }),
      element("p", { class: "small" }, code.url),
      button("Another phone", anew),
    );
  }
  await anew();
}
