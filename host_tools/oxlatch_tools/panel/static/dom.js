// Making and changing nodes. A node is touched only when what it shows has changed.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === null) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value);
  }
  node.append(...children);
  return node;
}

export function make(tag, attributes = {}, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

export function draw(tag, attributes = {}, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

export function find(id) {
  return document.getElementById(id);
}

export function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

export function mark(node, name, value) {
  const text = String(value);
  if (node.getAttribute(name) !== text) node.setAttribute(name, text);
}

export function toggle(node, name, on) {
  if (node.classList.contains(name) !== on) node.classList.toggle(name, on);
}

export function fixed(value, digits, unit = "") {
  if (value === null || value === undefined || Number.isNaN(value)) return "–";
  return value.toFixed(digits) + (unit ? " " + unit : "");
}

export function clock(tick, tickMs) {
  const ms = tick * tickMs;
  const minutes = Math.floor(ms / 60000);
  const rest = ((ms % 60000) / 1000).toFixed(3).padStart(6, "0");
  return String(minutes).padStart(2, "0") + ":" + rest;
}
