// One pattern: seen over the paper's picture, and put right. All that is told goes to the server as
// facts; what comes back is the pattern with all that follows from them.

import { aboutPanel } from "./about_panel.js";
import { get, named, post } from "./ask.js";
import { button, choice, element, refilled, say } from "./element.js";
import { linePanel } from "./line_panel.js";
import { factList, lineList, warningList, writingList } from "./lists.js";
import { paper } from "./paper.js";
import { notePanel, tuckPanel } from "./tuck_panel.js";

let looks = null;

export async function patternView(main, name) {
  looks ??= await get("/api/looks");
  let data = await get(named(name));
  let selected = null;
  let tab = "warnings";
  let telling = Promise.resolve();
  let told = 0;
  const stop = new AbortController();

  const sheet = paper(looks, {
    picture: `${named(name)}/picture`,
    label: `${data.name} from above; arrows move, plus and minus enlarge, 0 shows all`,
    tapped: (found) => select(found),
    dragged: (line, end, to) => tell([{ kind: "move-end", on: line, at: end, to }]),
  });

  const undo = button("↶", () => step("undo"), { "aria-label": "Undo", title: "Undo, Ctrl Z" });
  const redo = button("↷", () => step("redo"), { "aria-label": "Redo", title: "Redo, Ctrl Y" });
  const layers = choice(
    "Show",
    [
      ["both", "Photo and lines"],
      ["photo", "Photo"],
      ["lines", "Lines"],
    ],
    "both",
  );
  layers.input.addEventListener("change", () => sheet.layers(layers.input.value));
  const hint = element("div", { class: "hint", hidden: true, role: "group", "aria-label": "Pointing" });
  const zoom = element(
    "div",
    { class: "zoom" },
    button("+", () => sheet.enlarge(1.5), { "aria-label": "Larger" }),
    button("−", () => sheet.enlarge(1 / 1.5), { "aria-label": "Smaller" }),
    button("All", sheet.fit, { "aria-label": "Show all of the paper" }),
  );
  sheet.stage.append(zoom);
  const tabs = element("div", { class: "tabs", role: "tablist", "aria-label": "About the pattern" });
  const body = element("div", { class: "body", role: "tabpanel", id: "panel-body", tabindex: 0 });
  const panel = element("section", { class: "panel", "aria-label": "About the pattern" }, tabs, body);
  const bar = element(
    "div",
    { class: "bar" },
    undo,
    redo,
    button("Draw", drawLine, { "aria-label": "Draw a line" }),
    element("a", { class: "button main", href: `#/take/${encodeURIComponent(name)}` }, "Take"),
    element("a", { class: "button", href: `#/space/${encodeURIComponent(name)}` }, "In space"),
    layers,
  );
  const title = element("h1", { class: "title", tabindex: -1 });
  const words_of = {};
  const KINDS = {
    selected: "Chosen",
    warnings: "Look at",
    lines: "Lines",
    writing: "Writing",
    facts: "Told",
  };
  for (const [key, words] of Object.entries(KINDS)) {
    words_of[key] = button(words, () => open(key), {
      role: "tab",
      "aria-controls": "panel-body",
      id: `tab-${key}`,
    });
    tabs.append(words_of[key]);
  }
  tabs.addEventListener("keydown", (event) => {
    const keys = Object.keys(KINDS);
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    open(keys[(keys.indexOf(tab) + step + keys.length) % keys.length]);
    words_of[tab].focus();
    event.preventDefault();
  });

  function open(key) {
    tab = key;
    showAll();
  }
  main.className = "pattern";
  const halves = element("div", { class: "halves" }, sheet.stage, hint, panel);
  const lost = element("p", { class: "lost wrong", role: "alert", hidden: true });
  main.append(title, lost, bar, halves);

  // Telling.

  /** Tell facts; `at_once` shows on the page what they will do, before the server has answered. */
  function tell(facts, at_once = null) {
    const was = { ...data, lines: data.lines.map((line) => ({ ...line })) };
    if (at_once) {
      at_once();
      sheet.show(data);
      showAll();
    }
    told += 1;
    const turn = told;
    telling = telling.then(async () => {
      try {
        const before = new Set(data.lines.map((line) => line.id));
        const now = await post(`${named(name)}/facts`, { facts });
        if (turn === told) renew(now);
        const made = now.lines.find((line) => !before.has(line.id));
        const drawn = ["draw", "follow"].includes(facts.at(-1).kind);
        if (made && drawn && turn === told && hint.hidden) select({ kind: "line", id: made.id });
        say("kept");
        return true;
      } catch (error) {
        say(error.message, true);
        renew(await get(named(name)).catch(() => ({ ...was, version: "" })));
        return false;
      }
    });
    return telling;
  }

  function step(way) {
    told += 1;
    const turn = told;
    telling = telling.then(async () => {
      try {
        const now = await post(`${named(name)}/step/${way}`);
        if (turn === told) renew(now);
        say(way === "undo" ? "undone" : "told again");
      } catch (error) {
        say(error.message, true);
      }
    });
  }

  function renew(now) {
    data = now;
    if (selected && !there(selected)) selected = null;
    sheet.show(data);
    sheet.select(selected);
    showAll();
  }

  const there = ({ kind, id }) =>
    kind === "remark" ? id < data.remarks.length : data[`${kind}s`].some((each) => each.id === id);

  // What is selected, and what is said about it.

  function select(what, fly = false) {
    if (what?.kind === "remark") {
      tab = "warnings";
      showAll();
      body.querySelector(`[data-remark="${what.id}"]`)?.focus();
      return;
    }
    stopPointing();
    selected = what;
    if (what) tab = "selected";
    sheet.select(selected);
    showAll();
    body.scrollTop = 0;
    if (fly && what) sheet.fly(placeOf(what));
  }

  function placeOf({ kind, id }) {
    const found = data[`${kind}s`].find((each) => each.id === id);
    if (kind === "line") return found.points[Math.floor(found.points.length / 2)];
    if (kind === "tuck") return found.tip;
    return [(found.box[0] + found.box[2]) / 2, (found.box[1] + found.box[3]) / 2];
  }

  const tools = {
    get data() {
      return data;
    },
    looks,
    name,
    tell,
    select,
    point,
    stopPointing,
    sketched: sheet.sketched,
    fly: (at) => sheet.fly(at),
    takeBack: (number) => tell([{ kind: "take-back", fact: number }]),
    tellAgain: (number) => tell([{ kind: "tell-again", fact: number }]),
  };

  function showAll() {
    const warned = data.remarks.filter((each) => each.severity !== "note").length;
    title.textContent = `${data.name}, ${data.side} side`;
    undo.disabled = data.undo === null;
    redo.disabled = data.redo === null;
    words_of.warnings.textContent = `Look at (${warned})`;
    for (const [key, each] of Object.entries(words_of)) {
      each.setAttribute("aria-selected", String(tab === key));
      each.tabIndex = tab === key ? 0 : -1;
    }
    const shown = words_of[tab];
    tabs.scrollLeft = Math.max(shown.offsetLeft + shown.offsetWidth - tabs.clientWidth, 0);
    body.setAttribute("aria-labelledby", `tab-${tab}`);
    refilled(
      body,
      {
        selected: chosen,
        warnings: () => warningList(tools),
        lines: () => lineList(tools),
        writing: () => writingList(tools),
        facts: () => factList(tools),
      }[tab](),
    );
  }

  function chosen() {
    if (!selected) return aboutPanel(tools);
    const found = data[`${selected.kind}s`].find((each) => each.id === selected.id);
    return { line: linePanel, tuck: tuckPanel, note: notePanel }[selected.kind](found, tools);
  }

  // Pointing at places on the paper.

  /** Ask for places: `heard` is given each; `done`, where given, ends it with a button. */
  function point(words, heard, done = null, more = []) {
    hint.hidden = false;
    halves.classList.add("pointing");
    hint.replaceChildren(
      element("span", { role: "status" }, words),
      ...more,
      done ? button("Done", done, { class: "main" }) : "",
      button("Cancel", stopPointing),
    );
    sheet.point(heard);
  }

  function stopPointing() {
    hint.hidden = true;
    halves.classList.remove("pointing");
    sheet.point(null);
    sheet.sketched([]);
  }

  function drawLine() {
    const points = [];
    let asked = 0;
    const way = choice(
      "Line",
      [
        ["follow", "along the pencil"],
        ["draw", "straight from place to place"],
      ],
      "follow",
    );
    async function show() {
      const turn = (asked += 1);
      sheet.sketched(points);
      if (points.length < 2 || way.input.value === "draw") return;
      try {
        const found = await post(`${named(name)}/follow`, { points });
        if (turn === asked && !hint.hidden) sheet.sketched(points, found.points);
      } catch (error) {
        if (turn === asked) say(error.message, true);
      }
    }
    way.input.addEventListener("change", show);
    point(
      "Tap two or more places on the line, in order.",
      (at) => {
        points.push(at);
        show();
      },
      async () => {
        if (points.length < 2) {
          say("Two places at least.", true);
          return;
        }
        const fact = { kind: way.input.value, points: [...points] };
        stopPointing();
        tell([fact]);
      },
      [
        way,
        button("Back one", () => {
          points.pop();
          show();
        }),
      ],
    );
  }

  // Keys, and the other pages that are open on this pattern.

  function key(event) {
    const typing = ["INPUT", "TEXTAREA", "SELECT"].includes(event.target.tagName);
    if (event.key === "Escape") {
      if (!hint.hidden) stopPointing();
      else select(null);
    } else if (typing) return;
    else if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z")
      step(event.shiftKey ? "redo" : "undo");
    else if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "y") step("redo");
    else if (event.key === "Delete" && selected?.kind === "line")
      tell([{ kind: "erase", on: selected.id }]);
    else return;
    event.preventDefault();
  }
  addEventListener("keydown", key);

  (async () => {
    while (!stop.signal.aborted) {
      try {
        await seen();
        const now = await get(`${named(name)}/change?known=${data.version}`, stop.signal);
        lost.hidden = true;
        await telling;
        if (now.version !== data.version && !stop.signal.aborted) renew(await get(named(name)));
      } catch (error) {
        if (stop.signal.aborted) return;
        lost.textContent = error.message;
        lost.hidden = false;
        await new Promise((resolve) => setTimeout(resolve, 2000));
      }
    }
  })();

  /** Once this page is looked at: a browser has few connections for many pages. */
  function seen() {
    if (!document.hidden) return Promise.resolve();
    return new Promise((resolve) =>
      document.addEventListener("visibilitychange", resolve, { once: true }),
    );
  }

  sheet.show(data);
  showAll();
  return () => {
    stop.abort();
    sheet.close();
    removeEventListener("keydown", key);
  };
}
