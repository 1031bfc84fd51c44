// Break it: the fault catalogue, the numbers that can be turned, exposure stage by stage, and what maintenance does.

import { find, fixed, make, mark, say, toggle } from "./dom.js";
import { quantity } from "./units.js";

const SLIDERS = [
  ["bottle_c", "Bottle temperature", 0.5, (value) => quantity("temperature", value, 1)],
  ["fill_kg", "Bottle fill", 0.05, (value) => quantity("mass", value)],
  ["bus_v", "Bus", 0.1, (value) => fixed(value, 1, "V")],
  ["altitude_m", "Altitude", 50, (value) => quantity("altitude", value)],
  ["airspeed_m_s", "Airspeed", 0.5, (value) => quantity("speed", value)],
];

export class Breaking {
  constructor(hello, send) {
    this.send = send;
    const host = find("break");
    host.replaceChildren(host.firstElementChild);
    host.hidden = hello.kind !== "bench";
    document.querySelector('nav a[href="#break"]').hidden = host.hidden;
    if (host.hidden) return;
    this.isLive = true;
    this.catalogue(host, hello.faults);
    this.exposure(host, hello.stages);
    this.numbers(host, hello);
    this.maintenance(host);
  }

  numbers(host, { limits, measures_air: measuresAir }) {
    this.sliders = {};
    const box = make("div", { class: "sliders" });
    for (const [key, name, step, text] of SLIDERS.filter(([key]) => key in limits)) {
      const [low, high] = limits[key];
      const value = make("output", {}, "–");
      const input = make("input", { type: "range", id: "turn-" + key, min: low.toFixed(3), max: high.toFixed(3), step });
      const ask = () => {
        this.touched = performance.now();
        say(value, text(Number(input.value)));
        this.turn(key);
      };
      input.addEventListener("input", ask);
      this.sliders[key] = { input, value, text };
      box.append(make("label", { for: "turn-" + key }, make("span", {}, name), input, value));
    }
    host.append(make("h3", {}, "Turn the numbers"), box, make("p", { class: "help" },
      "Altitude changes the air's pressure and the engine's power, not the air's temperature. " + (measuresAir
        ? "The controller measures the air and allows what the row of its altitude table allows."
        : "The controller does not measure it: the card says what to select.")));
  }

  turn(key) {
    const number = (name) => Number(this.sliders[name].input.value);
    if (key === "bus_v") this.send({ do: "volts", bus_v: number("bus_v") });
    else if (key === "airspeed_m_s") this.send({ do: "airspeed", airspeed_m_s: number("airspeed_m_s") });
    else if (key === "altitude_m") this.send({ do: "altitude", altitude_m: number("altitude_m") });
    else this.send({ do: "bottle", temperature_c: number("bottle_c"), fill_kg: number("fill_kg") });
  }

  exposure(host, stages) {
    this.cells = [];
    const body = make("tbody");
    for (let i = 0; i < stages; i++) {
      const cells = [0, 1, 2, 3].map(() => make("td", {}, "–"));
      this.cells.push(cells);
      body.append(make("tr", {}, make("th", { scope: "row" }, "Stage " + (i + 1)), ...cells));
    }
    const head = make("tr", {}, make("td"), ...["F alone, ms", "O alone, ms", "F alone, longest", "O alone, longest"].map((name) => make("th", { scope: "col" }, name)));
    host.append(make("h3", {}, "At the nozzles, one fluid alone since power-up"), make("table", { id: "exposure" }, make("thead", {}, head), body),
      make("p", { class: "help" }, "Alone: above 5 % of the stage's rated flow while the other fluid is below 5 % of its own."));
  }

  maintenance(host) {
    const button = (id, name, message) => make("button", { type: "button", id, onclick: () => this.send(message) }, name);
    host.append(make("h3", {}, "Maintenance"), make("div", { class: "row" },
      button("heal", "Repair everything", { do: "heal" }),
      button("service", "Ask for SERVICE", { do: "service", level: 1 }),
      button("sign-off", "Sign off", { do: "service", level: 2 }),
      button("leave-service", "Leave SERVICE", { do: "service", level: 0 })),
      make("p", { class: "help" }, "Latch 4 ends only here: repair, master off, engine stopped 5 s, ask for SERVICE, sign off, leave."));
  }

  catalogue(host, faults) {
    this.active = make("p", { id: "active", "aria-live": "polite" }, "No fault.");
    const search = make("input", { type: "search", id: "search", placeholder: "valve, sensor, bus, stage …", autocomplete: "off" });
    this.count = make("span", { id: "found", "aria-live": "polite" }, "");
    this.list = make("ul", { class: "faults", id: "faults" });
    this.entries = faults.map((fault) => this.entry(fault));
    this.list.append(...this.entries.map((entry) => entry.item));
    search.addEventListener("input", () => this.search(search.value));
    this.list.addEventListener("keydown", (event) => this.move(event));
    this.list.addEventListener("focusin", (event) => this.settle(event.target));
    host.append(this.active, make("label", { class: "search", for: "search" }, "Find ", search, this.count, make("span", { class: "help" }, "Arrow keys move in the list.")), this.list);
    this.search("");
  }

  entry(fault) {
    const names = fault.stages ? Array.from({ length: fault.stages }, (_, i) => fault.name + "@" + (i + 1)) : [fault.name];
    const buttons = names.map((name, i) => {
      const label = fault.stages ? "stage " + (i + 1) : fault.once ? "let it happen" : "break";
      const node = make("button", { type: "button", tabindex: "-1", "aria-pressed": "false", "data-fault": name, "aria-label": fault.words + ", " + label }, label);
      node.addEventListener("click", () => this.send({ do: "fault", name, on: fault.once || node.getAttribute("aria-pressed") !== "true" }));
      return { name, node };
    });
    const item = make("li", {}, make("span", { class: "fault-words" }, fault.words),
      make("span", { class: "small" }, "hazard " + fault.row + (fault.once ? ", has no way back" : "")), make("span", { class: "fault-buttons" }, ...buttons.map((b) => b.node)));
    return { item, buttons, words: fault.words, text: (fault.words + " " + fault.name.replaceAll("_", " ") + " " + names.join(" ")).toLowerCase() };
  }

  // The list is one stop of the Tab key; the arrow keys go from fault to fault and from stage to stage.
  move(event) {
    const [down, right] = { ArrowDown: [1, 0], ArrowUp: [-1, 0], ArrowRight: [0, 1], ArrowLeft: [0, -1] }[event.key] ?? [0, 0];
    if (!down && !right) return;
    event.preventDefault();
    const shown = this.entries.filter((entry) => !entry.item.hidden);
    const at = shown.findIndex((entry) => entry.item.contains(event.target));
    const column = shown[at].buttons.findIndex(({ node }) => node === event.target) + right;
    const entry = shown[Math.min(Math.max(at + down, 0), shown.length - 1)];
    entry.buttons[Math.min(Math.max(column, 0), entry.buttons.length - 1)].node.focus();
  }

  settle(node) {
    this.stop?.setAttribute("tabindex", "-1");
    this.stop = node;
    node?.setAttribute("tabindex", "0");
  }

  search(text) {
    const words = text.toLowerCase().split(/\s+/).filter(Boolean);
    let found = 0;
    for (const entry of this.entries) {
      const fits = words.every((word) => entry.text.includes(word));
      entry.item.hidden = !fits;
      found += fits;
    }
    say(this.count, found + " of " + this.entries.length);
    this.settle(this.entries.find((entry) => !entry.item.hidden)?.buttons[0].node);
  }

  update(frame) {
    if (!this.isLive || !frame.plant) return;
    const key = frame.faults.join() + JSON.stringify(frame.once);
    if (key !== this.shown) {
      this.shown = key;
      this.showFaults(new Set(frame.faults), frame.once);
    }
    frame.exposure.forEach((row, i) => row.forEach((value, at) => say(this.cells[i][at], fixed(value, 1))));
    if (performance.now() - (this.touched ?? -1000) < 800) return;
    this.show("bottle_c", frame.plant.bottle.c);
    this.show("fill_kg", frame.plant.bottle.kg);
    this.show("bus_v", frame.plant.bus_set_v);
    this.show("altitude_m", frame.altitude_m);
    this.show("airspeed_m_s", frame.plant.airspeed_m_s);
  }

  show(key, number) {
    if (!(key in this.sliders)) return;
    const { input, value, text } = this.sliders[key];
    if (document.activeElement !== input || this.sent !== input.value) input.value = number;
    this.sent = input.value;
    say(value, text(number));
    mark(input, "aria-valuetext", text(number));
  }

  showFaults(active, once) {
    const names = [];
    for (const entry of this.entries) {
      toggle(entry.item, "broken", entry.buttons.some(({ name }) => active.has(name)));
      for (const { name, node } of entry.buttons) {
        const words = entry.words + (name.includes("@") ? ", stage " + name.split("@")[1] : "");
        const on = active.has(name);
        mark(node, "aria-pressed", on);
        if (on) names.push(words);
        if (once[name]) names.push(words + " (happened" + (once[name] > 1 ? " " + once[name] + " times" : "") + ")");
      }
    }
    say(this.active, names.length ? "Broken: " + names.join("; ") + "." : "No fault.");
  }
}
