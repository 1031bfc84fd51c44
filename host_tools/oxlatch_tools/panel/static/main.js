// The page: builds its parts from what the server says of itself, then shows every frame.

import { About } from "./about.js";
import { Breaking } from "./breaking.js";
import { Charts } from "./charts.js";
import { Cockpit } from "./cockpit.js";
import { find, say } from "./dom.js";
import { Flows } from "./flows.js";
import { Lamps } from "./lamps.js";
import { Link } from "./link.js";
import { Rows } from "./rows.js";
import { Time } from "./time.js";
import { learn } from "./units.js";
import { Why } from "./why.js";

let parts = null;
let known = "";

// After a lost connection the same panel is gone on with; another one begins a new page.
function begin(hello) {
  const text = JSON.stringify(hello);
  if (parts && text !== known) {
    location.reload();
    return;
  }
  known = text;
  parts ??= build(hello);
  document.body.className = hello.kind;
  find("notice").hidden = true;
}

function build(hello) {
  const send = (message) => link.send(message);
  learn(hello.units);
  const rows = new Rows(hello.stages);
  return {
    rows,
    lamps: new Lamps(hello),
    cockpit: new Cockpit(hello, send),
    why: new Why(hello),
    flows: new Flows(hello),
    charts: new Charts(hello, rows),
    breaking: new Breaking(hello, send),
    time: new Time(hello, send),
    about: new About(hello),
  };
}

function show({ frame, fresh, rows, counts }) {
  parts.lamps.update(frame);
  parts.cockpit.update(frame);
  parts.why.update(frame);
  parts.flows.update(frame);
  parts.breaking.update(frame);
  parts.time.update(frame);
  parts.about.update(counts);
  if (fresh) parts.rows.clear();
  parts.rows.add(rows);
  if (fresh || rows.length) parts.charts.touch();
}

function lose(words) {
  document.body.classList.add("lost");
  const notice = find("notice");
  say(notice, words);
  notice.hidden = false;
  parts?.lamps.dark();
  parts?.cockpit.lost();
}

const link = new Link({ hello: begin, frame: show, lost: lose });
