// The processor: the emulator's own, mended, and the same dispatched by a table.
//
// Both are made at load from the text of the installed package, whose version is pinned; a place
// that is not found as it was read ends the run. What is mended is listed in `MENDED` with why.
//
// * `exact`: every instruction by the package's own chain of comparisons.
// * `fast`: the same bodies behind a table of all 65,536 halfwords, and RAM and flash looked at
//   before peripherals.
// * `float`: `fast`, with single-precision arithmetic done outside (see `float.mjs`).
//
// A scenario compares them on the real image: the first two in what the board does, when, and every
// byte of memory and flash at the end, the third in what the board does and in the flash.

import fs from 'node:fs';
import { RP2040 } from 'rp2040js';

const BASE = new URL('./node_modules/rp2040js/dist/esm/', import.meta.url);
const BEGIN = 'let deltaCycles = 1;';
const END = 'this.cycles += deltaCycles;';
const WIDE = 255;

/** [what stands there, what must, why] */
const MENDED = [
  [
    'this.substractUpdateFlags(this.registers[Rdn], this.registers[Rm] + (1 - (this.C ? 1 : 0)))',
    'this.sumWithCarry(this.registers[Rdn], ~this.registers[Rm] >>> 0)',
    'SBCS: overflow was wrong where subtrahend and borrow come to 0x80000000',
  ],
  [
    'this.addUpdateFlags(this.registers[Rm], this.registers[Rdn] + (this.C ? 1 : 0))',
    'this.sumWithCarry(this.registers[Rdn], this.registers[Rm])',
    'ADCS: the same of its carry',
  ],
  [
    '    addUpdateFlags(addend1, addend2) {',
    `    sumWithCarry(a, b) {
        const sum = a + b + (this.C ? 1 : 0);
        const result = sum >>> 0;
        this.N = result >= 0x80000000;
        this.Z = result === 0;
        this.C = sum > 0xffffffff;
        this.V = ((a ^ result) & (b ^ result) & 0x80000000) !== 0;
        return result;
    }
    addUpdateFlags(addend1, addend2) {`,
    'a + b + carry with all four flags (ARMv6-M Architecture Reference Manual, AddWithCarry)',
  ],
  [
    'if (this.waiting && this.checkForInterrupts()) {',
    `if (this.waiting && this.PM) {
                if (this.enabledInterrupts & irqBit) this.waiting = false;
            } else if (this.waiting && this.checkForInterrupts()) {`,
    'WFI with PRIMASK set wakes but does not take the exception',
  ],
];

/** Class of the processor for a mode. */
export async function processor(mode) {
  let source = mend(fs.readFileSync(new URL('cortex-m0-core.js', BASE), 'utf8'));
  if (!['exact', 'fast', 'float'].includes(mode)) throw new Error(`no mode "${mode}"`);
  if (mode !== 'exact') source = fetchFromFlash(tabulate(source));
  source = source.replace(/from '\.\//g, `from '${BASE.href}`);
  const text = Buffer.from(source).toString('base64');
  return (await import(`data:text/javascript;base64,${text}`)).CortexM0Core;
}

/** Lets every chip made from now on have this processor. */
export function install(processorClass) {
  const to = Object.getPrototypeOf(new RP2040().core);
  const from = processorClass.prototype;
  for (const name of ['executeInstruction', 'sumWithCarry', 'setInterrupt']) {
    to[name] = from[name];
  }
}

function mend(source) {
  for (const [wrong, right, why] of MENDED) {
    if (!source.includes(wrong)) throw new Error(`the emulator is another version (${why})`);
    source = source.replace(wrong, () => right);
  }
  return source;
}

function tabulate(source) {
  const from = source.indexOf(BEGIN);
  const to = source.indexOf(END, from);
  if (from < 0 || to < 0) throw new Error('the emulator has no such chain of instructions');
  const arms = readArms(source.slice(from + BEGIN.length, to).split('\n'));
  const table = dispatchTable(arms);
  const cases = arms.map((arm, index) => `case ${index}: {\n${arm.body.join('\n')}\n} break;`);
  const wide = arms.filter((arm, index) => /opcode2/.test(arm.condition) || index === arms.length - 1);
  const chain = wide.map((arm) => `if (${arm.condition}) {\n${arm.body.join('\n')}\n}`).join(' else ');
  const body = `${BEGIN}\nswitch (TABLE[opcode]) {\n${cases.join('\n')}\ndefault: ${chain}\n}\n`;
  const bytes = Buffer.from(table).toString('base64');
  return (source.slice(0, from) + body + source.slice(to)).replace(
    'export class CortexM0Core',
    () => `const TABLE = new Uint8Array(Buffer.from('${bytes}', 'base64'));\nexport class CortexM0Core`,
  );
}

/** Instructions out of the flash without asking where they are. */
function fetchFromFlash(source) {
  const slow = 'const opcode = this.readUint16(opcodePC);';
  if (!source.includes(slow)) throw new Error('the emulator fetches in another way');
  return source.replace(slow, `const { code16 } = this.rp2040;
        const place = (opcodePC - 0x10000000) >>> 1;
        const opcode = place < code16.length ? code16[place] : this.readUint16(opcodePC);`);
}

/** The chain `if … else if … else` taken apart. Its layout is fixed by the pinned version. */
function readArms(lines) {
  const arms = [];
  let arm = null;
  for (const line of lines) {
    const whole = /^ {8}(?:else )?if \((.*)\) \{$/.exec(line);
    const begun = /^ {8}(?:else )?if \((.*)$/.exec(line);
    if (whole) arm = { condition: whole[1], body: [] };
    else if (begun) arm = { condition: begun[1], body: [], open: true };
    else if (arm?.open) {
      const last = /^(.*)\) \{$/.exec(line);
      arm.condition += ` ${(last ? last[1] : line).trim()}`;
      arm.open = !last;
    } else if (/^ {8}else \{$/.test(line)) arm = { condition: 'true', body: [] };
    else if (/^ {8}\}$/.test(line)) {
      arms.push(arm);
      arm = null;
    } else if (arm) arm.body.push(line);
    else if (line.trim() && !/^ *\/\//.test(line)) throw new Error(`not understood: ${line}`);
  }
  if (arms.length < 60 || arms.length >= WIDE) throw new Error(`${arms.length} instructions`);
  return arms;
}

/** For every halfword the first arm that takes it. */
function dispatchTable(arms) {
  const takes = arms.map((arm) => new Function('opcode', 'opcode2', `return ${arm.condition}`));
  const table = new Uint8Array(0x10000);
  for (let opcode = 0; opcode < table.length; opcode++) {
    const wide = opcode >> 12 === 0b1111 || opcode >> 11 === 0b11101;
    table[opcode] = wide ? WIDE : takes.findIndex((take) => take(opcode, 0));
  }
  return table;
}
