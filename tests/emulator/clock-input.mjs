// The independent clock on the counter's pin.
//
// 32,768 edges a second would be 65,536 calls a second; instead the counter of the chip's PWM slice
// is asked for where it stands when it is read, from the edges that came since it was let count. In
// the package such a slice never counts, so nothing else is lost.

const CHANNEL_BYTES = 0x14;
const CSR = 0x00;
const CTR = 0x08;
const TOP = 0x10;
const COUNTS_RISING_EDGES = 2;

export class ClockInput {
  /** `slice`: 0..7; `now`: the chip's time, ns. */
  constructor(pwm, slice, now) {
    Object.assign(this, { pwm, slice, now });
    this.hertz = 0;
    this.edgesThen = 0;
    this.changedAt = 0;
    this.offset = 0;
    /** What the counter was read as, and when. */
    this.reads = [];
    /** How often it was read: once as the board is set up, then in every tick. */
    this.readings = 0;
    /** Somebody reads it: a tick is under way. */
    this.onRead = null;
    const base = slice * CHANNEL_BYTES;
    const { readUint32, writeUint32 } = Object.getPrototypeOf(pwm);
    pwm.readUint32 = (offset) => (offset === base + CTR && this.#counts()
      ? this.#count() : readUint32.call(pwm, offset));
    pwm.writeUint32 = (offset, value) => {
      writeUint32.call(pwm, offset, value);
      if (offset === base + CTR || offset === base + CSR) this.#setTo(offset === base + CTR ? value : null);
    };
  }

  /** From now on so many edges a second. */
  run(hertz) {
    this.edgesThen = this.#edges();
    this.changedAt = this.now();
    this.hertz = hertz;
  }

  #edges() {
    return this.edgesThen + ((this.now() - this.changedAt) * this.hertz) / 1e9;
  }

  #counts() {
    const csr = this.pwm.channels[this.slice].csr;
    return (csr & 1) !== 0 && ((csr >> 4) & 3) === COUNTS_RISING_EDGES;
  }

  #setTo(value) {
    this.offset = Math.floor(this.#edges()) - (value ?? 0);
  }

  #count() {
    const top = this.pwm.channels[this.slice].top;
    const count = (Math.floor(this.#edges()) - this.offset) % (top + 1);
    this.reads.push([count, this.now()]);
    this.readings++;
    this.onRead?.();
    return count;
  }
}
