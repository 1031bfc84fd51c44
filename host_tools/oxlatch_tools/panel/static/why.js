// Why: every standing reason with what to do, the whole table with the standing ones lit, and the layers side by side.

import { draw, find, make, mark, say, toggle } from "./dom.js";
import { States } from "./states.js";
import { quantity } from "./units.js";

const SIGNS = { fault: "■", wait: "▲", note: "●" };
const KINDS = [
  ["fault", "stops a flow, or trips"],
  ["wait", "keeps READY away"],
  ["note", "told only"],
];
const COLUMNS = ["sequencer asked", "gate let pass", "coil draws current", "at the nozzle"];

const LEAST_SHOWN_G_S = 0.005;  // less is a shut branch that drains

export class Why {
  constructor(hello) {
    this.hello = hello;
    this.rows = new Map(hello.reasons.map((row) => [row.words, row]));
    const host = find("why");
    host.replaceChildren(host.firstElementChild);
    this.standing = make("ul", { class: "standing", id: "standing", "aria-label": "Standing reasons" });
    const states = make("div", { class: "states-box" });
    host.append(this.standing, states);
    this.states = new States(states, hello);
    this.buildLayers(host);
    this.judged = make("dl", { class: "judged", id: "judged" });
    host.append(make("h3", {}, "What sense makes of the inputs"), this.judged);
    this.buildBoard(host);
    this.shown = "";
  }

  buildBoard(host) {
    this.cells = new Map();
    for (const [kind, meaning] of KINDS) {
      const list = make("ul", { class: "board" });
      for (const row of this.hello.reasons.filter((reason) => reason.kind === kind)) {
        const cell = make("li", { title: row.todo + "; clears: " + row.clears }, SIGNS[kind] + " " + row.words);
        this.cells.set(row.words, cell);
        list.append(cell);
      }
      host.append(make("h3", {}, SIGNS[kind] + " " + list.childElementCount + " " + kind + "s: each " + meaning), list);
    }
  }

  buildLayers(host) {
    this.layers = [];
    const body = make("tbody");
    const row = (name, fluid, read) => {
      const cells = COLUMNS.map(() => make("td", {}, "–"));
      body.append(make("tr", { class: fluid }, make("th", { scope: "row" }, name), ...cells));
      this.layers.push({ cells, read });
    };
    for (let i = 0; i < this.hello.stages; i++) {
      row("O" + (i + 1), "o", (frame) => this.stageLayers(frame, i, "ox"));
      row("F" + (i + 1), "f", (frame) => this.stageLayers(frame, i, "fuel"));
    }
    row("F master", "f", (frame) => this.oneLayer(frame, "master_fuel", 9, ""));
    if (this.hello.master_ox) row("O master", "o", (frame) => this.oneLayer(frame, "master_ox", 10, ""));
    row("Purge", "o", (frame) => this.oneLayer(frame, "purge", 8, ""));
    row("Run switch", "", (frame) => this.oneLayer(frame, "run", null, ""));
    const head = make("tr", {}, make("td"), ...COLUMNS.map((name) => make("th", { scope: "col" }, name)));
    host.append(make("h3", {}, "Layer by layer"), make("table", { class: "layers", id: "layers" }, make("thead", {}, head), body));
  }

  // Asked, passed, current, flow; null where it is not known.
  stageLayers(frame, i, key) {
    const bit = (word) => (word === null || word === undefined ? null : Boolean((word >> i) & 1));
    const shift = key === "ox" ? 0 : 4;
    const flow = frame.nozzle ? frame.nozzle[key][i] : null;
    return [
      bit(frame.cmd?.[key]), bit(frame.out?.[key]), bit(frame.read ? frame.read.currents >> shift : null),
      flow === null || flow === undefined ? null : flow >= LEAST_SHOWN_G_S ? quantity("flow", flow) : false,
    ];
  }

  oneLayer(frame, key, coil, flow) {
    const bit = (word) => (word === undefined || word === null ? null : Boolean(word));
    const current = coil === null ? "" : frame.read ? Boolean((frame.read.currents >> coil) & 1) : null;
    return [bit(frame.cmd?.[key]), bit(frame.out?.[key]), current, flow];
  }

  update(frame) {
    this.states.update(frame);
    for (const layer of this.layers) this.showLayer(layer, layer.read(frame));
    this.showJudged(frame.judged);
    const why = frame.powered ? frame.why : [];
    const key = why.join("|") + "#" + frame.cause + "#" + frame.out?.text;
    if (key === this.shown) return;
    this.shown = key;
    const standing = new Set(why);
    for (const [words, cell] of this.cells) {
      toggle(cell, "lit", standing.has(words));
    }
    const first = frame.cause && !standing.has(frame.cause) ? [frame.cause] : [];
    const items = [...first, ...why].map((words) => this.item(words, standing, frame));
    this.standing.replaceChildren(...(items.length ? items : [make("li", { class: "none" }, "Nothing stands in the way.")]));
  }

  showJudged(judged) {
    const key = JSON.stringify(judged ?? null);
    if (key === this.shownJudged) return;
    this.shownJudged = key;
    const rows = Object.entries(judged ?? {}).map(([name, level]) => make("div", {}, make("dt", {}, name.replaceAll("_", " ")), make("dd", {}, level)));
    this.judged.replaceChildren(...(rows.length ? rows : [make("div", {}, "not told")]));
  }

  showLayer({ cells }, values) {
    const [asked, passed] = values;
    values.forEach((value, at) => {
      const cell = cells[at];
      const isHeld = at === 1 && asked === true && passed === false;
      const text = value === null ? "not told" : typeof value === "string" ? value : isHeld ? "held back" : value ? "■" : "·";
      say(cell, text);
      toggle(cell, "on", value === true || (at === 3 && typeof value === "string" && value !== ""));
      toggle(cell, "held", isHeld);
    });
  }

  item(words, standing, frame) {
    const row = this.rows.get(words) ?? { kind: "note", todo: "", clears: "" };
    const marks = [];
    if (words === frame.cause) marks.push(standing.has(words) ? "first cause" : "first cause, gone by now");
    if (words === frame.out?.text) marks.push("on the panel");
    const small = row.kind === "fault" ? row.class + ", latch " + row.latch + "; clears: " : "clears: ";
    return make("li", { class: row.kind + (standing.has(words) ? "" : " gone") },
      make("span", { class: "sign", "aria-hidden": "true" }, SIGNS[row.kind]),
      make("span", { class: "words" }, words), make("span", { class: "do" }, row.todo),
      make("span", { class: "small" }, small + row.clears + (marks.length ? " (" + marks.join(", ") + ")" : "")));
  }
}
