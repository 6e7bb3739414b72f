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

  u8(value) { this.#put(1, (at) => this.buffer.writeUInt8(value, at)); }
  u16(value) { this.#put(2, (at) => this.buffer.writeUInt16LE(value, at)); }
  u32(value) { this.#put(4, (at) => this.buffer.writeUInt32LE(value, at)); }
  f64(value) { this.#put(8, (at) => this.buffer.writeDoubleLE(value, at)); }

  bytes(values) {
    this.#put(values.length, (at) => this.buffer.set(values, at));
  }

  /** A length of two bytes, then the bytes. */
  block16(values) {
    this.u16(values.length);
    this.bytes(values);
  }

  done() { return this.buffer.subarray(0, this.length); }

  /** Makes room before the buffer is looked at: it may be another afterwards. */
  #put(count, write) {
    const from = this.length;
    this.length += count;
    if (this.length > this.buffer.length) {
      const larger = Buffer.alloc(2 * this.length);
      larger.set(this.buffer);
      this.buffer = larger;
    }
    write(from);
  }
}
