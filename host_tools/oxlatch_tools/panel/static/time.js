// Time: run, pause, slower, faster, one tick, any earlier tick and a new branch from there; saving, opening, sharing.

import { clock, find, make, mark, say } from "./dom.js";
import { wanted } from "./link.js";

const SCRUB_MS = 150;
const URL_MS = 400;
const LIVE = "Live from the controller. Time cannot be stopped, and no command is sent.";

export class Time {
  constructor(hello, send) {
    this.hello = hello;
    this.send = send;
    this.kind = hello.kind;
    this.tick = 0;
    this.scrubbed = -1e9;
    this.bar = find("time");
    this.bar.replaceChildren();
    if (this.kind === "controller") {
      this.words = make("p", { class: "inert", id: "time-words", role: "status" }, LIVE);
      this.bar.append(this.words);
      return;
    }
    this.build();
  }

  button(id, name, label, act) {
    return make("button", { type: "button", id, "aria-label": label, title: label, onclick: act }, name);
  }

  build() {
    const { send } = this;
    this.run = this.button("run", "Pause", "Pause", () => send({ do: this.isRunning ? "pause" : "run" }));
    const step = this.button("step", "+1 tick", "One tick forward", () => send({ do: "step" }));
    const back = (id, name, ticks, label) => this.button(id, name, label, () => send({ do: "seek", tick: Math.max(this.first, this.tick - ticks) }));
    this.speed = make("select", { id: "speed", "aria-label": "Speed" },
      ...this.hello.speeds.map((factor) => make("option", { value: factor }, "× " + factor)));
    this.speed.addEventListener("change", () => send({ do: "speed", factor: Number(this.speed.value) }));
    this.slider = make("input", { type: "range", id: "rewind", min: 0, max: 1, step: 1, "aria-label": "Tick of the run" });
    this.slider.addEventListener("input", () => this.scrub(false));
    this.slider.addEventListener("change", () => this.scrub(true));
    this.now = make("output", { id: "now" }, "00:00.000");
    this.ticks = make("span", { id: "tick" }, "tick 0");
    this.words = make("span", { id: "time-words", role: "status" }, "");
    const perSecond = 1000 / this.hello.tick_ms;
    this.bar.append(
      make("div", { class: "time-row" }, this.run, back("back-10", "−10 s", 10 * perSecond, "Ten seconds back"),
        back("back-1", "−1 s", perSecond, "One second back"), back("back-tick", "−1 tick", 1, "One tick back"), step, this.speed,
        this.slider, this.now, this.ticks),
      make("div", { class: "time-row second" }, ...this.second(), this.words));
  }

  second() {
    const open = this.button("open", "Recordings …", "Open a recording", () => this.openLibrary());
    if (this.kind === "recording") {
      this.share = this.button("share", "Copy link to this tick", "Copy link to this tick", () => this.copy());
      return [make("a", { href: "/", class: "button" }, "To the bench"), open, this.share];
    }
    this.seconds = make("select", { id: "save-seconds", "aria-label": "How much to save" },
      ...this.hello.save_seconds.map((s) => make("option", { value: s }, s < 60 ? "last " + s + " s" : "last " + s / 60 + " min")));
    this.seconds.value = "60";
    this.branches = make("span", { id: "branches" });
    this.saved = make("span", { id: "saved" });
    return [
      this.button("save", "Save", "Save a recording", () => this.send({ do: "save", seconds: Number(this.seconds.value) })), this.seconds, open,
      this.button("over", "Start over", "Start over with everything repaired", () => this.send({ do: "start_over" })), this.saved, this.branches,
    ];
  }

  scrub(final) {
    const now = performance.now();
    if (!final && now - this.scrubbed < SCRUB_MS) return;
    this.scrubbed = now;
    this.send({ do: "seek", tick: Number(this.slider.value) });
  }

  update(frame) {
    if (this.kind === "controller") {
      say(this.words, frame.trouble || LIVE);
      return;
    }
    const time = frame.time;
    this.tick = frame.tick;
    this.first = time.first;
    this.isRunning = time.running;
    const name = time.running ? "Pause" : "Run";
    say(this.run, name);
    mark(this.run, "aria-label", name);
    mark(this.run, "title", name);
    if (document.activeElement !== this.speed) this.speed.value = String(time.speed);
    mark(this.slider, "min", time.first);
    mark(this.slider, "max", Math.max(time.head, 1));
    if (performance.now() - this.scrubbed > 2 * SCRUB_MS) this.slider.value = String(frame.tick);
    mark(this.slider, "aria-valuetext", clock(frame.tick, this.hello.tick_ms));
    say(this.now, clock(frame.tick, this.hello.tick_ms));
    say(this.ticks, "tick " + frame.tick);
    say(this.words, this.sentence(frame, time));
    if (this.kind === "bench") this.showRuns(frame, time);
    else this.keepUrl(frame, time);
  }

  sentence(frame, time) {
    if (frame.trouble) return frame.trouble;
    if (time.busy !== null) return "going there: " + time.busy + " %";
    if (this.kind === "recording") return frame.booted ? "the controller was reset here" : "";
    if (frame.tick < time.head) return "The past: run to see it again, or touch a switch and a new branch begins here.";
    if (time.running && time.speed >= 1 && time.pace < 0.8 * time.speed && frame.tick > 1000) return "this machine keeps up with × " + time.pace;
    return time.running ? "" : "paused";
  }

  showRuns(frame, time) {
    const key = frame.saved + JSON.stringify(time.branches.map((branch) => branch[0])) + time.branch;
    if (key === this.shown) return;
    this.shown = key;
    this.saved.replaceChildren();
    if (frame.saved) this.saved.append("saved: ", make("a", { href: "/?" + new URLSearchParams({ recording: frame.saved, tick: String(frame.saved_tick) }), id: "saved-link" }, frame.saved));
    this.branches.replaceChildren();
    if (time.branches.length) this.branches.append("branch " + time.branch + "; back to ");
    for (const [number, head] of time.branches) {
      this.branches.append(this.button("branch-" + number, "branch " + number, "To branch " + number + ", flown to " + clock(head, this.hello.tick_ms), () => this.send({ do: "branch", number })));
    }
  }

  // The address always names the tick shown, so that it can be shared as it stands.
  keepUrl(frame, time) {
    const now = performance.now();
    if (time.running || now - (this.urlAt ?? -URL_MS) < URL_MS || frame.tick === this.urlTick) return;
    this.urlAt = now;
    this.urlTick = frame.tick;
    history.replaceState(null, "", "/?" + new URLSearchParams({ recording: wanted().recording, tick: String(frame.tick) }));
  }

  async copy() {
    const query = new URLSearchParams({ recording: wanted().recording, tick: String(this.tick) });
    const link = location.origin + "/?" + query;
    try {
      await navigator.clipboard.writeText(link);
      say(this.share, "Copied");
    } catch {
      say(this.share, link);
    }
    setTimeout(() => say(this.share, "Copy link to this tick"), 2000);
  }

  async openLibrary() {
    const dialog = find("library");
    const list = make("ul", { class: "recordings" });
    const words = make("p", { class: "help", role: "status" });
    const file = make("input", { type: "file", accept: ".jsonl", id: "upload", "aria-label": "A recording from this computer" });
    file.addEventListener("change", () => this.upload(file.files[0], words));
    const close = make("button", { type: "button", onclick: () => dialog.close() }, "Close");
    dialog.replaceChildren(make("h2", { id: "library-title" }, "Recordings"), list, make("label", {}, "From this computer: ", file), words, close);
    dialog.showModal();
    try {
      const found = await (await fetch("/recordings")).json();
      for (const { name, bytes } of found) {
        list.append(make("li", {}, make("a", { href: "/?" + new URLSearchParams({ recording: name, tick: "0" }) }, name),
          " " + Math.max(1, Math.round(bytes / 1024)) + " kB ", make("a", { href: "/recordings/" + encodeURIComponent(name), download: name }, "download")));
      }
      if (!found.length) list.append(make("li", {}, "There is none yet: save one, or let a command write one."));
    } catch {
      say(words, "The list cannot be had: the panel does not answer.");
    }
  }

  async upload(file, words) {
    if (!file) return;
    const answer = await fetch("/recordings/" + encodeURIComponent(file.name), { method: "POST", body: file }).catch(() => null);
    if (answer?.ok) location.href = "/?" + new URLSearchParams({ recording: (await answer.json()).name, tick: "0" });
    else say(words, answer ? await answer.text() : "The panel does not answer.");
  }
}
