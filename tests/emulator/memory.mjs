// RAM and flash before everything else, for the fast mode.
//
// The package asks a table of peripherals first at every access. What is read and written is the
// same; what is neither RAM nor flash goes the package's way.

import { RP2040 } from 'rp2040js';
import { FLASH_BASE, RAM_BASE, RAM_BYTES } from './image.mjs';

const FLASH_WINDOW = 0x1000000;

/** Once for all chips made from now on. */
export function installFastMemory() {
  const chip = RP2040.prototype;
  const { readUint32, writeUint32, readUint16 } = chip;

  chip.readUint32 = function (address) {
    const ram = (address >>> 0) - RAM_BASE;
    if (ram >= 0 && ram <= RAM_BYTES - 4 && (ram & 3) === 0) return this.sram32[ram >>> 2];
    const flash = (address >>> 0) - FLASH_BASE;
    if (flash >= 0 && flash <= FLASH_WINDOW - 4 && (flash & 3) === 0) return this.flash32[flash >>> 2];
    return readUint32.call(this, address);
  };

  chip.writeUint32 = function (address, value) {
    const ram = (address >>> 0) - RAM_BASE;
    if (ram >= 0 && ram <= RAM_BYTES - 4 && (ram & 3) === 0) this.sram32[ram >>> 2] = value;
    else writeUint32.call(this, address, value);
  };

  chip.readUint16 = function (address) {
    const flash = (address >>> 0) - FLASH_BASE;
    if (flash >= 0 && flash <= FLASH_WINDOW - 2) return this.flash16[flash >>> 1];
    return readUint16.call(this, address);
  };
}

/** Views of one chip's memory as words. */
export function viewAsWords(chip) {
  chip.sram32 = new Uint32Array(chip.sram.buffer);
  chip.flash32 = new Uint32Array(chip.flash.buffer);
  chip.code16 = chip.flash16;
}
