// One life of the chip: from a reset to the next. What outlives it is the bench's (`bench.mjs`).
//
// Time is the chip's own: it begins with the reset, at 125 MHz, is moved on by what instructions take, and skipped
// while the processor sleeps. Cycle counts are approximate; nothing here may hang on microseconds.

import { RP2040 } from 'rp2040js';
import { SimulationClock } from './node_modules/rp2040js/dist/esm/clock/simulation-clock.js';
import { FIRST_TRAP, setTraps } from './float.mjs';
import { ClockInput } from './clock-input.mjs';
import { RAM_BASE, RAM_BYTES } from './image.mjs';
import { viewAsWords } from './memory.mjs';
import { OUTPUTS, PINS } from './pins.mjs';
import { Rom } from './rom.mjs';
import { UsbHost } from './usb-host.mjs';

export const NS_PER_CYCLE = 8;
/** Where the vectors are: behind the second stage of the start. */
const VECTORS = 0x10000100;
/** Vector of a fault of the processor, bytes behind the first (ARMv6-M, exception numbers). */
const FAULT_VECTOR = 12;
/** Outputs whose bits are 1 go high (RP2040 data sheet, SIO: GPIO_OUT_SET). */
const SET_OUTPUTS = 0xd0000014;
/** What RAM holds before anything was written, and what cortex-m-rt paints the stack with. */
export const PAINT = 0xcc;
/** The PWM slice whose input is the independent clock's pin. */
const CLOCK_SLICE = 2;
const ROM_END = 0x4000;
const IO_QSPI = 0x40018;
const SSI = 0x18000;
const SSI_DATA = 0x60;
const SELECT_CONTROL = 0x0c;
/** Output override of a pin: driven low (RP2040 data sheet, GPIO_CTRL.OUTOVER). */
const DRIVEN_LOW = 2;

export class Chip {
  constructor({ nor, bus, bornAt, scratch, reason, stuck, traps, onOutput }) {
    const clock = new SimulationClock();
    this.clock = clock;
    this.bornAt = bornAt;
    this.rp2040 = new RP2040(clock);
    this.core = this.rp2040.core;
    this.onOutput = onOutput;
    this.stuck = stuck;
    this.driven = new Map();
    this.errors = [];
    this.ended = null;
    this.spent = 0;
    this.frozen = false;
    /** It has been set up, and waits for its ticks. */
    this.hasSlept = false;
    this.instructions = 0;
    this.sinceAwake = 0;
    this.longestAwake = 0;
    this.awakenings = 0;
    this.rp2040.logger = this.#logger();
    this.#fillMemory(nor);
    this.rom = new Rom(this.rp2040, nor, (ns) => { this.spent += ns; });
    this.rp2040.onBreak = (code) => this.#break(code);
    if (traps.length > 0) setTraps(this, traps);
    this.#wireWatchdog(scratch, reason);
    this.#wireFlashCommands(nor);
    this.#wireOutputs();
    bus.wire(this.rp2040);
    this.usb = new UsbHost(this.rp2040.usbCtrl);
    this.serial = [];
    this.rp2040.uart[0].onByte = (byte) => this.serial.push(byte);
    this.independentClock = new ClockInput(this.rp2040.pwm, CLOCK_SLICE, () => clock.nanosCounter);
    this.core.VTOR = VECTORS;
    this.core.SP = this.rp2040.readUint32(VECTORS);
    this.core.PC = this.rp2040.readUint32(VECTORS + 4) & ~1;
  }

  /** Time of the bench, ns; the chip's own begins with every reset. */
  get nanos() {
    return this.bornAt + this.clock.nanosCounter;
  }

  get watchdog() {
    return this.rp2040.peripherals[0x40058];
  }

  /** The processor faults with drive and permit high: it goes on where its vector says. */
  fault() {
    this.rp2040.writeUint32(SET_OUTPUTS, (1 << PINS.drive) | (1 << PINS.permit));
    this.core.waiting = false;
    this.core.PC = this.rp2040.readUint32(VECTORS + FAULT_VECTOR) & ~1;
  }

  /** Runs to a time of the bench; what ended it: 'time', 'watchdog', 'error'. */
  run(benchUntil) {
    const { core, clock } = this;
    const until = benchUntil - this.bornAt;
    while (clock.nanosCounter < until && this.ended === null) {
      if (core.waiting || this.frozen) this.#skip(until);
      else this.#step();
    }
    return this.ended ?? 'time';
  }

  #step() {
    const { core, clock } = this;
    const cycles = core.executeInstruction();
    this.instructions++;
    this.sinceAwake++;
    const at = clock.nanosCounter + cycles * NS_PER_CYCLE;
    const alarm = clock.nextAlarm;
    if (alarm !== null && alarm.nanos <= at) clock.tick(cycles * NS_PER_CYCLE);
    else clock.nanosCounter = at;
    if (this.spent > 0) {
      const { spent } = this;
      this.spent = 0;
      clock.tick(spent);
    }
    if (core.waiting) {
      this.hasSlept = true;
      this.longestAwake = Math.max(this.longestAwake, this.sinceAwake);
      this.sinceAwake = 0;
      this.awakenings++;
    }
  }

  #skip(until) {
    const { clock } = this;
    const alarm = clock.nextAlarm;
    if (alarm === null || alarm.nanos > until) clock.nanosCounter = until;
    else clock.tick(alarm.nanos - clock.nanosCounter);
  }

  /** Bytes of the stack's room that nobody has written so far, from `from` on. */
  unwritten(from) {
    let at = from - RAM_BASE;
    while (at < RAM_BYTES && this.rp2040.sram[at] === PAINT) at++;
    return at - (from - RAM_BASE);
  }

  /** From now on a bit of the memory is always 1. */
  stickBit(address, bit) {
    const chip = this.rp2040;
    const at = address - RAM_BASE;
    for (const name of ['writeUint32', 'writeUint16', 'writeUint8']) {
      const write = chip[name].bind(chip);
      chip[name] = (where, value) => {
        write(where, value);
        chip.sram[at] |= 1 << bit;
      };
    }
    chip.sram[at] |= 1 << bit;
  }

  #fillMemory(nor) {
    const chip = this.rp2040;
    chip.sram.fill(PAINT);
    // One flash for all lives: what is programmed stays.
    chip.flash = nor.window;
    chip.flash16 = new Uint16Array(nor.window.buffer);
    chip.flashView = new DataView(nor.window.buffer);
    viewAsWords(chip);
  }

  #break(code) {
    if (this.core.PC < ROM_END) this.rom.call(code);
    else if (this.onTrap && code >= FIRST_TRAP) this.onTrap(code);
    else {
      this.errors.push(`breakpoint at ${this.core.PC.toString(16)}`);
      this.ended = 'error';
    }
  }

  #wireWatchdog(scratch, reason) {
    const { watchdog } = this;
    if (scratch) watchdog.scratchData.set(scratch);
    watchdog.reason = reason;
    watchdog.onWatchdogTrigger = () => {
      // Or it is armed again at once, for ever.
      watchdog.alarm.enable = false;
      this.ended = 'watchdog';
    };
  }

  /** Commands to the flash chip outside of the ROM: the unique number. */
  #wireFlashCommands(nor) {
    const chip = this.rp2040;
    const ssi = chip.peripherals[SSI];
    const { readUint32, writeUint32 } = Object.getPrototypeOf(ssi);
    ssi.writeUint32 = (offset, value) => {
      if (offset === SSI_DATA) ssi.answer = nor.transfer(value & 0xff);
      else writeUint32.call(ssi, offset, value);
    };
    ssi.readUint32 = (offset) => (offset === SSI_DATA
      ? ssi.answer ?? 0 : readUint32.call(ssi, offset));
    const select = chip.peripherals[IO_QSPI];
    select.readUint32 = () => 0;
    select.writeUint32 = (offset, value) => {
      if (offset === SELECT_CONTROL && (value >> 8 & 3) === DRIVEN_LOW) nor.select();
    };
  }

  #wireOutputs() {
    for (const name of OUTPUTS) {
      const pin = this.rp2040.gpio[PINS[name]];
      pin.addListener((level) => {
        // Undriven pins are drawn low from outside.
        this.driven.set(name, level === 1);
        const high = this.stuck[name] ?? level === 1;
        pin.setInputValue(high);
        this.onOutput(name, high, this.nanos);
      });
    }
  }

  #logger() {
    const keep = (part, text) => this.errors.push(`${part}: ${text}`);
    const isHarmless = (text) => /[Uu]nimplemented/.test(text);
    return {
      debug() {},
      info() {},
      warn: (part, text) => { if (!isHarmless(text)) keep(part, text); },
      error: keep,
    };
  }
}
