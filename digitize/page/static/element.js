// Elements made from words: what people write becomes text, never markup.

const SVG = "http://www.w3.org/2000/svg";

function filled(made, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) made.setAttribute(name, value);
  }
  made.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return made;
}

export function element(name, attributes = {}, ...children) {
  return filled(document.createElement(name), attributes, children);
}

export function drawn(name, attributes = {}, ...children) {
  return filled(document.createElementNS(SVG, name), attributes, children);
}

export function button(words, press, attributes = {}) {
  return element("button", { type: "button", onclick: press, ...attributes }, words);
}

/** A labelled field; its input is `.input`. */
export function field(words, attributes = {}, kind = "input") {
  const id = `field-${(field.count = (field.count ?? 0) + 1)}`;
  const input = element(kind, { id, ...attributes });
  const whole = element("div", { class: "field" }, element("label", { for: id }, words), input);
  whole.input = input;
  return whole;
}

export function choice(words, options, value) {
  const id = `field-${(field.count = (field.count ?? 0) + 1)}`;
  const input = element(
    "select",
    { id },
    options.map(([key, name]) => element("option", { value: key, selected: key === value }, name)),
  );
  const whole = element("div", { class: "field" }, element("label", { for: id }, words), input);
  whole.input = input;
  return whole;
}

/** Fill a part of the page anew; the keyboard, and what was typed, stay where they were. */
export function refilled(part, ...children) {
  const reached = "button, a, input, select, textarea, summary";
  const at = [...part.querySelectorAll(reached)].indexOf(document.activeElement);
  const words = at < 0 ? "" : document.activeElement.textContent;
  const typed = new Map(fields(part).filter(([, each]) => isChanged(each)));
  part.replaceChildren(...children);
  for (const [label, each] of fields(part))
    if (typed.has(label)) each.value = typed.get(label).value;
  if (at < 0) return;
  const now = [...part.querySelectorAll(reached)];
  (now.find((each) => words && each.textContent === words) ?? now[Math.min(at, now.length - 1)])?.focus();
}

const fields = (part) =>
  [...part.querySelectorAll(".field")].map((each) => [
    each.querySelector("label").textContent,
    each.querySelector("input:not([type=checkbox]), select, textarea"),
  ]).filter(([, each]) => each);

function isChanged(each) {
  if (each.tagName === "SELECT") return ![...each.options].find((one) => one.value === each.value)?.defaultSelected;
  return each.value !== each.defaultValue;
}

let fading = null;

/** Say something to everybody, also to who listens. */
export function say(words, wrong = false) {
  const said = document.getElementById("said");
  said.textContent = words;
  said.classList.toggle("wrong", wrong);
  said.classList.add("shown");
  clearTimeout(fading);
  fading = setTimeout(() => said.classList.remove("shown"), wrong ? 9000 : 2500);
}
