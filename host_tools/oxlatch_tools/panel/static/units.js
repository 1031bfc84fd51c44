// Numbers of a frame as the installation wants them shown: metric or US. The server says how.

let kinds = {};

export function learn(units) {
  kinds = units;
}

export function unit(kind) {
  return kinds[kind].unit;
}

export function number(kind, value) {
  const { scale, offset } = kinds[kind];
  return value * scale + offset;
}

export function digits(kind, value, decimals = kinds[kind].decimals) {
  if (value === null || value === undefined || Number.isNaN(value)) return "–";
  return number(kind, value).toFixed(decimals);
}

export function quantity(kind, value, decimals = kinds[kind].decimals) {
  const text = digits(kind, value, decimals);
  return text === "–" ? text : text + " " + unit(kind);
}
