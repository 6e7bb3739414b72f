// The boot ROM's functions that an image calls, as stubs.
//
// The real ROM is not ours to copy. An image finds functions by two letters through a table (RP2040
// data sheet, 2.8.3); here each entry is a breakpoint and a return, and the work is done outside
// the chip. The flash cannot be read between EX and CX, so a caller must sit in RAM with interrupts
// masked: one that does not is an error of the image, and ends the run.

import { RAM_BASE } from './image.mjs';
import { PAGE_BYTES, SECTOR_BYTES } from './nor.mjs';

const TABLE = 0x40;
const CODE = 0x100;
const BREAKPOINT = 0xbe00;
const RETURN = 0x4770;
const MAGIC_AND_VERSION_3 = 0x0301754d;

/** The first is the table's own look-up, the others by their letters. */
const NAMES = ['look up', 'IF', 'EX', 'RE', 'RP', 'FC', 'CX', 'MC', 'C4', 'MS', 'S4', 'UB'];
const NEEDS_RAM = ['EX', 'RE', 'RP', 'FC', 'CX'];

export class Rom {
  /** `spend` takes the time of a flash operation, ns. */
  constructor(chip, nor, spend) {
    this.chip = chip;
    this.nor = nor;
    this.spend = spend;
    this.entries = new Map();
    const rom = new DataView(chip.bootrom.buffer);
    rom.setUint32(0x10, MAGIC_AND_VERSION_3, true);
    rom.setUint16(0x14, TABLE, true);
    rom.setUint16(0x18, CODE | 1, true);
    NAMES.forEach((name, index) => {
      const entry = CODE + 4 * index;
      rom.setUint16(entry, BREAKPOINT | index, true);
      rom.setUint16(entry + 2, RETURN, true);
      if (index === 0) return;
      const letters = name.charCodeAt(0) | (name.charCodeAt(1) << 8);
      rom.setUint16(TABLE + 4 * (index - 1), letters, true);
      rom.setUint16(TABLE + 4 * (index - 1) + 2, entry | 1, true);
      this.entries.set(letters, entry | 1);
    });
  }

  /** A breakpoint was met at an address of the ROM. */
  call(code) {
    const name = NAMES[code];
    const { core } = this.chip;
    if (NEEDS_RAM.includes(name) && (core.LR >>> 28 !== 2 || !core.PM)) {
      throw new Error(`ROM ${name} called from ${core.LR.toString(16)}, interrupts ${core.PM ? 'off' : 'on'}`);
    }
    const [a, b, c] = core.registers;
    switch (name) {
      case 'look up':
        core.registers[0] = this.entries.get(b) ?? 0;
        break;
      case 'IF': case 'EX': case 'FC': case 'CX':
        break;
      case 'RE':
        this.#erase(a, b);
        break;
      case 'RP':
        this.#program(a, b, c);
        break;
      case 'MC': case 'C4':
        for (let k = 0; k < c; k++) this.chip.writeUint8(a + k, this.chip.readUint8(b + k));
        break;
      case 'MS': case 'S4':
        for (let k = 0; k < c; k++) this.chip.writeUint8(a + k, b);
        break;
      default:
        throw new Error(`ROM function ${name ?? code} is not here`);
    }
  }

  #erase(offset, bytes) {
    if (bytes % SECTOR_BYTES !== 0) throw new Error(`erase of ${bytes} bytes`);
    for (let at = offset; at < offset + bytes; at += SECTOR_BYTES) this.spend(this.nor.erase(at));
  }

  #program(offset, source, bytes) {
    if (bytes % PAGE_BYTES !== 0) throw new Error(`program of ${bytes} bytes`);
    if (source < RAM_BASE) throw new Error('flash programmed from flash, which cannot be read then');
    for (let done = 0; done < bytes; done += PAGE_BYTES) {
      const from = source - RAM_BASE + done;
      this.spend(this.nor.program(offset + done, this.chip.sram.subarray(from, from + PAGE_BYTES)));
    }
  }
}
