// The emulated board as a process: requests on stdin, replies on stdout, each a length of four bytes
// and then its bytes. Nothing runs between two requests; who asks is the time.
//
//   node server.mjs IMAGE.elf --mode exact|fast|float --fitted max31855,-,max31865 --seed N
//
// Requests: `run` in bytes (below), everything rare as JSON (`orders.mjs`).

import fs from 'node:fs';
import { parseArgs } from 'node:util';
import { Bench } from './bench.mjs';
import { install, processor } from './core.mjs';
import { findTraps } from './float.mjs';
import { RAM_BASE, readImage } from './image.mjs';
import { installFastMemory } from './memory.mjs';
import { obey } from './orders.mjs';
import { INPUTS, OUTPUTS, PINS } from './pins.mjs';
import { Reader, Writer } from './bytes.mjs';

const RUN = 1;
const ORDER = 2;
const READ_FLASH = 3;
const WRITE_FLASH = 4;
const READ_MEMORY = 5;
const ENDS = ['time', 'cut', 'error'];

const { values: options, positionals: [path] } = parseArgs({
  allowPositionals: true,
  options: {
    mode: { type: 'string', default: 'fast' },
    fitted: { type: 'string', default: 'max31855,-,-' },
    seed: { type: 'string', default: '1' },
  },
});

install(await processor(options.mode));
if (options.mode !== 'exact') installFastMemory();
const image = readImage(path);
const traps = options.mode === 'float'
  ? findTraps(image, new Uint16Array(image.flash.buffer)) : [];
const bench = new Bench({
  flash: image.flash,
  fitted: options.fitted.split(',').map((name) => (name === '-' ? null : name)),
  seed: Number(options.seed),
  traps,
});

for (;;) {
  const request = new Reader(readExactly(new Reader(readExactly(4)).u32()));
  const kind = request.u8();
  if (kind === RUN) reply(run(request));
  else if (kind === ORDER) reply(order(request));
  else if (kind === READ_FLASH) reply(piece(bench.nor.bytes, request.u32(), request.u32()));
  else if (kind === WRITE_FLASH) reply(overwrite(request.u32(), request.rest()));
  else if (kind === READ_MEMORY) {
    reply(piece(bench.chip.rp2040.sram, request.u32() - RAM_BASE, request.u32()));
  }
  else throw new Error(`no request ${kind}`);
}

/** Sets what is around the chip, runs so long, and tells what came of it. */
function run(request) {
  const nanos = request.f64();
  const contacts = request.u32();
  const known = request.u32();
  for (const name of INPUTS) {
    const bit = 1 << PINS[name];
    if (known & bit) bench.setContact(name, (contacts & bit) !== 0);
  }
  bench.bus.converters.forEach((_, index) => {
    const result = request.bytes(request.u8());
    if (result.length > 0) bench.bus.shows(index, [...result]);
  });
  const toUsb = request.bytes(request.u16());
  if (toUsb.length > 0) bench.chip.usb.send(toUsb);
  for (const byte of request.bytes(request.u16())) bench.chip.rp2040.uart[0].feedByte(byte);
  const ended = bench.run(bench.nanos + nanos);
  return report(ended);
}

function report(ended) {
  const { chip, pump } = bench;
  const reply = new Writer();
  reply.u8(ENDS.indexOf(ended));
  reply.f64(bench.nanos);
  reply.u32(OUTPUTS.reduce((bits, name) => bits | (bench.levels.get(name) ? 1 << PINS[name] : 0), 0));
  reply.f64(bench.takeHigh('drive'));
  reply.f64(bench.lastHighAt);
  reply.u32(pump.edges);
  reply.f64(pump.lastEdgeAt ?? -1);
  reply.u8(bench.contacts.get('permitRead') ? 1 : 0);
  reply.u8(bench.mirrorAtTick ? 1 : 0);
  reply.f64(bench.takeClosed());
  reply.u32(bench.resets);
  reply.f64(bench.takeInstructions());
  reply.u32(bench.takeLongest());
  reply.u32(bench.nor.counts.erase);
  reply.u32(bench.nor.counts.program);
  reply.u32(bench.nor.digest);
  reply.u8(chip.usb.connected ? 1 : 0);
  reply.f64(chip.bornAt);
  reply.block16(chip.usb.take());
  reply.block16(chip.serial.splice(0));
  const counts = chip.independentClock.reads.splice(0);
  reply.u16(counts.length);
  for (const [count, at] of counts) {
    reply.u16(count);
    reply.f64(at);
  }
  const said = bench.bus.take();
  reply.u16(said.length);
  for (const { index, sent, answered } of said) {
    reply.u8(index);
    reply.u8(sent.length);
    reply.bytes(sent);
    reply.bytes(answered);
  }
  reply.block16(Buffer.from(bench.takeErrors().join('\n')));
  return reply.done();
}

function piece(memory, from, bytes) {
  return Buffer.from(memory.subarray(from, from + bytes));
}

function overwrite(offset, bytes) {
  bench.nor.bytes.set(bytes, offset);
  return Buffer.alloc(0);
}

function order(request) {
  const text = Buffer.from(request.rest()).toString();
  return Buffer.from(JSON.stringify(obey(bench, image, JSON.parse(text)) ?? null));
}

function readExactly(bytes) {
  const buffer = Buffer.alloc(bytes);
  let have = 0;
  while (have < bytes) {
    const got = readSome(buffer, have);
    if (got === 0) process.exit(0);
    have += got;
  }
  return buffer;
}

function readSome(buffer, from) {
  for (;;) {
    try {
      return fs.readSync(0, buffer, from, buffer.length - from, null);
    } catch (error) {
      if (error.code === 'EOF') return 0;
      if (error.code !== 'EAGAIN') throw error;
    }
  }
}

function reply(bytes) {
  const length = Buffer.alloc(4);
  length.writeUInt32LE(bytes.length);
  const all = Buffer.concat([length, bytes]);
  let sent = 0;
  while (sent < all.length) {
    try {
      sent += fs.writeSync(1, all, sent);
    } catch (error) {
      if (error.code !== 'EAGAIN') throw error;
    }
  }
}
