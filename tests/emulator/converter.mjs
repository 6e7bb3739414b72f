// Sensor converters as the bus sees them: bytes in, bytes out, registers that keep what is written.
//
// What a conversion gives is set from outside as the very bytes of the result registers; whether
// they show is for the chip's set-up to say. Addresses, reset values and bits that clear themselves
// are the data sheets' (MAX31855, MAX31856, MAX31865), from memory.

const WRITE = 0x80;

/** 32 bits, read only. */
export class Max31855 {
  constructor() {
    this.result = [0, 0, 0, 0];
    this.at = 0;
  }

  select() {
    this.at = 0;
  }

  transfer() {
    return this.result[this.at++] ?? 0;
  }

  loseSupply() {}
}

/** A file of registers behind one address byte that counts up by itself. */
class Registers {
  constructor({ reset, writable, results, converts, clears }) {
    Object.assign(this, { reset, writable, results, converts, clears });
    this.result = results.map(() => 0);
    this.loseSupply();
  }

  loseSupply() {
    this.bytes = [...this.reset];
    this.address = null;
  }

  select() {
    this.address = null;
  }

  transfer(byte) {
    if (this.address === null) {
      this.address = byte & 0x7f;
      this.writes = (byte & WRITE) !== 0;
      if (!this.writes && this.converts(this.bytes)) this.#convert();
      return 0;
    }
    const register = this.address++ % this.bytes.length;
    if (!this.writes) return this.bytes[register];
    if (register < this.writable) {
      this.bytes[register] = register === 0 ? byte & ~this.clears : byte;
    }
    return 0;
  }

  #convert() {
    this.results.forEach((register, index) => {
      this.bytes[register] = this.result[index];
    });
  }
}

export class Max31856 extends Registers {
  constructor() {
    super({
      reset: [0x00, 0x03, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0, 0, 0, 0, 0, 0, 0, 0],
      writable: 0x0c,
      results: [0x0a, 0x0b, 0x0c, 0x0d, 0x0e, 0x0f],
      converts: ([control]) => (control & 0x80) !== 0,
      clears: 0x42,
    });
  }
}

export class Max31865 extends Registers {
  constructor() {
    super({
      reset: [0x00, 0x00, 0x00, 0xff, 0xff, 0x00, 0x00, 0x00],
      writable: 0x07,
      results: [0x01, 0x02, 0x07],
      converts: ([control]) => (control & 0x80) !== 0,
      clears: 0x2e,
    });
  }
}

/** What the settings call a chip. */
export const CHIPS = { max31855: Max31855, max31856: Max31856, max31865: Max31865 };
