// The permit's charge pump and the contactor it holds, as firmware/wiring.md draws them.
//
// Each falling edge of the pin moves a charge into C3; a rising edge empties the pump's own
// capacitors again; what C3 holds leaks through R4 and R5 all the while, C1 and C2 with it while
// the pin is low. The contactor closes above one voltage and opens below another. A pin that stands
// still sends nothing, so it opens by itself.
//
// The parts' nominal values are the default; a scenario scales the leak, so that the shortest and the
// longest hold the guide allows are met too. The coil's own time is not here.

/** Nominal values of wiring.md, "The permit's charge pump". */
const PUMP_UF = 0.34;
const STORE_UF = 2.2;
const LEAK_KOHM = 206;
const SUPPLY_V = 24 - 2 * 0.6;
const CLOSES_V = 3.77;
const OPENS_V = 2.36;

export class Pump {
  constructor() {
    this.setLeak(1);
    this.volts = 0;
    this.high = false;
    this.closed = false;
    this.at = 0;
    this.closedNs = 0;
    this.openedAt = 0;
    this.edges = 0;
    this.lastEdgeAt = null;
  }

  /** So many times the resistance that is drawn. */
  setLeak(leak) {
    const msPerUf = LEAK_KOHM * leak;
    this.lowNs = msPerUf * (PUMP_UF + STORE_UF) * 1e6;
    this.highNs = msPerUf * STORE_UF * 1e6;
  }

  /** The pin has changed. */
  edge(high, now) {
    if (high === this.high) return;
    this.advance(now);
    this.high = high;
    this.edges++;
    this.lastEdgeAt = now;
    if (high) return;
    this.volts += (PUMP_UF / (PUMP_UF + STORE_UF)) * (SUPPLY_V - this.volts);
    if (this.volts > CLOSES_V) this.closed = true;
  }

  /** The supply of the coil is gone, or back with nothing in C3. */
  discharge(now) {
    this.advance(now);
    this.volts = 0;
    this.high = false;
    if (this.closed) this.openedAt = now;
    this.closed = false;
  }

  /** Time goes on with the pin as it is. */
  advance(now) {
    const passed = now - this.at;
    if (passed <= 0) return;
    const time = this.high ? this.highNs : this.lowNs;
    if (this.closed) {
      const holds = time * Math.log(this.volts / OPENS_V);
      this.closedNs += Math.min(passed, holds);
      if (holds <= passed) {
        this.closed = false;
        this.openedAt = this.at + holds;
      }
    }
    this.volts *= Math.exp(-passed / time);
    this.at = now;
  }
}
