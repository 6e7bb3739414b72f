// Single-precision arithmetic done by this machine instead of instruction by instruction.
//
// The image's float routines are found by their names. Fetching an instruction there gives a
// breakpoint instead (reading the flash does not, so the image's own checksum holds), and the work
// is done here: IEEE 754 leaves no choice in what a sum, product, quotient or comparison of numbers
// is. A double holds more than twice a single's digits and two, so that rounding it again is the same
// as rounding once (Figueroa, "When is double rounding innocuous?", SIGNUM 30(3), 1995). Where a NaN goes in
// or comes out its payload is the routine's own affair, and the routine is run.
//
// Times are not those of the chip: figures are taken in the other modes.

const single = new Float32Array(2);
const bits = new Uint32Array(single.buffer);

/** Cycles that are charged: near what the routines take, from a run of them. */
const CYCLES = { sum: 80, product: 75, quotient: 200, comparison: 25, conversion: 40 };

const arithmetic = (operation) => (registers) => {
  bits[0] = registers[0];
  bits[1] = registers[1];
  const result = operation(single[0], single[1]);
  if (Number.isNaN(result)) return false;
  single[0] = result;
  registers[0] = bits[0];
  return true;
};

const comparison = (operation) => (registers) => {
  bits[0] = registers[0];
  bits[1] = registers[1];
  if (Number.isNaN(single[0]) || Number.isNaN(single[1])) return false;
  registers[0] = operation(single[0], single[1]) ? 1 : 0;
  return true;
};

const toSingle = (number) => (registers) => {
  single[0] = number(registers);
  registers[0] = bits[0];
  return true;
};

/** Towards zero, and to the nearest there is where the number is out of range. */
const toInteger = (least, most) => (registers) => {
  bits[0] = registers[0];
  if (Number.isNaN(single[0])) return false;
  registers[0] = Math.min(Math.max(Math.trunc(single[0]), least), most);
  return true;
};

const ROUTINES = {
  __aeabi_fadd: [arithmetic((a, b) => a + b), CYCLES.sum],
  __aeabi_fsub: [arithmetic((a, b) => a - b), CYCLES.sum],
  __aeabi_fmul: [arithmetic((a, b) => a * b), CYCLES.product],
  __aeabi_fdiv: [arithmetic((a, b) => a / b), CYCLES.quotient],
  __aeabi_fcmplt: [comparison((a, b) => a < b), CYCLES.comparison],
  __aeabi_fcmple: [comparison((a, b) => a <= b), CYCLES.comparison],
  __aeabi_fcmpgt: [comparison((a, b) => a > b), CYCLES.comparison],
  __aeabi_fcmpge: [comparison((a, b) => a >= b), CYCLES.comparison],
  __aeabi_fcmpeq: [comparison((a, b) => a === b), CYCLES.comparison],
  __aeabi_i2f: [toSingle((registers) => registers[0] | 0), CYCLES.conversion],
  __aeabi_ui2f: [toSingle((registers) => registers[0]), CYCLES.conversion],
  __aeabi_f2iz: [toInteger(-0x80000000, 0x7fffffff), CYCLES.conversion],
  __aeabi_f2uiz: [toInteger(0, 0xffffffff), CYCLES.conversion],
};

/** First number of the breakpoints; the boot ROM's are below. */
export const FIRST_TRAP = 0x40;
const BREAKPOINT = 0xbe00;

/** What stands at each trap: offset in the flash, what was there, routine, cycles. */
export function findTraps(image, flash16) {
  const traps = new Map();
  for (const [name, [routine, cycles]] of Object.entries(ROUTINES)) {
    const symbol = image.symbols.get(name);
    if (symbol === undefined) continue;
    const at = ((symbol.address & ~1) - 0x10000000) >>> 1;
    if (!traps.has(at)) traps.set(at, { name, at, was: flash16[at], routine, cycles });
  }
  return [...traps.values()];
}

/** Puts the traps of an image into what one chip fetches. */
export function setTraps(chip, traps) {
  const { rp2040, core } = chip;
  const code = Uint16Array.from(rp2040.flash16.subarray(0, rp2040.flash16.length >>> 5));
  traps.forEach((trap, index) => { code[trap.at] = BREAKPOINT | (FIRST_TRAP + index); });
  rp2040.code16 = code;
  chip.onTrap = (number) => {
    const trap = traps[number - FIRST_TRAP];
    if (trap.routine(core.registers)) {
      chip.spent += trap.cycles * 8;
      core.PC = core.LR & ~1;
      return;
    }
    // Its own affair: run it as it is written.
    code[trap.at] = trap.was;
    core.PC -= 2;
    core.executeInstruction();
    code[trap.at] = BREAKPOINT | number;
  };
}
