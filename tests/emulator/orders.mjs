// What is asked of the bench now and then: faults, cuts, memory, figures. An unknown order ends the
// run, so that no scenario passes by a slip of the pen.

import { busFault } from './bus.mjs';
import { USUAL_TIMES } from './nor.mjs';

const ORDERS = {
  /** { off_ns }: the supply goes and comes back. */
  cut_supply: (bench, image, { off_ns: offNs }) => bench.cutSupply(offNs),

  /** { operations, tear, kind }: the supply goes in the so-manyth flash operation from now. */
  cut_at_operation: (bench, image, { operations, tear, kind }) => {
    bench.nor.cut = { operations, tear, kind };
  },

  /** No cut is waiting any more. */
  no_cut: (bench) => { bench.nor.cut = null; },

  /** { frozen }: the processor stands still while everything else goes on. */
  freeze: (bench, image, { frozen }) => { bench.chip.frozen = frozen; },

  /** A fault of the processor itself, with drive and permit high. */
  processor_fault: (bench) => bench.chip.fault(),

  /** { converter, fault }: what is wrong between a converter and the chip; null: nothing. */
  bus: (bench, image, { converter, fault }) => { bench.bus.faults[converter] = busFault(fault); },

  /** { converter }: its supply went and came back. */
  converter_supply: (bench, image, { converter }) => bench.bus.converters[converter].loseSupply(),

  /** { converter, stuck }: conversions that are under way do not end. */
  stick_conversion: (bench, image, { converter, stuck }) => {
    bench.bus.converters[converter].neverEnds = stuck;
  },

  /** { converter, chip }: another chip, or none, is on that select. */
  fit: (bench, image, { converter, chip }) => bench.bus.fit(converter, chip),

  /** { hertz }: edges of the independent clock. */
  clock: (bench, image, { hertz }) => {
    bench.clockHz = hertz;
    bench.chip.independentClock.run(hertz);
  },

  /** { closed }: the mirror contact says so, whatever the contactor does; null: it tells the truth. */
  mirror: (bench, image, { closed }) => { bench.mirror = closed; },

  /** { leak }: the pump's resistance, as a multiple of what is drawn. */
  pump: (bench, image, { leak }) => bench.setLeak(leak),

  /** { output, level }: the pad is held there from outside; null: let go. */
  stick: (bench, image, { output, level }) => bench.stick(output, level),

  /** { inserted }: the cable. */
  plug: (bench, image, { inserted }) => {
    bench.plugged = inserted;
    bench.chip.usb.plug(inserted);
  },

  /** { address, bit }: a bit of the memory is 1 from now on. */
  stick_bit: (bench, image, { address: at, bit }) => bench.chip.stickBit(at, bit),

  /** { offset, bit }: a bit of the flash has turned. */
  turn_flash_bit: (bench, image, { offset, bit }) => { bench.nor.bytes[offset] ^= 1 << bit; },

  /** { from, to }: nothing is written there any more; null: all is well. */
  stuck_flash: (bench, image, { from, to }) => {
    bench.nor.isStuck = from === null ? null : (offset) => offset >= from && offset < to;
  },

  /** { erase_ns, program_ns } */
  flash_times: (bench, image, { erase_ns: eraseNs, program_ns: programNs }) => {
    bench.nor.times = { ...USUAL_TIMES, ...(eraseNs && { eraseNs }), ...(programNs && { programNs }) };
  },

  /** The digest of operations begins anew. */
  forget_flash_operations: (bench) => bench.nor.forget(),

  /** Operations of the flash are kept from now on. */
  keep_tape: (bench) => bench.nor.keepTape(),

  /** How many were. */
  tape_length: (bench) => bench.nor.tape.operations.length,

  /** No more are: [kind, offset, when it began] of each. */
  end_tape: (bench) => bench.nor.endTape().map(({ kind, offset, at }) => [kind, offset, at]),

  /** { operations, tear }: the flash holds what so many of them leave, the next one torn. */
  play_tape: (bench, image, { operations, tear }) => bench.nor.play(operations, tear),

  /** Sizes, and how far the stack has come down. */
  figures: (bench, image) => {
    const top = address(image, '_stack_start');
    const end = image.ramEnd;
    return {
      image_bytes: image.imageBytes,
      ram_bytes: image.ramBytes,
      stack_room: top - end,
      stack_used: top - end - bench.chip.unwritten(end),
      product: bench.chip.usb.product ?? null,
    };
  },

  /** { like, bytes }: where the one name is that has these words in it, of that size. */
  find: (bench, image, { like, bytes }) => {
    const found = [...image.symbols].filter(([name, symbol]) => (
      name.includes(like) && symbol.bytes === bytes));
    if (found.length !== 1) throw new Error(`${found.length} names like "${like}" of ${bytes} bytes`);
    return found[0][1].address;
  },
};

export function obey(bench, image, order) {
  const action = ORDERS[order.do];
  if (!action) throw new Error(`no order "${order.do}"`);
  return action(bench, image, order);
}

function address(image, symbol) {
  const found = image.symbols.get(symbol);
  if (found === undefined) throw new Error(`the image has no "${symbol}"`);
  return found.address;
}
