// Photographs: taken or chosen, looked at one by one, read together.

import { get, post, send } from "./ask.js";
import { button, choice, drawn, element, field, say } from "./element.js";

export async function shootView(main, key) {
  if (!key) {
    const begun = await post("/api/shoots");
    history.replaceState(null, "", `#/shoot/${begun.shoot}`);
    key = begun.shoot;
  }
  const path = `/api/shoots/${key}`;
  const stop = new AbortController();
  let sending = Promise.resolve(); // one after another, so that they stay in order
  const photos = element("ul", { class: "shots" });
  const form = readingForm(path);
  const progress = element("div", { class: "progress" });
  main.append(
    element("h1", { tabindex: -1 }, "Photograph the paper"),
    element(
      "p",
      {},
      "The paper flat on the floor, marked face up, a scale card beside each side. From above its " +
        "middle, all of it in the picture, no zoom. Three photos from different sides show how it " +
        "curls; one will do if weights hold it flat.",
    ),
    element(
      "div",
      { class: "row" },
      files("Take a photo", { capture: "environment" }),
      files("Choose photos", { multiple: true }),
      button("Begin anew", anew),
    ),
    photos,
    form.whole,
    progress,
  );

  async function anew() {
    const begun = await post("/api/shoots", { anew: true });
    location.hash = `#/shoot/${begun.shoot}`;
  }

  function files(words, attributes) {
    const input = element("input", {
      type: "file",
      accept: "image/*,.heic,.heif,.tif,.tiff",
      ...attributes,
      onchange: () => {
        for (const file of input.files) sending = sending.then(() => upload(file));
        input.value = "";
      },
    });
    return element("label", { class: "button main" }, words, input);
  }

  async function upload(file) {
    const bar = element("progress", { max: 1, value: 0, "aria-label": "sending" });
    const waiting = element("li", { class: "shot" }, `sending ${file.name} `, bar);
    photos.append(waiting);
    try {
      await send(`${path}/photos`, file, (share) => (bar.value = share));
    } catch (error) {
      say(error.message, true);
      const again = button("Send again", () => {
        waiting.remove();
        upload(file);
      });
      waiting.replaceChildren(`${file.name}: ${error.message} `, again);
      return;
    }
    waiting.remove();
  }

  const shown = new Map();
  function show(shoot) {
    for (const [number, shot] of shown)
      if (!shoot.photos.some((each) => each.number === number)) {
        shot.whole.remove();
        shown.delete(number);
      }
    for (const each of shoot.photos) {
      if (!shown.has(each.number)) {
        shown.set(each.number, shotCard(path, each.number, form));
        photos.append(shown.get(each.number).whole);
      }
      shown.get(each.number).show(each, each === shoot.photos[0]);
    }
    form.ready(shoot);
    progress.replaceChildren(...stages(path, shoot));
    if (shoot.pattern) location.replace(`#/pattern/${encodeURIComponent(shoot.pattern)}`);
  }

  (async () => {
    let known = "";
    while (!stop.signal.aborted) {
      try {
        const shoot = await get(`${path}?known=${known}`, stop.signal);
        known = shoot.version;
        show(shoot);
        if (shoot.pattern) return;
      } catch (error) {
        if (stop.signal.aborted) return;
        say(error.message, true);
        await new Promise((resolve) => setTimeout(resolve, 2000));
      }
    }
  })();
  return () => stop.abort();
}

function shotCard(path, number, form) {
  const image = element("img", { alt: `photo ${number}`, class: "missing" });
  const over = drawn("svg", { class: "over", "aria-hidden": "true", preserveAspectRatio: "none" });
  const words = element("ul", { class: "faults" });
  const corners = drawn("polygon", { class: "told-edge" });
  const told = [];
  let size = null;
  const showing = button("Show where the paper is …", () => {
    const begins = whole.classList.toggle("pointing");
    showing.textContent = begins ? "Done" : "Show where the paper is …";
    if (!begins) {
      if (told.length < 4) forget();
      return;
    }
    forget();
    say("Tap the paper's corners in turn, four or more.");
  });
  function forget() {
    told.length = 0;
    corners.setAttribute("points", "");
    form.paper(number, null);
  }
  over.addEventListener("pointerup", (event) => {
    if (!whole.classList.contains("pointing") || !size) return;
    const box = over.getBoundingClientRect();
    const at = [event.clientX - box.left, event.clientY - box.top];
    told.push([(at[0] / box.width) * size[0], (at[1] / box.height) * size[1]]);
    corners.setAttribute("points", told.map((each) => each.join(",")).join(" "));
    form.paper(number, told.length > 3 ? [...told] : null);
  });
  const state = element("p", { class: "state" }, "looking at it …");
  const whole = element(
    "li",
    { class: "shot" },
    element("div", { class: "framed" }, image, over),
    state,
    words,
    showing,
    button("Leave it out", () =>
      post(`${path}/photos/${number}/drop`).catch((error) => say(error.message, true)),
    ),
  );
  image.addEventListener("load", () => image.classList.remove("missing"));
  function show(each, first) {
    const shows = each.shows;
    const faults = [...(shows?.faults ?? [])];
    if (each.wrong) faults.unshift({ words: each.wrong, stops: true });
    over.replaceChildren(corners);
    if (shows) {
      size = shows.size;
      if (!image.src) image.src = `${path}/photos/${number}`;
      over.setAttribute("viewBox", `0 0 ${shows.size[0]} ${shows.size[1]}`);
      const ring = (around, kind) =>
        drawn("polygon", { class: kind, points: around.map((at) => at.join(",")).join(" ") });
      if (shows.paper) over.append(ring(shows.paper, "paper-edge"));
      for (const card of shows.cards) over.append(ring(card.around, "card-edge"));
      for (const fault of faults) if (fault.around) over.append(ring(fault.around, "fault"));
    }
    words.replaceChildren(
      ...faults.map((fault) =>
        element("li", { class: fault.stops ? "stops" : "" }, fault.words),
      ),
    );
    const cards = shows?.cards.length ?? 0;
    const seen = `${cards} ${cards === 1 ? "card" : "cards"}${shows?.paper ? ", the paper" : ""}`;
    showing.hidden = !first;
    if (!each.looked_at) state.textContent = cards ? `${seen}; looking on …` : "looking at it …";
    else if (!shows || faults.some((fault) => fault.stops)) state.textContent = "Not good enough: again, please.";
    else if (faults.length) state.textContent = `${seen}; it can be read, but:`;
    else state.textContent = `Good: ${seen}.`;
    whole.classList.toggle("good", each.looked_at && shows !== null && !faults.length);
    whole.classList.toggle("bad", faults.some((fault) => fault.stops));
  }
  return { whole, show };
}

function readingForm(path) {
  let first = null;
  let papers = {};
  const name = field("Name", { value: "pattern", maxlength: 80 });
  const side = choice(
    "Side",
    [
      ["unknown", "not said"],
      ["left", "left"],
      ["right", "right"],
    ],
    "unknown",
  );
  const flat = field("Weights or pins hold the paper flat all round", { type: "checkbox" });
  const across = field("150 mm rule across a card measures", { inputmode: "decimal", placeholder: "150" });
  const along = field("150 mm rule along it measures", { inputmode: "decimal", placeholder: "150" });
  const press = button(
    "Read",
    async () => {
      try {
        await post(`${path}/read`, {
          name: name.input.value,
          side: side.input.value,
          held_flat: flat.input.checked,
          measured_x: across.input.value,
          measured_y: along.input.value,
          paper_px: first === papers.number ? papers.corners : null,
        });
      } catch (error) {
        say(error.message, true);
      }
    },
    { class: "main", disabled: true },
  );
  let filled = false;
  const whole = element(
    "section",
    { class: "form" },
    name,
    side,
    flat,
    element("details", {}, element("summary", {}, "The cards' print, as measured"), across, along),
    press,
  );
  function ready(shoot) {
    press.disabled = !shoot.photos.length || shoot.reading;
    first = shoot.photos[0]?.number ?? null;
    if (filled || !shoot.again) return;
    filled = true;
    name.input.value = shoot.asked.name;
    side.input.value = shoot.asked.side;
    flat.input.checked = shoot.asked.held_flat === true;
    across.input.value = shoot.asked.measured_x ?? "";
    along.input.value = shoot.asked.measured_y ?? "";
  }
  return {
    whole,
    ready,
    /** Where the paper is in a photo; it counts if that is the first. */
    paper: (number, corners) => (papers = { number, corners }),
  };
}

function stages(path, shoot) {
  const wrong = shoot.wrong ? [element("p", { class: "wrong" }, shoot.wrong)] : [];
  if (!shoot.reading) return wrong;
  const at = Math.max(shoot.stages.indexOf(shoot.stage), 0);
  return [
    element("progress", { max: shoot.stages.length, value: at + 0.5, "aria-label": "reading" }),
    element("p", {}, `reading: ${shoot.stage}`),
    button("Stop", () => post(`${path}/stop`).catch((error) => say(error.message, true))),
  ];
}
