// The state diagram: where the controller is and how it came there.

import { clock, draw, make, mark, say, toggle } from "./dom.js";

const W = 84, H = 30;
const PLACES = {
  WAKE: [50, 30], REST: [170, 30], WAITING: [300, 30], READY: [430, 30], "LEAD-IN": [560, 30],
  SERVICE: [50, 105], HELD: [170, 105], PURGING: [300, 105], GAP: [430, 105], RUN: [560, 105],
  TRIP: [300, 180], "RUN-DOWN": [560, 180], "BENCH-GAS": [50, 180], "BENCH-DRY": [170, 180],
};
// From, to, and how far the line is set off to one side so that there and back do not lie on each other.
const WAYS = [
  ["WAKE", "REST", 0], ["WAKE", "HELD", 0], ["HELD", "REST", 0], ["REST", "WAITING", 6], ["WAITING", "REST", 6],
  ["WAITING", "READY", 6], ["READY", "WAITING", 6], ["WAITING", "PURGING", 8], ["PURGING", "WAITING", 8], ["READY", "LEAD-IN", 0],
  ["LEAD-IN", "RUN", 0], ["RUN", "RUN-DOWN", 0], ["RUN-DOWN", "GAP", 0], ["GAP", "WAITING", 0], ["RUN-DOWN", "TRIP", 0],
  ["TRIP", "HELD", 6], ["TRIP", "GAP", 0], ["TRIP", "REST", 0], ["REST", "SERVICE", 0], ["SERVICE", "WAKE", 0],
];
const RECENT = 4;

// The point where the line between two boxes leaves the first one.
function edge([x, y], [toX, toY], off) {
  const dx = toX - x, dy = toY - y;
  const length = Math.hypot(dx, dy);
  const nx = (-dy / length) * off, ny = (dx / length) * off;
  const reach = Math.min(dx ? W / 2 / Math.abs(dx) : Infinity, dy ? H / 2 / Math.abs(dy) : Infinity);
  return [x + dx * reach + nx, y + dy * reach + ny];
}

function path(from, to, off) {
  const start = edge(PLACES[from], PLACES[to], off), end = edge(PLACES[to], PLACES[from], -off);
  return "M" + start.map((v) => v.toFixed(1)).join(" ") + "L" + end.map((v) => v.toFixed(1)).join(" ");
}

export class States {
  constructor(host, hello) {
    this.tickMs = hello.tick_ms;
    this.boxes = {};
    this.ways = {};
    const lines = draw("g", { class: "ways" }), boxes = draw("g", {});
    this.extra = draw("g", { class: "ways" });
    for (const [from, to, off] of WAYS) {
      const line = draw("path", { d: path(from, to, off), "marker-end": "url(#arrow)" });
      this.ways[from + ">" + to] = line;
      lines.append(line);
    }
    for (const name of hello.states) {
      const [x, y] = PLACES[name];
      const box = draw("g", { class: "state", transform: "translate(" + (x - W / 2) + " " + (y - H / 2) + ")" },
        draw("rect", { width: W, height: H, rx: 4 }), draw("text", { x: W / 2, y: H / 2 + 4, "text-anchor": "middle" }, name));
      this.boxes[name] = box;
      boxes.append(box);
    }
    const arrow = draw("marker", { id: "arrow", viewBox: "0 0 8 8", refX: 7, refY: 4, markerWidth: 7, markerHeight: 7, orient: "auto-start-reverse", markerUnits: "userSpaceOnUse" },
      draw("path", { d: "M0 1 L8 4 L0 7 z" }));
    this.drawing = draw("svg", { id: "states", viewBox: "0 0 610 212", role: "img", "aria-label": "State diagram" },
      draw("defs", {}, arrow), lines, this.extra,
      draw("text", { class: "tiny", x: 300, y: 208, "text-anchor": "middle" }, "from any state but SERVICE"), boxes);
    this.list = make("ol", { class: "moves", id: "moves" });
    host.append(this.drawing, this.list);
    this.shown = "";
  }

  update(frame) {
    const key = frame.state + "|" + frame.powered + "|" + JSON.stringify(frame.moves);
    if (key === this.shown) return;
    this.shown = key;
    for (const [name, box] of Object.entries(this.boxes)) toggle(box, "now", frame.powered && name === frame.state);
    for (const line of Object.values(this.ways)) line.removeAttribute("class");
    this.extra.replaceChildren();
    const recent = frame.moves.slice(-RECENT).reverse();
    recent.forEach(([, from, to], age) => this.light(from, to, age));
    mark(this.drawing, "aria-label", "State diagram; the controller is in " + frame.state);
    const rows = frame.moves.slice(-5).reverse().map(([tick, from, to]) =>
      make("li", {}, make("time", {}, clock(tick, this.tickMs)), " " + from + " → " + to));
    this.list.replaceChildren(...rows);
  }

  // Ways that are not drawn, such as a trip from anywhere, appear while they are recent.
  light(from, to, age) {
    const known = this.ways[from + ">" + to];
    if (known && !known.hasAttribute("class")) known.setAttribute("class", "taken-" + age);
    else if (!known && PLACES[from] && PLACES[to] && from !== to) {
      this.extra.append(draw("path", { d: path(from, to, 4), class: "taken-" + age, "marker-end": "url(#arrow)" }));
    }
  }
}
