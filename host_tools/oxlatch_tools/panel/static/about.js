// About: which aircraft and firmware, what is not fitted, what this page does not show.

import { find, make, say } from "./dom.js";

const SOURCES = { bench: "The virtual bench: the controller's own code against a model of the aircraft.", recording: "A recording", controller: "A real controller, view only." };

export class About {
  constructor(hello) {
    const host = find("about");
    host.replaceChildren(host.firstElementChild);
    const source = hello.kind === "recording" ? SOURCES.recording + " of a " + hello.source + "." : SOURCES[hello.kind];
    document.title = hello.title + " – oxlatch panel";
    host.append(make("p", {}, make("b", {}, hello.title), ". " + source + " Installation " + hello.installation + ", firmware " + hello.firmware + "."));
    for (const words of hello.problems ?? []) host.append(make("p", {}, words));
    if (hello.same_firmware === false) host.append(make("p", {}, "Recorded with another firmware than the one installed here: reasons may have other words."));
    host.append(make("p", {}, this.fitted(hello)));
    for (const [part, lost] of hello.not_fitted ?? []) host.append(make("p", {}, make("b", {}, "Not fitted: " + part + ". "), lost));
    host.append(
      make("p", {}, "Not shown here: density of the air at the engine, mixture at a single cylinder, temperatures in the engine, sound. The tone is not played."),
      make("p", {}, "A simulation shows what a model does, not what your aircraft does. Engine maker, gas supplier, local rules and licensed practice come first."));
    this.counts = make("p", { id: "counts" });
    host.append(this.counts);
  }

  fitted(hello) {
    if (hello.not_fitted === null) return "What was fitted is in the header of the recording.";
    return hello.not_fitted.length ? "" : "Not fitted: nothing; every optional input is there.";
  }

  update(counts) {
    say(this.counts, counts.pages + " page" + (counts.pages === 1 ? "" : "s") + " open. Messages dropped: " + counts.dropped +
      (counts.why_dropped ? " (last: " + counts.why_dropped + ")" : "") + ". Pictures this page was too slow for: " + counts.missed + ".");
  }
}
