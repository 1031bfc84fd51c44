// The last half minute as columns of numbers in a ring; order and units are those of the server's rows.

const CAPACITY = 8192;
export const TICK = 0, BOTTLE = 1, BLOCK = 2, SENSED = 3, FUEL = 4, FUEL_BLOCK = 5;
export const BUS = 6, RAIL = 7, ASKED = 8, DRIVEN = 9, NOZZLES = 10;

export class Rows {
  constructor(stages) {
    this.stages = stages;
    this.columns = Array.from({ length: NOZZLES + 2 * stages }, () => new Float64Array(CAPACITY));
    this.clear();
  }

  clear() {
    this.end = 0;
    this.count = 0;
    this.serial = 0;
  }

  add(rows) {
    for (const row of rows) {
      const at = this.end;
      for (let c = 0; c < this.columns.length; c++) this.columns[c][at] = row[c] ?? NaN;
      this.end = (at + 1) % CAPACITY;
      if (this.count < CAPACITY) this.count++;
    }
    this.serial += rows.length;
  }

  // Index in the ring of the i-th oldest row.
  at(i) {
    return (this.end - this.count + i + CAPACITY) % CAPACITY;
  }

  lastTick() {
    return this.count ? this.columns[TICK][this.at(this.count - 1)] : 0;
  }

  // The first of the rows, oldest first, that is not before a tick.
  firstFrom(tick) {
    let low = 0, high = this.count;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.columns[TICK][this.at(middle)] < tick) low = middle + 1;
      else high = middle;
    }
    return low;
  }
}
