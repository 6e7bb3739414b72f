// Sensor converters as the bus sees them: bytes in, bytes out, registers that keep what is written.
//
// What a conversion gives is set from outside as the very bytes of the result registers; when they
// show is for the chip's set-up and its time to say. Addresses, reset values, times and bits that clear
// themselves are the data sheets' (MAX31855, MAX31856, MAX31865), from memory. A conversion takes as
// long as it may at most.

const WRITE = 0x80;

/** 32 bits, read only; it converts whenever it is not selected. */
export class Max31855 {
  constructor() {
    this.result = [0, 0, 0, 0];
    this.at = 0;
  }

  /** What it converts from now on. */
  shows(result) {
    this.result = result;
  }

  select() {
    this.at = 0;
  }

  letGo() {}

  transfer() {
    return this.result[this.at++] ?? 0;
  }

  loseSupply() {}
}

/**
 * A file of registers behind one address byte that counts up by itself, and a bit of the first that
 * begins a conversion as the chip is let go. It never converts by itself: nobody sets it up to.
 */
class Registers {
  constructor({ reset, writable, results, oneShot, clears, beyondSupply }) {
    Object.assign(this, { reset, writable, results, oneShot, clears, beyondSupply });
    this.result = results.map(() => 0);
    /** Conversions that are under way do not end any more. */
    this.neverEnds = false;
    this.loseSupply();
  }

  loseSupply() {
    this.bytes = [...this.reset];
    this.address = null;
    this.endsAt = null;
    this.asked = false;
    this.suspended = false;
  }

  /** What it converts from now on; what ended before then is done with. */
  shows(result, now) {
    this.#settle(now);
    this.result = result;
    this.#sense();
  }

  select(now) {
    this.#settle(now);
    this.address = null;
  }

  letGo(now) {
    if (this.asked) this.endsAt = now + this.conversionNs();
    this.asked = false;
  }

  transfer(byte) {
    if (this.address === null) {
      this.address = byte & 0x7f;
      this.writes = (byte & WRITE) !== 0;
      return 0;
    }
    const register = this.address++ % this.bytes.length;
    if (!this.writes) return this.bytes[register];
    if (register < this.writable) this.write(register, byte);
    return 0;
  }

  write(register, byte) {
    this.bytes[register] = register === 0 ? byte & ~this.clears : byte;
    if (register === 0 && (byte & this.oneShot) !== 0) this.asked = true;
  }

  /** An input beyond the supply shows at once, and no conversion goes on. */
  #sense() {
    const { register, bit, of } = this.beyondSupply;
    this.suspended = (this.result[of] & bit) !== 0;
    if (this.suspended) this.bytes[register] |= bit;
  }

  /** Ends a conversion whose time is over. */
  #settle(now) {
    if (this.endsAt === null || now < this.endsAt || this.neverEnds || this.suspended) return;
    this.endsAt = null;
    this.bytes[0] &= ~this.oneShot;
    this.convert();
  }

  convert() {
    this.results.forEach((register, index) => {
      this.bytes[register] = this.result[index];
    });
  }
}

/** CR0: looks for open wires, 50 Hz; SR: wires open. */
const OPEN_DETECTION = 0x30;
const HZ_50 = 0x01;
const OPEN = 0x01;

export class Max31856 extends Registers {
  constructor() {
    super({
      reset: [0x00, 0x03, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0, 0, 0, 0, 0, 0, 0, 0],
      writable: 0x0c,
      results: [0x0a, 0x0b, 0x0c, 0x0d, 0x0e, 0x0f],
      oneShot: 0x40,
      clears: 0x02,
      beyondSupply: { register: 0x0f, bit: 0x02, of: 5 },
    });
  }

  conversionNs() {
    const alone = (this.bytes[0] & HZ_50) !== 0 ? 185e6 : 155e6;
    return (this.bytes[0] & OPEN_DETECTION) !== 0 ? alone + 15e6 : alone;
  }

  convert() {
    super.convert();
    if ((this.bytes[0] & OPEN_DETECTION) === 0) this.bytes[0x0f] &= ~OPEN;
  }
}

/** Configuration: a fault cycle, and faults forgotten. */
const CYCLE = 0x0c;
const CLEAR = 0x02;
/** Status: what a conversion finds, and what a cycle does. */
const BY_CONVERSION = 0xc4;
const BY_CYCLE = 0x3c;

export class Max31865 extends Registers {
  constructor() {
    super({
      reset: [0x00, 0x00, 0x00, 0xff, 0xff, 0x00, 0x00, 0x00],
      writable: 0x07,
      results: [0x01, 0x02],
      oneShot: 0x20,
      // A cycle is through in half a millisecond: nobody looks before.
      clears: CYCLE | CLEAR,
      beyondSupply: { register: 0x07, bit: 0x04, of: 2 },
    });
  }

  conversionNs() {
    return (this.bytes[0] & HZ_50) !== 0 ? 66e6 : 55e6;
  }

  write(register, byte) {
    super.write(register, byte);
    if (register !== 0) return;
    // Faults are forgotten only by a write that asks for nothing else.
    if ((byte & (CLEAR | CYCLE | this.oneShot)) === CLEAR) this.bytes[0x07] = 0;
    if ((byte & CYCLE) !== 0) this.bytes[0x07] |= this.result[2] & BY_CYCLE;
  }

  convert() {
    super.convert();
    this.bytes[0x07] |= this.result[2] & BY_CONVERSION;
  }
}

/** What the settings call a chip. */
export const CHIPS = { max31855: Max31855, max31856: Max31856, max31865: Max31865 };
