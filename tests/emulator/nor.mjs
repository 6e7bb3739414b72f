// NOR flash that outlives the chip around it, and what a lost supply makes of it.
//
// Programming clears bits, erasing sets them; nothing else changes. An operation takes its time,
// with the chip's processor stopped. A cut in the middle leaves it torn:
//
// * `prefix`: so many bytes are done, one more in part, the rest as it was;
// * `bits`: of every bit that was to change, some did, anywhere in the page or sector;
// * `none`: nothing was done yet; `all`: everything was, but nobody knows.

import { FLASH_BYTES } from './image.mjs';

export const SECTOR_BYTES = 4096;
export const PAGE_BYTES = 256;

/** Typical and greatest times of a common chip, ns (W25Q16JV data sheet, from memory). */
export const USUAL_TIMES = { eraseNs: 45e6, programNs: 0.7e6 };

/** The supply went. */
export class SupplyCut extends Error {}

/** Where the processor sees flash: a chip repeats itself, this one ends. */
const WINDOW_BYTES = 16 * 1024 * 1024;
const READ_UNIQUE = 0x4b;
const UNIQUE_FROM = 5;
/** The number of this one flash chip. */
const UNIQUE = [0x7e, 0x50, 0xa1, 0x05, 0x0a, 0x4b, 0x0a, 0x6d];

export class Nor {
  constructor(bytes, seed = 1) {
    this.window = new Uint8Array(WINDOW_BYTES).fill(0xff);
    this.window.set(bytes);
    this.bytes = this.window.subarray(0, FLASH_BYTES);
    this.command = [];
    this.times = { ...USUAL_TIMES };
    this.counts = { erase: 0, program: 0 };
    this.forget();
    /** What time it is, ns: the bench's to say. */
    this.now = () => 0;
    /** What stood here when `keepTape` was called, and every operation from then to `endTape`. */
    this.tape = null;
    this.keepsTape = false;
    /** Cut at the so-manyth operation from now: { operations, tear, kind? }. */
    this.cut = null;
    /** Sectors that do not take what is written: none, or a function of the offset. */
    this.isStuck = null;
    this.random = seed >>> 0 || 1;
  }

  /** FNV-1a of every operation from now on: its kind, its place, what was to be programmed. */
  forget() {
    this.digest = 0x811c9dc5;
  }

  /** Every operation is kept from now on. */
  keepTape() {
    this.tape = { from: Uint8Array.from(this.bytes), operations: [] };
    this.keepsTape = true;
  }

  /** No more are kept; those that were. */
  endTape() {
    this.keepsTape = false;
    return this.tape.operations;
  }

  /** Now it holds what so many operations of the tape leave, the next one torn where `tear` says how. */
  play(operations, tear) {
    const { from, operations: all } = this.tape;
    this.bytes.set(from);
    for (const { offset, bytes, data } of all.slice(0, operations)) {
      this.#tear('all', offset, bytes, data);
    }
    const torn = all[operations];
    if (tear !== null && torn) this.#tear(tear, torn.offset, torn.bytes, torn.data);
  }

  /** A command of its own bus begins. */
  select() {
    this.command = [];
  }

  /** A byte of it there and back. */
  transfer(byte) {
    this.command.push(byte);
    if (this.command[0] !== READ_UNIQUE) return 0;
    return UNIQUE[this.command.length - 1 - UNIQUE_FROM] ?? 0;
  }

  /** Sets a sector's bits; the time it takes, ns. */
  erase(offset) {
    this.#refuseOutside(offset, SECTOR_BYTES);
    this.#count('erase', offset, SECTOR_BYTES, null);
    if (!this.isStuck?.(offset)) this.bytes.fill(0xff, offset, offset + SECTOR_BYTES);
    return this.times.eraseNs;
  }

  /** Clears bits of a page; the time it takes, ns. */
  program(offset, data) {
    this.#refuseOutside(offset, PAGE_BYTES);
    this.#count('program', offset, PAGE_BYTES, data);
    if (!this.isStuck?.(offset)) {
      for (let index = 0; index < PAGE_BYTES; index++) this.bytes[offset + index] &= data[index];
    }
    return this.times.programNs;
  }

  #refuseOutside(offset, bytes) {
    if (offset % bytes !== 0 || offset + bytes > FLASH_BYTES) {
      throw new Error(`flash operation at ${offset.toString(16)}: not aligned, or outside`);
    }
  }

  #count(kind, offset, bytes, data) {
    this.counts[kind]++;
    this.#digestOf(kind === 'erase' ? [0] : [1, ...data], offset);
    if (this.keepsTape) {
      const at = this.now();
      this.tape.operations.push({ kind, offset, bytes, data: data && Uint8Array.from(data), at });
    }
    if (this.cut === null || (this.cut.kind ?? kind) !== kind) return;
    if (--this.cut.operations > 0) return;
    const { tear } = this.cut;
    this.cut = null;
    this.#tear(tear, offset, bytes, data);
    throw new SupplyCut(`${kind} at ${offset.toString(16)}, ${tear}`);
  }

  #digestOf(bytes, offset) {
    const all = [offset & 255, (offset >> 8) & 255, (offset >> 16) & 255, ...bytes];
    for (const byte of all) this.digest = Math.imul(this.digest ^ byte, 0x01000193) >>> 0;
  }

  #tear(tear, offset, bytes, data) {
    const wanted = (index) => (data === null ? 0xff : this.bytes[offset + index] & data[index]);
    const change = (index, mask) => {
      const was = this.bytes[offset + index];
      this.bytes[offset + index] = (was & ~mask) | (wanted(index) & mask);
    };
    if (tear === 'prefix') {
      const done = this.#draw() % (bytes + 1);
      for (let index = 0; index < done; index++) change(index, 0xff);
      if (done < bytes) change(done, this.#draw() & 0xff);
    } else if (tear === 'bits') {
      const share = (this.#draw() % 1001) / 1000;
      for (let index = 0; index < bytes; index++) change(index, this.#mask(share));
    } else if (tear === 'all') {
      for (let index = 0; index < bytes; index++) change(index, 0xff);
    } else if (tear !== 'none') {
      throw new Error(`no tear "${tear}"`);
    }
  }

  #mask(share) {
    let mask = 0;
    for (let bit = 0; bit < 8; bit++) {
      if ((this.#draw() % 1000) / 1000 < share) mask |= 1 << bit;
    }
    return mask;
  }

  /** Marsaglia's xorshift32 (Journal of Statistical Software 8(14), 2003). */
  #draw() {
    let x = this.random;
    x ^= x << 13;
    x ^= x >>> 17;
    x ^= x << 5;
    this.random = x >>> 0;
    return this.random;
  }
}
