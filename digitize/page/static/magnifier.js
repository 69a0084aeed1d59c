// What a finger covers, enlarged beside it.

import { element } from "./element.js";

const SIDE_PX = 136;
const AWAY_PX = 96;
const TIMES = 3;
const LEAST_SCALE = 6; // pixels a mm

export function magnifier() {
  const canvas = element("canvas", { class: "glass", hidden: true, "aria-hidden": "true" });
  const context = canvas.getContext("2d");

  function show([x, y], [width], at, scale, picture, data, looks) {
    const dots = devicePixelRatio || 1;
    canvas.width = canvas.height = SIDE_PX * dots;
    canvas.hidden = false;
    const half = SIDE_PX / 2;
    const above = y - AWAY_PX - half;
    const aside = above < 0 ? (x < width / 2 ? AWAY_PX : -AWAY_PX) : 0;
    canvas.style.left = `${Math.min(Math.max(x + aside - half, 0), width - SIDE_PX)}px`;
    canvas.style.top = `${Math.max(above, 0)}px`;
    const enlarged = Math.max(TIMES * scale, LEAST_SCALE) * dots;
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.fillStyle = "#8a8578";
    context.fillRect(0, 0, canvas.width, canvas.height);
    if (picture?.image.complete && picture.image.naturalWidth) {
      const seen = canvas.width / enlarged / picture.mmPerPx;
      const left = (at[0] - picture.left) / picture.mmPerPx - seen / 2;
      const top = (picture.top - at[1]) / picture.mmPerPx - seen / 2;
      context.drawImage(picture.image, left, top, seen, seen, 0, 0, canvas.width, canvas.height);
    }
    const reach = canvas.width / enlarged;
    context.setTransform(
      enlarged,
      0,
      0,
      -enlarged,
      canvas.width / 2 - enlarged * at[0],
      canvas.height / 2 + enlarged * at[1],
    );
    context.lineWidth = (1.5 * dots) / enlarged;
    for (const line of data.lines) {
      context.strokeStyle = (looks.roles[line.role] ?? looks.roles.unknown).colour;
      context.beginPath();
      let before = null;
      for (const point of line.points) {
        const near = Math.abs(point[0] - at[0]) < reach + 20 && Math.abs(point[1] - at[1]) < reach + 20;
        if (near && before) context.lineTo(...point);
        else if (near) context.moveTo(...point);
        before = near ? point : null;
      }
      context.stroke();
    }
    context.setTransform(dots, 0, 0, dots, 0, 0);
    for (const [colour, thick] of [
      ["#ffffff", 3],
      ["#b00020", 1],
    ]) {
      context.strokeStyle = colour;
      context.lineWidth = thick;
      context.beginPath();
      context.moveTo(half - 14, half);
      context.lineTo(half + 14, half);
      context.moveTo(half, half - 14);
      context.lineTo(half, half + 14);
      context.stroke();
    }
  }

  return { canvas, show, hide: () => (canvas.hidden = true) };
}
