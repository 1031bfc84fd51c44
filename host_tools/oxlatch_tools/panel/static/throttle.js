// The throttle lever: dragged by mouse or finger, moved by keys, and pushed through its detent only on purpose.
// At the stop a pointer must travel EXTRA_PX further, a keyboard must press the up arrow NOTCHES times, not hold it.

import { make, draw, mark, say, toggle } from "./dom.js";

const EXTRA_PX = 48;
const NOTCHES = 3;
const NOTCH_MS = 2000;
const OWN_MS = 300;  // how long after a hand's own move older news from the server is not believed
const PUSHED = 103;
const TOP = 74, BOTTOM = 384;
const STEP = 2, LEAP = 20;

export class Throttle {
  // send(message); the lever shown is the server's unless a hand is on it.
  constructor(host, send, inert) {
    this.send = send;
    this.lever = 0;
    this.isPushed = false;
    this.drag = null;
    this.notches = 0;
    this.notchAt = 0;
    this.touched = -OWN_MS;
    this.inert = inert;
    this.build(host);
    if (!inert) this.listen();
  }

  build(host) {
    const scale = draw("g", { class: "scale" });
    for (let percent = 0; percent <= 100; percent += 10) {
      const y = BOTTOM - (percent / 100) * (BOTTOM - TOP);
      const isLong = percent % 50 === 0;
      scale.append(draw("line", { x1: isLong ? 14 : 22, x2: 32, y1: y, y2: y }));
      if (isLong) scale.append(draw("text", { x: 11, y: y + 4, "text-anchor": "end" }, String(percent)));
    }
    this.fill = draw("rect", { class: "resist", x: 41, width: 22, y: TOP, height: 0 });
    this.pips = Array.from({ length: NOTCHES }, (_, i) => draw("circle", { cx: 88, cy: 56 - 14 * i, r: 4 }));
    this.grip = draw("g", { class: "grip" },
      draw("rect", { x: 26, y: -15, width: 52, height: 30, rx: 7 }),
      draw("line", { x1: 34, x2: 70, y1: -5, y2: -5 }), draw("line", { x1: 34, x2: 70, y1: 0, y2: 0 }),
      draw("line", { x1: 34, x2: 70, y1: 5, y2: 5 }));
    this.drawing = draw("svg", { viewBox: "-16 0 128 400", "aria-hidden": "true" },
      draw("rect", { class: "gate", x: 40, y: 12, width: 24, height: TOP - 12 }),
      draw("text", { class: "tiny", x: 52, y: 9, "text-anchor": "middle" }, "PUSHED"),
      draw("rect", { class: "slot", x: 46, y: 14, width: 12, height: BOTTOM - 8 }),
      this.fill, draw("line", { class: "stop", x1: 30, x2: 74, y1: TOP - 1, y2: TOP - 1 }),
      draw("text", { class: "tiny", x: 78, y: TOP + 3 }, "STOP"), scale, ...this.pips, this.grip);
    this.handle = make("div", {
      id: "throttle", class: "lever", role: "slider", tabindex: "0", "aria-label": "Throttle", "aria-orientation": "vertical",
      "aria-valuemin": "0", "aria-valuemax": String(PUSHED), "aria-describedby": this.inert ? undefined : "throttle-help",
    }, this.drawing);
    if (this.inert) this.handle.setAttribute("aria-disabled", "true");
    this.value = make("p", { class: "reading", id: "throttle-value" }, "0 %");
    host.append(make("h3", {}, "Throttle"), this.handle, this.value);
    if (!this.inert) host.append(make("p", { class: "help", id: "throttle-help" }, "At the stop drag on, or press ↑ three times: it goes through the detent."));
  }

  listen() {
    const node = this.handle;
    node.addEventListener("pointerdown", (event) => this.grab(event));
    node.addEventListener("pointermove", (event) => this.pull(event));
    node.addEventListener("pointerup", () => this.letGo());
    node.addEventListener("pointercancel", () => this.letGo());
    node.addEventListener("keydown", (event) => this.key(event));
  }

  pxPerPercent() {
    return (this.drawing.getBoundingClientRect().height * (BOTTOM - TOP)) / 400 / 100;
  }

  grab(event) {
    if (event.button) return;
    event.preventDefault();
    this.handle.focus();
    this.handle.setPointerCapture(event.pointerId);
    const px = this.pxPerPercent();
    this.drag = { y: event.clientY, px, from: this.isPushed ? 100 * px + EXTRA_PX : this.lever * px };
  }

  // Travel in pixels from closed; between the stop and EXTRA_PX beyond it the lever does not move.
  pull(event) {
    if (!this.drag) return;
    const travel = this.drag.from + this.drag.y - event.clientY;
    const beyond = travel - 100 * this.drag.px;
    if (!this.isPushed && beyond >= EXTRA_PX) this.push(true);
    else if (this.isPushed && beyond < EXTRA_PX / 2) this.push(false);
    else if (!this.isPushed) this.move(Math.min(Math.max(travel / this.drag.px, 0), 100));
    this.resist(this.isPushed ? 0 : Math.min(Math.max(beyond / EXTRA_PX, 0), 1));
  }

  letGo() {
    this.drag = null;
    this.resist(0);
  }

  key(event) {
    const steps = { ArrowUp: STEP, ArrowRight: STEP, ArrowDown: -STEP, ArrowLeft: -STEP, PageUp: LEAP, PageDown: -LEAP };
    const goal = { Home: 0, End: 100 }[event.key] ?? (event.key in steps ? this.lever + steps[event.key] : null);
    if (goal === null) return;
    event.preventDefault();
    if (this.isPushed) {
      if (goal < this.lever || event.key === "Home") this.push(false);
      if (event.key === "Home") this.move(0);
    } else if (event.key === "ArrowUp" && this.lever >= 100) {
      if (!event.repeat) this.notch();
    } else {
      this.notches = 0;
      this.move(Math.min(Math.max(goal, 0), 100));
    }
    this.resist(this.notches / NOTCHES);
  }

  notch() {
    const now = performance.now();
    this.notches = now - this.notchAt > NOTCH_MS ? 1 : this.notches + 1;
    this.notchAt = now;
    if (this.notches >= NOTCHES) {
      this.notches = 0;
      this.push(true);
    }
  }

  push(on) {
    this.isPushed = on;
    this.lever = on ? PUSHED : 100;
    this.touched = performance.now();
    this.send({ do: "push", on });
    this.show();
  }

  move(percent) {
    const rounded = Math.round(percent * 10) / 10;
    if (rounded === this.lever) return;
    this.lever = rounded;
    this.touched = performance.now();
    this.sendSoon();
    this.show();
  }

  // One message per picture is enough for a hand that moves.
  sendSoon() {
    if (this.pending) return;
    this.pending = requestAnimationFrame(() => {
      this.pending = 0;
      if (!this.isPushed) this.send({ do: "throttle", percent: this.lever });
    });
  }

  resist(share) {
    const height = share * (TOP - 20);
    mark(this.fill, "height", height);
    mark(this.fill, "y", TOP - height);
    this.pips.forEach((pip, i) => toggle(pip, "on", share * NOTCHES > i + 0.99));
  }

  update(lever, wanted) {
    if (this.drag || performance.now() - this.touched < OWN_MS) return;
    this.isPushed = wanted > 100;
    this.lever = this.isPushed ? PUSHED : wanted;
    this.show(lever);
  }

  show(lever = this.lever) {
    const y = lever <= 100 ? BOTTOM - (lever / 100) * (BOTTOM - TOP) : TOP - ((lever - 100) / 3) * 40;
    mark(this.grip, "transform", "translate(0 " + y.toFixed(1) + ")");
    const words = lever > 102 ? "pushed through the detent" : Math.round(Math.min(lever, 100)) + " %" + (lever >= 100 ? ", at the stop" : "");
    mark(this.handle, "aria-valuenow", Math.round(lever));
    mark(this.handle, "aria-valuetext", words);
    say(this.value, lever > 102 ? "PUSHED" : Math.round(Math.min(lever, 100)) + " %");
    toggle(this.handle, "pushed", lever > 102);
  }
}
