// What flows: the plumbing from bottle to nozzles. O lines are double, F lines dashed, both in the same ink.

import { draw, find, make, mark, say, toggle } from "./dom.js";
import { quantity } from "./units.js";

const WIDTH = 660, FIRST_ROW = 74, ROW = 78, FUEL_BELOW = 34;
const O_BUS = 338, F_BUS = 372, VALVE = 424, BRANCH_END = 550, NOZZLE = 560;
const LINE_LEFT = 112, LINE_RIGHT = 326, LINE_Y = 26, LINE_HALF = 11;
const BOTTLE = { x: 14, y: 64, width: 62, height: 150 };

export class Flows {
  constructor(hello) {
    this.stages = hello.stages;
    const host = find("flows");
    host.replaceChildren(host.firstElementChild);
    this.purgeY = FIRST_ROW + this.stages * ROW + 6;
    this.fuelY = this.purgeY + 52;
    this.drawing = draw("svg", { id: "plumbing", viewBox: "0 0 " + WIDTH + " " + (this.fuelY + 44), role: "img", "aria-label": "Plumbing from bottle to nozzles" });
    this.drawing.append(this.patterns());
    this.bottle();
    this.feed(hello);
    this.rows = Array.from({ length: this.stages }, (_, i) => this.stage(i));
    this.purge();
    this.fuel();
    new IntersectionObserver((seen) => toggle(this.drawing, "seen", seen.at(-1).isIntersecting)).observe(this.drawing);
    host.append(this.drawing, make("p", { class: "help" },
      "Double lines carry O, dashed lines F. In the feed line: dense strokes liquid, dots vapour, blank air. A valve is black when shut, open when white; amperes are its coil's."));
  }

  patterns() {
    return draw("defs", {},
      draw("pattern", { id: "liquid", width: 14, height: 6, patternUnits: "userSpaceOnUse" }, draw("path", { class: "hatch", d: "M0 1.5 h10 M5 4.5 h9 M0 4.5 h1" })),
      draw("pattern", { id: "vapour", width: 8, height: 8, patternUnits: "userSpaceOnUse" },
        draw("circle", { class: "dot", cx: 2, cy: 2, r: 0.9 }), draw("circle", { class: "dot", cx: 6, cy: 6, r: 0.9 })));
  }

  put(tag, attributes, ...children) {
    const node = draw(tag, attributes, ...children);
    this.drawing.append(node);
    return node;
  }

  label(x, y, anchor = "start", name = "value") {
    return this.put("text", { x, y, "text-anchor": anchor, class: name });
  }

  // A pipe: its wall, and what moves in it while something flows.
  pipe(fluid, d) {
    this.put("path", { class: "pipe " + fluid, d });
    if (fluid === "o") this.put("path", { class: "bore", d });
    return this.put("path", { class: "stream " + fluid, d });
  }

  // Two triangles point to point; black while shut.
  valve(x, y, name) {
    const body = this.put("path", { class: "valve", d: "M" + (x - 14) + " " + (y - 9) + " L" + (x + 14) + " " + (y + 9) + " V" + (y - 9) + " L" + (x - 14) + " " + (y + 9) + " Z" });
    this.label(x, y - 13, "middle", "name").textContent = name;
    return { body, state: this.label(x, y + 22, "middle"), };
  }

  bottle() {
    const { x, y, width, height } = BOTTLE;
    this.put("path", { class: "vessel", d: "M" + (x + 24) + " " + y + " v-14 h14 v14" });
    this.put("rect", { class: "vessel", x, y, width, height, rx: 18 });
    const clip = draw("clipPath", { id: "in-bottle" }, draw("rect", { x: x + 2, y: y + 2, width: width - 4, height: height - 4, rx: 16 }));
    this.put("g", {}, clip);
    this.level = this.put("rect", { class: "fill-liquid", x, width, y: y + height, height: 0, "clip-path": "url(#in-bottle)" });
    this.put("circle", { class: "letter", cx: x + width / 2, cy: y + 28, r: 12 });
    this.label(x + width / 2, y + 33, "middle", "letter-text").textContent = "O";
    this.bottleText = [0, 1, 2].map((i) => this.label(x - 4, y + height + 18 + 15 * i));
  }

  feed(hello) {
    const mid = BOTTLE.x + 31;
    this.pipe("o", "M" + mid + " 50 V" + LINE_Y + " H" + LINE_LEFT);
    this.hand = this.valve(66, LINE_Y, "bottle valve");
    this.masterOx = hello.master_ox ? this.valve(98, LINE_Y, "") : null;
    if (this.masterOx) {
      this.masterOx.state.setAttribute("x", BOTTLE.x + BOTTLE.width + 8);
      this.masterOx.state.setAttribute("y", BOTTLE.y + 26);
      this.masterOx.state.setAttribute("text-anchor", "start");
    }
    this.put("rect", { class: "vessel", x: LINE_LEFT, y: LINE_Y - LINE_HALF, width: LINE_RIGHT - LINE_LEFT, height: 2 * LINE_HALF });
    this.plugs = this.put("g", { id: "plugs" });
    this.lineText = this.label((LINE_LEFT + LINE_RIGHT) / 2, LINE_Y + 28, "middle");
    this.plugText = this.label((LINE_LEFT + LINE_RIGHT) / 2, LINE_Y + 43, "middle");
    this.oBus = this.pipe("o", "M" + LINE_RIGHT + " " + LINE_Y + " H" + O_BUS + " V" + this.purgeY);
    this.label(O_BUS + 6, LINE_Y - 8).textContent = "O block";
  }

  stage(i) {
    const y = FIRST_ROW + i * ROW, fuelY = y + FUEL_BELOW;
    const row = { y, fuelY };
    row.oIn = this.pipe("o", "M" + O_BUS + " " + y + " H" + (VALVE - 14));
    row.oOut = this.pipe("o", "M" + (VALVE + 14) + " " + y + " H" + BRANCH_END);
    row.fIn = this.pipe("f", "M" + F_BUS + " " + fuelY + " H" + (VALVE - 14));
    row.fOut = this.pipe("f", "M" + (VALVE + 14) + " " + fuelY + " H" + BRANCH_END);
    row.ox = this.valve(VALVE, y, "O" + (i + 1));
    row.fuel = this.valve(VALVE, fuelY, "F" + (i + 1));
    row.fuel.state.setAttribute("y", fuelY + 20);
    row.ox.state.setAttribute("x", VALVE + 22);
    row.ox.state.setAttribute("y", y - 8);
    row.ox.state.setAttribute("text-anchor", "start");
    row.fuel.state.setAttribute("x", VALVE + 22);
    row.fuel.state.setAttribute("y", fuelY + 15);
    row.fuel.state.setAttribute("text-anchor", "start");
    row.proof = this.put("circle", { class: "proof", cx: 500, cy: y, r: 6 });
    row.proofText = this.label(500, y + 18, "middle", "name");
    row.nozzle = this.put("path", { class: "nozzle", d: "M" + BRANCH_END + " " + (y - 7) + " h8 V" + (fuelY + 7) + " h-8" });
    row.oSpray = this.put("path", { class: "spray", d: "M" + (NOZZLE + 2) + " " + y + " l14 -6 M" + (NOZZLE + 2) + " " + y + " h16 M" + (NOZZLE + 2) + " " + y + " l14 6" });
    row.fSpray = this.put("path", { class: "spray f", d: "M" + (NOZZLE + 2) + " " + fuelY + " l14 -6 M" + (NOZZLE + 2) + " " + fuelY + " h16 M" + (NOZZLE + 2) + " " + fuelY + " l14 6" });
    row.oText = this.label(WIDTH - 2, y - 8, "end");
    row.fText = this.label(WIDTH - 2, fuelY + 18, "end");
    return row;
  }

  purge() {
    const y = this.purgeY;
    this.purgeIn = this.pipe("o", "M" + O_BUS + " " + y + " H" + (VALVE - 14));
    this.purgeOut = this.pipe("o", "M" + (VALVE + 14) + " " + y + " H" + BRANCH_END);
    this.purgeValve = this.valve(VALVE, y, "purge");
    this.put("path", { class: "nozzle", d: "M" + BRANCH_END + " " + (y - 7) + " h8 v14 h-8" });
    this.purgeText = this.label(WIDTH - 2, y - 8, "end");
    this.plumeText = this.label(WIDTH - 2, y + 18, "end");
  }

  fuel() {
    const y = this.fuelY, first = FIRST_ROW + FUEL_BELOW;
    this.fSupply = this.pipe("f", "M62 " + y + " H" + (232 - 14));
    this.fBus = this.pipe("f", "M" + (232 + 14) + " " + y + " H" + F_BUS + " V" + first);
    this.put("circle", { class: "vessel", cx: 46, cy: y, r: 16 });
    this.label(46, y + 5, "middle", "letter-text").textContent = "F";
    this.pumpText = this.label(28, y + 32);
    this.fSupplyText = this.label(72, y - 8);
    this.master = this.valve(232, y, "F master");
    this.blockText = this.label(F_BUS + 10, y + 4);
  }

  update(frame) {
    const plant = frame.plant, read = frame.read ?? {}, out = frame.out;
    mark(this.drawing, "data-known", Boolean(plant));
    if (plant) this.showPlant(plant);
    else this.showReadings(read, out, frame.nozzle);
  }

  showPlant(plant) {
    const { bottle, fuel } = plant;
    const height = bottle.liquid * BOTTLE.height;
    mark(this.level, "y", (BOTTLE.y + BOTTLE.height - height).toFixed(1));
    mark(this.level, "height", height.toFixed(1));
    say(this.bottleText[0], quantity("pressure", bottle.bar));
    say(this.bottleText[1], quantity("temperature", bottle.c, 1));
    say(this.bottleText[2], quantity("mass", bottle.kg));
    this.showValve(this.hand, plant.hand_open ? 1 : 0, null);
    if (this.masterOx) this.showValve(this.masterOx, plant.master_ox.open, plant.master_ox.a, "O master ");
    this.showPlugs(plant.plugs);
    say(this.lineText, quantity("pressure", plant.line_bar) + ", " + quantity("temperature", plant.line_c));
    this.showValve(this.purgeValve, plant.purge.open, plant.purge.a);
    const purges = plant.purge.g_s > 0;
    this.run(this.purgeIn, purges);
    this.run(this.purgeOut, purges);
    say(this.purgeText, "O " + quantity("flow", plant.purge.g_s));
    say(this.plumeText, { none: "outlets closed", air: "air comes out", spitting: "vapour spits", steady: "steady plume" }[plant.purge.plume]);
    let anyO = purges, anyF = false;
    plant.stages.forEach((stage, i) => {
      this.showStage(this.rows[i], stage);
      anyO = anyO || stage.ox_g_s > 0;
      anyF = anyF || (stage.fuel_g_s > 0 && stage.fuel.open > 0);
    });
    this.run(this.oBus, anyO);
    this.run(this.fBus, anyF);
    this.run(this.fSupply, anyF);
    this.showValve(this.master, fuel.fitted ? fuel.master.open : 1, fuel.fitted ? fuel.master.a : null);
    say(this.pumpText, fuel.pump ? "pump runs" : "pump stopped");
    say(this.fSupplyText, "supply " + quantity("fuel pressure", fuel.bar));
    say(this.blockText, "F block " + quantity("fuel pressure", fuel.block_bar));
  }

  showStage(row, stage) {
    this.showValve(row.ox, stage.ox.open, stage.ox.a);
    this.showValve(row.fuel, stage.fuel.open, stage.fuel.a);
    toggle(row.proof, "made", stage.proof);
    say(row.proofText, (stage.proof ? "proved " : "") + quantity("pressure", stage.ox_bar, 0));
    this.flow(row, stage.ox_g_s, stage.fuel_g_s);
    const drained = stage.fuel_g_s === 0 && stage.filled < 0.995;
    say(row.fText, "F " + (drained ? "none, line " + Math.round(stage.filled * 100) + " % full" : quantity("flow", stage.fuel_g_s)));
  }

  flow(row, ox, fuel) {
    for (const part of [row.oIn, row.oOut]) this.run(part, ox > 0);
    for (const part of [row.fIn, row.fOut]) this.run(part, fuel > 0);
    toggle(row.oSpray, "on", ox > 0);
    toggle(row.fSpray, "on", fuel > 0);
    say(row.oText, "O " + quantity("flow", ox));
  }

  // Without a plant: what was driven, what was read, and nothing that was not measured.
  showReadings(read, out, nozzle) {
    for (const text of this.bottleText) say(text, "");
    say(this.bottleText[0], "not measured");
    say(this.hand.state, "not known");
    toggle(this.hand.body, "partly", true);
    this.plugs.replaceChildren();
    say(this.plugText, "contents not measured");
    say(this.lineText, quantity("pressure", read.supply_bar) + " read");
    this.showDriven(this.purgeValve, out?.purge);
    this.showDriven(this.master, out?.master_fuel);
    say(this.fSupplyText, "supply " + quantity("fuel pressure", read.fuel_bar));
    say(this.blockText, "F block " + quantity("fuel pressure", read.block_bar));
    this.rows.forEach((row, i) => {
      this.showDriven(row.ox, out ? (out.ox >> i) & 1 : null);
      this.showDriven(row.fuel, out ? (out.fuel >> i) & 1 : null);
      const proved = Boolean((read.proof >> i) & 1);
      toggle(row.proof, "made", proved);
      say(row.proofText, proved ? "proved" : "");
      this.flow(row, nozzle?.ox[i], nozzle?.fuel[i]);
      say(row.fText, "F " + quantity("flow", nozzle?.fuel[i]));
    });
  }

  showDriven(valve, on) {
    toggle(valve.body, "open", Boolean(on));
    say(valve.state, on === null || on === undefined ? "not told" : on ? "driven" : "not driven");
  }

  showValve(valve, open, amperes, name = "") {
    toggle(valve.body, "open", open >= 0.99);
    toggle(valve.body, "partly", open > 0 && open < 0.99);
    const words = open >= 0.99 ? "open" : open <= 0 ? "shut" : Math.round(open * 100) + " %";
    say(valve.state, name + words + (amperes ? " " + amperes.toFixed(1) + " A" : ""));
  }

  showPlugs(plugs) {
    const key = JSON.stringify(plugs);
    if (key === this.shownPlugs) return;
    this.shownPlugs = key;
    let right = LINE_RIGHT;
    const words = [];
    const parts = plugs.map(([phase, share]) => {
      const width = share * (LINE_RIGHT - LINE_LEFT);
      right -= width;
      if (share > 0.005) words.push(Math.round(share * 100) + " % " + phase);
      return draw("rect", { class: "plug " + phase, x: right.toFixed(1), y: LINE_Y - LINE_HALF + 1, width: width.toFixed(1), height: 2 * LINE_HALF - 2 });
    });
    this.plugs.replaceChildren(...parts);
    say(this.plugText, words.reverse().join(" · "));
  }

  run(pipe, on) {
    toggle(pipe, "on", on);
  }
}
