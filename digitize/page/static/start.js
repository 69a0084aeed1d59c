// Which view is open: by what stands behind # in the address.

import { element, say } from "./element.js";
import { benchView } from "./bench.js";
import { drawerView } from "./drawer.js";
import { patternView } from "./pattern.js";
import { phoneView } from "./phone.js";
import { shootView } from "./shoot.js";
import { spaceView } from "./space.js";
import { takeView } from "./take.js";

const VIEWS = [
  [/^#\/$/, benchView],
  [/^#\/shoot(?:\/([0-9a-f]+))?$/, shootView],
  [/^#\/pattern\/([^/]+)$/, patternView],
  [/^#\/take\/([^/]+)$/, takeView],
  [/^#\/space\/([^/]+)$/, spaceView],
  [/^#\/drawer$/, drawerView],
  [/^#\/phone$/, phoneView],
];
let close = null;
let turn = 0;
let opened = false;

async function open() {
  const place = location.hash || "#/";
  const [view, ...given] = found(place);
  close?.();
  close = null;
  turn += 1;
  const now = turn;
  const main = document.getElementById("view");
  const fresh = main.cloneNode();
  main.replaceWith(fresh);
  fresh.className = "";
  document.body.classList.toggle("working", view === patternView);
  for (const link of document.querySelectorAll("nav a"))
    if (link.getAttribute("href") === place) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  try {
    const ended = await view(fresh, ...given);
    if (now === turn) close = ended;
    else ended?.(); // another view was opened meanwhile
  } catch (error) {
    fresh.replaceChildren(element("p", { class: "wrong" }, error.message));
    if (now === turn) say(error.message, true);
  }
  if (now !== turn) return;
  const heading = fresh.querySelector("h1");
  document.title = heading ? `${heading.textContent} - Paper patterns` : "Paper patterns";
  if (opened) (heading ?? fresh).focus();
  opened = true;
}

function found(place) {
  for (const [pattern, view] of VIEWS) {
    const match = pattern.exec(place);
    if (match) return [view, ...match.slice(1).map((part) => part && decodeURIComponent(part))];
  }
  return [benchView];
}

addEventListener("hashchange", open);
open();
