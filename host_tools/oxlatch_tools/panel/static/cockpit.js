// The cockpit: engine and bottle, guarded master, stage selectors, purge and acknowledge, throttle, purge outlets.
// Every control shows what the server says; a hand only asks.

import { draw, find, fixed, make, mark, say, toggle } from "./dom.js";
import { Throttle } from "./throttle.js";
import { quantity } from "./units.js";

const MASTER = 1, PURGE = 2, ACK = 4, BENCH_KEY = 32, SELECT_SHIFT = 8, STAGES = 15;
const PUSHED = 103;
const PLUMES = {
  none: "closed",
  air: "air only",
  spitting: "spits: vapour",
  steady: "steady plume",
};
const INERT = {
  recording: "A recording: the switches show what was done. They move nothing.",
  controller: "A real controller, view only: these switches are inert. Its own panel moves it; nothing here can.",
};

export class Cockpit {
  constructor(hello, send) {
    this.send = send;
    this.inert = hello.kind !== "bench";
    this.stages = hello.stages;
    this.window = hello.rpm_window;
    this.isLifted = false;
    this.release = [];
    const host = find("cockpit");
    host.replaceChildren(make("h2", {}, "Cockpit"));
    if (this.inert) host.append(make("p", { class: "inert", id: "inert" }, INERT[hello.kind]));
    const switches = make("div", { class: "switches" });
    const lever = make("div", { class: "quadrant" });
    host.append(switches, lever);
    if (hello.kind === "bench") this.ground(switches, hello.contacts);
    this.master(switches);
    this.selectors(switches, hello);
    this.buttons(switches);
    this.outlets(switches);
    this.readings(switches);
    this.throttle = new Throttle(lever, send, this.inert);
  }

  control(tag, attributes, ...children) {
    const node = make(tag, attributes, ...children);
    if (this.inert) node.disabled = true;
    return node;
  }

  // A switch that stays where it is put: on or off, asked for by a click, Space or Enter.
  rocker(id, name, words, ask) {
    const state = make("span", { class: "rocker-state" });
    const node = this.control("button", { id, type: "button", role: "switch", "aria-checked": "false", class: "rocker", "aria-label": name },
      make("span", { class: "rocker-name" }, name), make("span", { class: "rocker-bat", "aria-hidden": "true" }), state);
    node.addEventListener("click", () => ask(node.getAttribute("aria-checked") !== "true"));
    node.show = (on) => {
      mark(node, "aria-checked", on);
      say(state, on ? words[0] : words[1]);
    };
    return node;
  }

  ground(host, contacts) {
    this.engine = this.rocker("engine", "Engine", ["runs", "stopped"], (on) => this.send({ do: "engine", on }));
    this.bottle = this.rocker("hand-valve", "Bottle valve", ["open", "shut"], (on) => this.send({ do: "hand_valve", on }));
    this.key = this.rocker("bench-key", "Bench key", ["in", "out"], (on) => this.send({ do: "switch", name: "bench", on }));
    this.contacts = contacts.map(([name, label, on, off]) => ({
      name,
      node: this.rocker("contact-" + name.replace(" ", "-"), label, [on, off], (made) => this.send({ do: "contact", name, on: made })),
    }));
    host.append(make("div", { class: "row ground" }, this.engine, this.bottle, this.key, ...this.contacts.map((each) => each.node)));
  }

  master(host) {
    this.guard = this.control("button", { id: "guard", type: "button", class: "guard", "aria-pressed": "false" },
      make("span", { class: "guard-words" }, "Lift guard"));
    this.masterSwitch = this.rocker("master", "MASTER", ["ON", "OFF"], (on) => this.send({ do: "switch", name: "master", on }));
    this.guard.addEventListener("click", () => {
      this.isLifted = !this.isLifted;
      if (!this.isLifted) this.send({ do: "switch", name: "master", on: false });
      this.showGuard();
    });
    host.append(make("div", { class: "guarded" }, this.guard, this.masterSwitch));
    this.showGuard();
  }

  showGuard() {
    mark(this.guard, "aria-pressed", this.isLifted);
    say(this.guard.firstChild, this.isLifted ? "Lower guard" : "Lift guard");
    if (!this.inert) this.masterSwitch.disabled = !this.isLifted;
  }

  selectors(host, hello) {
    this.selectorSwitches = [];
    const row = make("div", { class: "row selectors", role: "group", "aria-label": "Stage selectors" });
    for (let stage = 1; stage <= this.stages; stage++) {
      const node = this.rocker("select-" + stage, "Stage " + stage, ["on", "off"], (on) => this.send({ do: "select", stage, on }));
      this.selectorSwitches.push(node);
      row.append(node);
    }
    const allowed = hello.patterns.map((stages) => stages.join("+")).join(", ");
    const where = hello.measures_air ? "Allowed together, in air thin enough: " : "Allowed together: ";
    host.append(row, make("p", { class: "help" }, where + (allowed || "none") + "."));
  }

  // A button that is on while it is held. Space holds; Enter holds it down until the next Enter.
  held(id, name, shape, label) {
    const node = this.control("button", { id, type: "button", class: "push " + shape, "aria-pressed": "false", "aria-label": label },
      make("span", {}, name));
    let isOn = false, isFixed = false;
    const press = (on) => {
      if (on === isOn) return;
      isOn = on;
      if (!on) isFixed = false;
      toggle(node, "down", on);
      this.send({ do: "switch", name: id, on });
    };
    node.addEventListener("pointerdown", (event) => {
      if (event.button || node.disabled) return;
      node.setPointerCapture(event.pointerId);
      press(true);
    });
    for (const end of ["pointerup", "pointercancel", "lostpointercapture"]) node.addEventListener(end, () => press(false));
    node.addEventListener("blur", () => isFixed || press(false));
    node.addEventListener("keydown", (event) => {
      if (event.key === " " || event.key === "Enter") event.preventDefault();
      if (event.repeat) return;
      if (event.key === " ") press(true);
      if (event.key === "Enter") {
        isFixed = !isFixed;
        press(isFixed);
      }
    });
    node.addEventListener("keyup", (event) => {
      if (event.key === " ") event.preventDefault();
      if (event.key === " " && !isFixed) press(false);
    });
    node.addEventListener("contextmenu", (event) => event.preventDefault());
    this.release.push(() => {
      isOn = isFixed = false;
      toggle(node, "down", false);
    });
    return node;
  }

  buttons(host) {
    this.purge = this.held("purge", "PURGE", "round", "Purge, hold");
    this.ack = this.held("ack", "ACK", "square", "Acknowledge");
    host.append(make("div", { class: "row pushes" }, this.purge, this.ack));
    if (!this.inert) host.append(make("p", { class: "help" }, "Hold with pointer or Space, or Enter for down and Enter for up."));
  }

  // Two outlets, each with its light; the plume is drawn by pattern and said in words.
  outlets(host) {
    const sides = ["left", "right"].map((side, i) => {
      const flip = i ? "translate(112 0)" : "translate(104 0) scale(-1 1)";
      const light = draw("circle", { class: "purge-light", cx: 20, cy: 22, r: 7 });
      const plume = draw("g", { class: "plume" },
        draw("path", { class: "steady", d: "M46 22 L92 8 L92 36 Z" }),
        draw("path", { class: "spitting", d: "M50 21 h4 M60 18 h5 M60 25 h3 M72 14 h4 M70 29 h6 M84 10 h5 M82 22 h4 M85 33 h5" }),
        draw("path", { class: "air", d: "M50 22 h18 M52 18 l14 -4 M52 26 l14 4" }));
      return draw("g", { transform: flip }, draw("path", { class: "nozzle", d: "M32 16 h12 v12 h-12 z" }), light, plume, draw("title", {}, side));
    });
    this.plume = draw("svg", { class: "outlets", viewBox: "0 0 216 44", role: "img", id: "outlets", "aria-label": "Purge outlets" }, ...sides);
    this.plumeWords = make("span", { id: "plume" }, "closed");
    this.lightWords = make("span", {}, "lights off");
    host.append(make("div", { class: "outlet-box" }, this.plume, make("p", { class: "help" }, "Outlets: ", this.plumeWords, ", ", this.lightWords)));
  }

  readings(host) {
    const names = [["rpm", "Engine " + this.window.join("–")], ["supply", "O line"], ["fuel", "F supply"], ["bus", "Bus"]];
    this.values = {};
    const list = make("dl", { class: "readings" });
    for (const [key, name] of names) {
      this.values[key] = make("dd", { id: "read-" + key }, "–");
      list.append(make("div", {}, make("dt", {}, name), this.values[key]));
    }
    host.append(list);
  }

  update(frame) {
    const shown = frame.controls ? this.fromBench(frame) : this.fromReadings(frame.read ?? {});
    if (this.engine) {
      this.engine.show(frame.controls.engine);
      this.bottle.show(frame.controls.hand_open);
      this.key.show(Boolean(frame.controls.panel & BENCH_KEY));
      for (const { name, node } of this.contacts) node.show(Boolean(frame.controls.contacts[name]));
    }
    if (shown.master && !this.isLifted) {
      this.isLifted = true;
      this.showGuard();
    }
    this.masterSwitch.show(shown.master);
    this.selectorSwitches.forEach((node, i) => node.show(Boolean((shown.sel >> i) & 1)));
    mark(this.purge, "aria-pressed", shown.purge);
    mark(this.ack, "aria-pressed", shown.ack);
    this.throttle.update(shown.lever, shown.wanted);
    const lit = frame.powered && frame.out ? frame.out.lamps.purge : "off";
    mark(this.plume, "data-lit", lit);
    say(this.lightWords, lit === "off" ? "lights off" : "lights on");
    const plume = frame.plant ? frame.plant.purge.plume : "unknown";
    mark(this.plume, "data-plume", plume);
    say(this.plumeWords, PLUMES[plume] ?? "not measured");
    this.read(frame);
  }

  fromBench(frame) {
    const { panel, lever, wanted } = frame.controls;
    return {
      master: Boolean(panel & MASTER), purge: Boolean(panel & PURGE), ack: Boolean(panel & ACK),
      sel: (panel >> SELECT_SHIFT) & STAGES, lever, wanted,
    };
  }

  fromReadings(read) {
    const lever = read.detent === "CLOSED" ? PUSHED : Math.min(Math.max(read.throttle_pct ?? 0, 0), 100);
    return {
      master: Boolean(read.master), purge: Boolean(read.purge), ack: Boolean(read.ack), sel: read.sel ?? 0,
      lever, wanted: lever,
    };
  }

  read(frame) {
    const read = frame.read ?? {};
    say(this.values.rpm, fixed(read.rpm, 0, "rpm"));
    say(this.values.supply, quantity("pressure", read.supply_bar));
    say(this.values.fuel, quantity("fuel pressure", read.fuel_bar));
    say(this.values.bus, fixed(read.bus_v, 1, "V"));
  }

  // The connection is gone: whatever a hand held is no longer held.
  lost() {
    for (const release of this.release) release();
  }
}
