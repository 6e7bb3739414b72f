// What is around the chip and outlives its resets: supply, flash, pump and contactor, converters, the
// independent clock, contacts, cable.

import { SensorBus } from './bus.mjs';
import { Chip } from './chip.mjs';
import { Nor, SupplyCut } from './nor.mjs';
import { INPUTS, OUTPUTS, PINS } from './pins.mjs';
import { Pump } from './pump.mjs';

const CLOCK_HZ = 32768;
/** A processor that does not sleep is not waited for longer, ns. */
const AWAKE_NS = 0.5e9;

export class Bench {
  constructor({ flash, fitted, seed, traps = [] }) {
    this.traps = traps;
    this.nor = new Nor(flash, seed);
    this.nor.now = () => this.nanos;
    this.bus = new SensorBus(fitted);
    this.bus.now = () => this.nanos;
    this.pump = new Pump();
    this.clockHz = CLOCK_HZ;
    /** The mirror contact when the clock was last read: in a tick, next to the contacts. */
    this.mirrorAtTick = false;
    this.contacts = new Map(INPUTS.map((name) => [name, true]));
    /** The mirror contact as it is forced, or none: as the contactor is. */
    this.mirror = null;
    this.levels = new Map(OUTPUTS.map((name) => [name, false]));
    this.since = new Map(OUTPUTS.map((name) => [name, 0]));
    this.highNs = new Map(OUTPUTS.map((name) => [name, 0]));
    this.lastHighAt = -1;
    this.resets = 0;
    this.instructions = 0;
    this.longestAwake = 0;
    this.plugged = true;
    /** Levels that pads are held at from outside. */
    this.stuck = {};
    this.start({ bornAt: 0, scratch: null, reason: 0 });
  }

  get nanos() {
    return this.chip.nanos;
  }

  /** A chip from its reset on. */
  start({ bornAt, scratch, reason }) {
    if (this.chip) {
      this.instructions += this.chip.instructions;
      this.longestAwake = Math.max(this.longestAwake, this.chip.longestAwake);
    }
    this.chip = new Chip({
      nor: this.nor, bus: this.bus, bornAt, scratch, reason, stuck: this.stuck,
      traps: this.traps,
      onOutput: (name, high, at) => this.#output(name, high, at),
    });
    this.chip.independentClock.run(this.clockHz);
    this.chip.independentClock.onRead = () => {
      this.mirrorAtTick = this.contacts.get('permitRead');
    };
    this.chip.usb.plugged = this.plugged;
    for (const [name, high] of this.contacts) this.#setPin(name, high);
  }

  /** The supply goes and comes back after so long. */
  cutSupply(offNs) {
    this.#letGo();
    this.pump.discharge(this.nanos);
    this.bus.loseSupply();
    this.pump.advance(this.nanos + offNs);
    this.start({ bornAt: this.nanos + offNs, scratch: null, reason: 0 });
  }

  /** The watchdog has bitten: registers and pins are at their reset values, scratch is kept. */
  resetByWatchdog() {
    this.#letGo();
    this.resets++;
    const { scratchData, reason } = this.chip.watchdog;
    this.start({ bornAt: this.nanos, scratch: Uint32Array.from(scratchData), reason });
  }

  /**
   * Runs to a time of the bench through any number of resets, and then on till the processor sleeps;
   * 'time', 'cut' or 'error'.
   */
  run(until) {
    const most = until + AWAKE_NS;
    let upTo = until;
    for (;;) {
      const ended = this.#runChip(upTo);
      if (ended === 'watchdog') this.resetByWatchdog();
      else if (ended !== 'time' || this.#isAtRest() || this.nanos >= most) return ended;
      // A tick that erases is longer than the half till the next.
      if (this.nanos >= until) upTo = this.nanos + 1e6;
    }
  }

  #isAtRest() {
    const { chip } = this;
    // A start takes as long as it takes; what is waited for is a tick.
    const starts = !chip.hasSlept && chip.independentClock.readings < 2;
    return chip.core.waiting || chip.frozen || starts;
  }

  #runChip(until) {
    try {
      let ended = 'time';
      while (ended === 'time' && this.nanos < until) {
        ended = this.chip.run(Math.min(until, this.#nextFollow()));
        this.#followContactor();
      }
      return ended;
    } catch (fault) {
      if (fault instanceof SupplyCut) return 'cut';
      this.chip.errors.push(`${fault.message}, at ${this.chip.core.PC.toString(16)}`);
      return 'error';
    }
  }

  /** A contact input's level; high: open. */
  setContact(name, high) {
    if (this.contacts.get(name) === high) return;
    this.contacts.set(name, high);
    this.#setPin(name, high);
  }

  #setPin(name, high) {
    this.chip.rp2040.gpio[PINS[name]].setInputValue(high);
  }

  /**
   * The mirror contact follows the contactor a few milliseconds late, as contacts do; never within 5 ms
   * of a tick, so that one tick's reads all see the same.
   */
  #nextFollow() {
    const { nanos, bornAt } = this.chip;
    return bornAt + (Math.floor((nanos - bornAt) / 10e6 + 0.5) + 0.5) * 10e6;
  }

  #followContactor() {
    this.pump.advance(this.nanos);
    // STOP and door are in the coil circuit, beside the pump.
    const coil = !this.contacts.get('stop') && !this.contacts.get('door');
    this.setContact('permitRead', this.mirror ?? (this.pump.closed && coil));
  }

  #output(name, high, at) {
    if (this.levels.get(name) === high) return;
    if (this.levels.get(name)) this.#addHigh(name, at);
    this.levels.set(name, high);
    this.since.set(name, at);
    if (name === 'permit') this.pump.edge(high, at);
  }

  #addHigh(name, at) {
    this.highNs.set(name, this.highNs.get(name) + at - this.since.get(name));
    this.since.set(name, at);
    if (name === 'drive') this.lastHighAt = at;
  }

  /** Every output is an input again, drawn low from outside. */
  #letGo() {
    for (const name of OUTPUTS) this.#output(name, this.stuck[name] ?? false, this.nanos);
  }

  /** A pad held from outside; null: let go. */
  stick(name, level) {
    this.stuck[name] = level;
    const driven = this.chip.driven.get(name) ?? false;
    this.#setPin(name, level ?? driven);
    this.#output(name, level ?? driven, this.nanos);
  }

  /** Another resistance of the pump's leak, as a multiple of what is drawn. */
  setLeak(leak) {
    this.pump.advance(this.nanos);
    this.pump.setLeak(leak);
  }

  /** Errors of the image or of the harness since the last call. */
  takeErrors() {
    return this.chip.errors.splice(0);
  }

  /** Instructions since the last call. */
  takeInstructions() {
    const { chip } = this;
    const taken = this.instructions + chip.instructions;
    this.instructions = 0;
    chip.instructions = 0;
    return taken;
  }

  /** Most instructions between two sleeps since the last call. */
  takeLongest() {
    const longest = Math.max(this.longestAwake, this.chip.longestAwake);
    this.longestAwake = 0;
    this.chip.longestAwake = 0;
    return longest;
  }

  /** Time the contactor was closed since the last call, ns. */
  takeClosed() {
    this.pump.advance(this.nanos);
    const taken = this.pump.closedNs;
    this.pump.closedNs = 0;
    return taken;
  }

  /** Time an output was high since the last call, ns. */
  takeHigh(name) {
    if (this.levels.get(name)) this.#addHigh(name, this.nanos);
    const taken = this.highNs.get(name);
    this.highNs.set(name, 0);
    return taken;
  }
}
