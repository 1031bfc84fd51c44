// Strip charts of the last 30 s on one canvas: one ink, told apart by letter, line pattern and place.

import { find, make, say, mark } from "./dom.js";
import * as R from "./rows.js";
import { digits, unit } from "./units.js";

const LEFT = 112, RIGHT = 92, AXIS = 20, GAP = 8;
const SOLID = [], DASHED = [6, 3], DOTTED = [1.5, 2.5], CHAIN = [8, 3, 1.5, 3];
const WORDS = { MASTER: 1 << 8, PURGE: 1 << 9, RUN: 1 << 10 };
const BIT_ROW = 11;
const O_ROOM = 1.35, F_ROOM = 2;  // of the rated flow, so that the two lines lie apart
const MIXTURE_FLOOR = 0.05;
const FONT = '"Noto Sans", "DejaVu Sans", "Segoe UI", sans-serif';

export class Charts {
  constructor(hello, rows) {
    this.hello = hello;
    this.rows = rows;
    this.spanTicks = hello.span_ticks;
    const host = find("charts");
    host.replaceChildren(host.firstElementChild);
    this.canvas = make("canvas", { id: "strips", role: "img", "aria-label": "Strip charts" });
    this.rate = make("span", { id: "rate" }, "0");
    host.append(this.canvas, make("p", { class: "help" },
      "Solid O, dashed F. Commands: a bar is driven after the gate, the thin line above it is what was asked. ", this.rate, " pictures a second."));
    this.strips = this.layout();
    this.isDirty = true;
    this.isSeen = true;
    this.drawn = 0;
    this.ink = getComputedStyle(document.documentElement).getPropertyValue("--ink").trim() || "#14202b";
    this.soft = getComputedStyle(document.documentElement).getPropertyValue("--soft").trim() || "#4d5862";
    new ResizeObserver(() => this.size()).observe(this.canvas);
    new IntersectionObserver((seen) => { this.isSeen = seen.at(-1).isIntersecting; this.isDirty = true; }).observe(this.canvas);
    this.size();
    const draw = () => {
      requestAnimationFrame(draw);
      if (this.isDirty && this.isSeen) this.paint();
    };
    requestAnimationFrame(draw);
    setInterval(() => this.tell(), 1000);
  }

  layout() {
    const n = this.hello.stages, rated = this.hello.rated;
    const strips = [
      { name: "O pressure", kind: "pressure", height: 58, low: 0, high: 80, grows: true, lines: [["bottle", R.BOTTLE, DOTTED, 1], ["block", R.BLOCK, SOLID, 1.6], ["sensed", R.SENSED, CHAIN, 1]] },
      { name: "F pressure", kind: "fuel pressure", height: 42, low: 0, high: 0.8, grows: true, lines: [["supply", R.FUEL, DASHED, 1.4], ["block", R.FUEL_BLOCK, DOTTED, 1.2]] },
      { name: "Volts", unit: "V", height: 42, low: 0, high: 16, grows: true, lines: [["bus", R.BUS, SOLID, 1.4], ["rail", R.RAIL, DOTTED, 1.2]] },
      { name: "Commands", unit: "", height: BIT_ROW * (2 * n + 3), bits: this.bits(n) },
    ];
    for (let i = 0; i < n; i++) {
      const o = rated ? rated.ox[i] * O_ROOM : 60, f = rated ? rated.fuel[i] * F_ROOM : 12;
      strips.push({ name: "Stage " + (i + 1), kind: "flow", more: " (F: " + digits("flow", f) + ")", height: 46, low: 0, high: o,
        lines: [["O", R.NOZZLES + i, SOLID, 1.6, o, 1], ["F", R.NOZZLES + n + i, DASHED, 1.4, f, 2]] });
    }
    strips.push({ name: "O to F", unit: "by mass", height: 42, low: 0, high: 15, lines: [["all", -1, SOLID, 1.4]] });
    return strips;
  }

  bits(n) {
    const rows = [];
    for (let i = 0; i < n; i++) rows.push(["O" + (i + 1), 1 << i, SOLID], ["F" + (i + 1), 16 << i, DASHED]);
    return [...rows, ["F master", WORDS.MASTER, DASHED], ["purge", WORDS.PURGE, SOLID], ["run", WORDS.RUN, SOLID]];
  }

  size() {
    const scale = window.devicePixelRatio || 1;
    const height = this.strips.reduce((sum, strip) => sum + strip.height + GAP, AXIS);
    this.width = this.canvas.clientWidth || 640;
    this.height = height;
    this.canvas.style.height = height + "px";
    this.canvas.width = Math.round(this.width * scale);
    this.canvas.height = Math.round(height * scale);
    this.scale = scale;
    this.isDirty = true;
  }

  touch() {
    this.isDirty = true;
  }

  paint() {
    this.isDirty = false;
    this.drawn++;
    const c = this.canvas.getContext("2d");
    c.setTransform(this.scale, 0, 0, this.scale, 0, 0);
    c.clearRect(0, 0, this.width, this.height);
    const end = Math.max(this.rows.lastTick(), 1);
    const view = { c, end, from: end - this.spanTicks, right: this.width - RIGHT, wide: this.width - LEFT - RIGHT };
    const first = Math.max(this.rows.firstFrom(view.from) - 1, 0);
    let top = 4;
    for (const strip of this.strips) {
      this.frame(view, strip, top);
      if (strip.bits) this.paintBits(view, strip, top, first);
      else strip.lines.forEach((line, at) => this.paintLine(view, strip, line, top, first, at));
      top += strip.height + GAP;
    }
    this.axis(view, top);
  }

  x(view, tick) {
    return LEFT + ((tick - view.from) / this.spanTicks) * view.wide;
  }

  frame({ c, wide }, strip, top) {
    c.setLineDash(SOLID);
    c.strokeStyle = this.soft;
    c.lineWidth = 0.5;
    c.strokeRect(LEFT, top, wide, strip.height);
    c.fillStyle = this.ink;
    c.textAlign = "left";
    c.textBaseline = "top";
    c.font = "600 11.5px " + FONT;
    c.fillText(strip.name, 2, top);
    c.font = "11px " + FONT;
    const name = strip.kind ? unit(strip.kind) + (strip.more ?? "") : strip.unit;
    if (name) c.fillText(name, 2, top + 15);
    if (strip.bits) return;
    c.textAlign = "right";
    c.fillText(this.text(strip, strip.high), LEFT - 4, top - 2);
    c.textBaseline = "bottom";
    c.fillText("0", LEFT - 4, top + strip.height + 2);
  }

  // At most one point of each kind a pixel: what lies between is drawn as an upright stroke from its least to its most.
  paintLine(view, strip, [name, column, dash, weight, ownHigh], top, first, at) {
    const { c } = view, high = ownHigh ?? strip.high;
    const y = (value) => top + strip.height * (1 - Math.min(Math.max((value - strip.low) / (high - strip.low), 0), 1.02));
    c.setLineDash(dash);
    c.strokeStyle = this.ink;
    c.lineWidth = weight;
    c.beginPath();
    let pen = false, pixel = -1, least = 0, most = 0, last = NaN, greatest = 0;
    const columns = this.rows.columns;
    for (let i = first; i < this.rows.count; i++) {
      const row = this.rows.at(i);
      const value = column < 0 ? this.mixture(row) : columns[column][row];
      if (Number.isNaN(value)) {
        pen = false;
        last = NaN;
        continue;
      }
      const px = Math.max(this.x(view, columns[R.TICK][row]), LEFT);
      const py = y(value);
      if (!pen) {
        c.moveTo(px, py);
        pen = true;
        pixel = Math.floor(px);
        least = most = py;
      } else if (Math.floor(px) === pixel) {
        if (py < least - 1 || py > most + 1) c.lineTo(px, py);
        least = Math.min(least, py);
        most = Math.max(most, py);
      } else {
        c.lineTo(px, py);
        pixel = Math.floor(px);
        least = most = py;
      }
      last = value;
      if (value > greatest) greatest = value;
    }
    c.stroke();
    if (strip.grows && greatest > strip.high) {
      strip.high *= 2;
      this.isDirty = true;
    }
    this.value(view, strip, name, last, top, at, dash, weight);
  }

  // The newest value at the right edge, behind a sample of its line.
  value({ c, right }, strip, name, value, top, at, dash, weight) {
    const y = top + 6 + at * 15;
    c.setLineDash(dash);
    c.lineWidth = weight;
    c.beginPath();
    c.moveTo(right + 4, y);
    c.lineTo(right + 22, y);
    c.stroke();
    c.textAlign = "left";
    c.textBaseline = "middle";
    c.font = "11px " + FONT;
    c.fillStyle = this.ink;
    c.fillText(name + " " + (Number.isNaN(value) ? "–" : this.text(strip, value)), right + 26, y);
  }

  text(strip, value) {
    return strip.kind ? digits(strip.kind, value) : value.toFixed(1);
  }

  mixture(row) {
    const n = this.hello.stages, columns = this.rows.columns;
    let ox = 0, fuel = 0;
    for (let i = 0; i < n; i++) {
      ox += columns[R.NOZZLES + i][row];
      fuel += columns[R.NOZZLES + n + i][row];
    }
    return fuel > MIXTURE_FLOOR && ox > 0 ? ox / fuel : NaN;
  }

  paintBits(view, strip, top, first) {
    const { c, right } = view;
    const columns = this.rows.columns, rows = this.rows;
    strip.bits.forEach(([name, bit, dash], at) => {
      const y = top + at * BIT_ROW;
      c.font = "10px " + FONT;
      c.textAlign = "right";
      c.textBaseline = "middle";
      c.fillStyle = this.ink;
      c.fillText(name, LEFT - 4, y + BIT_ROW / 2 + 0.5);
      this.spans(view, first, columns[R.DRIVEN], bit, (from, to) => {
        c.fillRect(from, y + 4, Math.max(to - from, 1), BIT_ROW - 6);
        if (dash === DASHED) this.combed(c, from, to, y);
      });
      this.spans(view, first, columns[R.ASKED], bit, (from, to) => c.fillRect(from, y + 1.5, Math.max(to - from, 1), 1));
      const driven = rows.count ? columns[R.DRIVEN][rows.at(rows.count - 1)] : NaN;
      c.textAlign = "left";
      c.fillText(Number.isNaN(driven) ? "not told" : driven & bit ? "driven" : "off", right + 26, y + BIT_ROW / 2 + 0.5);
    });
  }

  // Fuel bars are combed, oxidizer bars full.
  combed(c, from, to, y) {
    c.save();
    c.fillStyle = "#fbf8f0";
    for (let x = from + 4; x < to - 1; x += 5) c.fillRect(x, y + 4, 1.6, BIT_ROW - 6);
    c.restore();
  }

  spans(view, first, column, bit, paint) {
    const rows = this.rows, ticks = rows.columns[R.TICK];
    let from = null;
    for (let i = first; i < rows.count; i++) {
      const row = rows.at(i), on = column[row] & bit;
      if (on && from === null) from = Math.max(this.x(view, ticks[row]), LEFT);
      if (!on && from !== null) {
        paint(from, this.x(view, ticks[row]));
        from = null;
      }
    }
    if (from !== null) paint(from, this.x(view, view.end));
  }

  axis(view, top) {
    const { c } = view;
    c.font = "11px " + FONT;
    c.fillStyle = this.ink;
    c.textAlign = "center";
    c.textBaseline = "top";
    for (let s = 0; s <= 30; s += 5) c.fillText(s === 30 ? "now" : "−" + (30 - s) + " s", LEFT + (s / 30) * view.wide, top);
  }

  tell() {
    say(this.rate, String(this.drawn));
    mark(this.canvas, "data-rate", this.drawn);
    this.drawn = 0;
    const rows = this.rows;
    if (!rows.count) return;
    const row = rows.at(rows.count - 1);
    const words = this.strips.filter((strip) => strip.lines).map((strip) => strip.name + ": " + strip.lines.map(([name, column]) => {
      const value = column < 0 ? this.mixture(row) : rows.columns[column][row];
      return name + " " + (Number.isNaN(value) ? "none" : this.text(strip, value));
    }).join(", ") + " " + (strip.kind ? unit(strip.kind) : strip.unit));
    mark(this.canvas, "aria-label", "Strip charts. " + words.join("; "));
  }
}
