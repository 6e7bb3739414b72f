// The image as a linker wrote it: what goes to flash, where names are, and how much RAM is taken.
//
// ELF of 32 bits, little-endian (System V ABI, Tool Interface Standard 1.2). Segments go by their
// physical address, so that initialised RAM and functions that run there land in flash, as they do
// on the chip. Refused: what is no such file.

import fs from 'node:fs';

export const FLASH_BASE = 0x10000000;
export const FLASH_BYTES = 2 * 1024 * 1024;
export const RAM_BASE = 0x20000000;
export const RAM_BYTES = 264 * 1024;

const SEGMENT_LOAD = 1;
const SECTION_SYMBOLS = 2;
const SECTION_ALLOCATED = 2;
const SYMBOL_BYTES = 16;

/** Reads an ELF file. */
export function readImage(path) {
  const file = fs.readFileSync(path);
  const view = new DataView(file.buffer, file.byteOffset, file.length);
  if (view.getUint32(0, false) !== 0x7f454c46 || file[4] !== 1 || file[5] !== 1) {
    throw new Error(`${path} is no 32-bit little-endian ELF file`);
  }
  const { flash, end } = loadSegments(file, view);
  const { symbols, sections } = readSections(file, view);
  return { flash, imageBytes: end, symbols, ramBytes: ramTaken(sections), ramEnd: ramEnd(sections) };
}

function loadSegments(file, view) {
  const flash = new Uint8Array(FLASH_BYTES).fill(0xff);
  let end = 0;
  const table = view.getUint32(28, true);
  const size = view.getUint16(42, true);
  for (let index = 0; index < view.getUint16(44, true); index++) {
    const at = table + index * size;
    const [type, offset, , physical, bytes] = words(view, at, 5);
    const from = physical - FLASH_BASE;
    if (type !== SEGMENT_LOAD || bytes === 0 || from < 0 || from + bytes > FLASH_BYTES) continue;
    flash.set(file.subarray(offset, offset + bytes), from);
    end = Math.max(end, from + bytes);
  }
  return { flash, end };
}

function readSections(file, view) {
  const table = view.getUint32(32, true);
  const size = view.getUint16(46, true);
  const count = view.getUint16(48, true);
  const header = (index) => {
    const [name, type, flags, address, offset, bytes, link] = words(view, table + index * size, 7);
    return { name, type, flags, address, offset, bytes, link };
  };
  const names = header(view.getUint16(50, true));
  const sections = [];
  const symbols = new Map();
  for (let index = 0; index < count; index++) {
    const section = header(index);
    section.name = text(file, names.offset + section.name);
    sections.push(section);
    if (section.type === SECTION_SYMBOLS) {
      readSymbols(file, view, section, header(section.link).offset, symbols);
    }
  }
  return { symbols, sections };
}

function readSymbols(file, view, section, strings, symbols) {
  const end = section.offset + section.bytes;
  for (let at = section.offset; at < end; at += SYMBOL_BYTES) {
    const name = text(file, strings + view.getUint32(at, true));
    const [, address, bytes] = words(view, at, 3);
    if (name !== '') symbols.set(name, { address, bytes });
  }
}

/** Bytes of RAM that are taken before the stack. */
function ramTaken(sections) {
  return sections.filter(isInRam).reduce((sum, section) => sum + section.bytes, 0);
}

/** First byte of RAM that no section has. */
function ramEnd(sections) {
  const ends = sections.filter(isInRam).map(({ address, bytes }) => address + bytes);
  return (Math.max(RAM_BASE, ...ends) + 3) & ~3;
}

function isInRam({ flags, address }) {
  return (flags & SECTION_ALLOCATED) !== 0 && address >= RAM_BASE && address < RAM_BASE + RAM_BYTES;
}

function words(view, at, count) {
  return Array.from({ length: count }, (_, index) => view.getUint32(at + 4 * index, true));
}

function text(file, from) {
  let to = from;
  while (file[to] !== 0) to++;
  return file.toString('latin1', from, to);
}
