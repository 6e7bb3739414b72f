// Numbers into bytes and back, little-endian.

export class Reader {
  constructor(buffer) {
    this.buffer = buffer;
    this.at = 0;
  }

  u8() { return this.buffer.readUInt8(this.#next(1)); }
  u16() { return this.buffer.readUInt16LE(this.#next(2)); }
  u32() { return this.buffer.readUInt32LE(this.#next(4)); }
  f64() { return this.buffer.readDoubleLE(this.#next(8)); }

  bytes(count) {
    const from = this.#next(count);
    return this.buffer.subarray(from, from + count);
  }

  rest() { return this.bytes(this.buffer.length - this.at); }

  #next(count) {
    const from = this.at;
    this.at += count;
    return from;
  }
}

export class Writer {
  constructor() {
    this.buffer = Buffer.alloc(256);
    this.length = 0;
  }

  u8(value) { this.buffer.writeUInt8(value, this.#next(1)); }
  u16(value) { this.buffer.writeUInt16LE(value, this.#next(2)); }
  u32(value) { this.buffer.writeUInt32LE(value, this.#next(4)); }
  f64(value) { this.buffer.writeDoubleLE(value, this.#next(8)); }

  bytes(values) {
    this.buffer.set(values, this.#next(values.length));
  }

  /** A length of two bytes, then the bytes. */
  block16(values) {
    this.u16(values.length);
    this.bytes(values);
  }

  done() { return this.buffer.subarray(0, this.length); }

  #next(count) {
    const from = this.length;
    this.length += count;
    if (this.length > this.buffer.length) {
      const larger = Buffer.alloc(2 * this.length);
      larger.set(this.buffer);
      this.buffer = larger;
    }
    return from;
  }
}
