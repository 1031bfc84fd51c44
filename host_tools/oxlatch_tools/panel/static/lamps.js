// The dark band: lamps by the red, amber, green, white convention, the four words, what to do, exposure.

import { find, fixed, make, draw, mark, say, toggle } from "./dom.js";

// Each lens carries a sign of its own, so that a lamp is known without its colour.
const LENSES = [
  ["ready", "READY", "green", "M9 18 l5 5 l10 -11"],
  ["flow", "FLOW", "white", "M8 12 h14 l-4 -4 M8 21 h14 l-4 -4"],
  ["check", "CHECK", "amber", "M16 7 v11 M16 22 v3"],
  ["stop", "STOP", "red", "M9 9 L23 23 M23 9 L9 23"],
];

const HINTS = {
  WAKE: "Lamp test: every lamp must light. Wait.",
  REST: "Disarmed.",
  READY: "Throttle to its stop, then push on through the detent.",
  "LEAD-IN": "Opening: oxidizer first, fuel behind it.",
  RUN: "Boost flows. Pull the lever back to end it.",
  "RUN-DOWN": "Fuel is shut; oxidizer clears what is left.",
  GAP: "Shut. Half a second of pause.",
  TRIP: "Stopped and latched. The reason is under Why.",
  SERVICE: "Service: no valve can be driven.",
};

export class Lamps {
  constructor(hello) {
    this.rows = new Map(hello.reasons.map((row) => [row.words, row]));
    const list = find("lamps");
    list.replaceChildren();
    this.lamps = {};
    for (const [key, name, colour, sign] of LENSES) {
      const lens = draw("svg", { viewBox: "0 0 32 32", class: "lens", "aria-hidden": "true" },
        draw("circle", { cx: 16, cy: 16, r: 14 }), draw("path", { d: sign }));
      const how = make("span", { class: "how" }, "off");
      const item = make("li", { class: "lamp " + colour, id: "lamp-" + key }, lens, make("span", { class: "name" }, name), how);
      this.lamps[key] = { item, how };
      list.append(item);
    }
  }

  update(frame) {
    const out = frame.out;
    const isDark = !frame.powered || !out;
    for (const [key, lamp] of Object.entries(this.lamps)) {
      const how = isDark ? "off" : out.lamps[key];
      mark(lamp.item, "data-lit", how);
      say(lamp.how, how === "blink" ? "blinks" : how);
    }
    const state = frame.powered ? frame.state ?? "–" : "DARK";
    say(find("state"), state);
    say(find("latch"), frame.latch ? "latch " + frame.latch : "");
    const text = isDark ? "" : out.text ?? "";
    say(find("text"), text || (isDark ? "dark" : "–"));
    toggle(find("text"), "none", !text);
    const hint = isDark ? frame.trouble || "The controller has no power: everything is shut." : HINTS[state] ?? "";
    say(find("todo"), this.what(text, state) || hint);
    this.exposure(frame.exposure);
  }

  // What to do about the reason shown; once it has stopped everything, also what clears it.
  what(text, state) {
    const row = this.rows.get(text);
    if (!row) return "";
    return row.todo + (state === "TRIP" ? "; then: " + row.clears : "");
  }

  exposure(stages) {
    const total = (at) => stages.reduce((sum, row) => sum + row[at], 0);
    const longest = (at) => Math.max(...stages.map((row) => row[at]));
    say(find("fuel-alone"), stages ? fixed(total(0), 1, "ms") : "–");
    say(find("ox-alone"), stages ? fixed(total(1), 1, "ms") : "–");
    say(find("fuel-longest"), stages ? fixed(longest(2), 1, "ms") : "–");
    say(find("ox-longest"), stages ? fixed(longest(3), 1, "ms") : "–");
  }

  dark() {
    for (const lamp of Object.values(this.lamps)) {
      mark(lamp.item, "data-lit", "off");
      say(lamp.how, "off");
    }
    say(find("state"), "NO CONNECTION");
    say(find("latch"), "");
    say(find("text"), "dark");
    say(find("todo"), "");
  }
}
