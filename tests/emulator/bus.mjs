// The sensors' bus: selects, converters, and what can go wrong between them and the chip.
//
// Every transfer is kept for whoever runs the board, so that another machine can be given the very
// bytes this one was.

import { CHIPS } from './converter.mjs';
import { PINS, SELECTS } from './pins.mjs';

export class SensorBus {
  constructor(fitted) {
    this.converters = [];
    fitted.forEach((name, index) => this.fit(index, name));
    /** What each converter's answer is turned into: a function of byte and place, or none. */
    this.faults = fitted.map(() => null);
    this.transactions = [];
    this.open = null;
    /** Time, ns. */
    this.now = () => 0;
  }

  /** Wires a chip that has just got its supply to the converters. */
  wire(chip) {
    this.open = null;
    SELECTS.forEach((name, index) => {
      chip.gpio[PINS[name]].addListener((level) => {
        if (level === 0) this.#select(index);
        else if (this.open?.index === index) this.#letGo(index);
      });
    });
    chip.spi[0].onTransmit = (byte) => chip.spi[0].completeTransmit(this.#transfer(byte));
  }

  /** A chip by its name, or none, on a select. */
  fit(index, name) {
    this.converters[index] = name === null ? null : new CHIPS[name]();
  }

  /** What a converter converts from now on, as the bytes of its results. */
  shows(index, result) {
    this.converters[index]?.shows(result, this.now());
  }

  /** What was said since the last call. */
  take() {
    return this.transactions.splice(0);
  }

  /** The converters' supply goes with the board's. */
  loseSupply() {
    for (const converter of this.converters) converter?.loseSupply();
  }

  #select(index) {
    this.open = { index, sent: [], answered: [] };
    this.converters[index]?.select(this.now());
  }

  #letGo(index) {
    this.open = null;
    this.converters[index]?.letGo(this.now());
  }

  #transfer(byte) {
    if (this.open === null) return 0xff;
    const { index, sent, answered } = this.open;
    // A select that is only touched, as pins are when they are set up, says nothing.
    if (sent.length === 0) this.transactions.push(this.open);
    // Nobody drives the wire: pulled up.
    const said = this.converters[index]?.transfer(byte) ?? 0xff;
    const heard = this.faults[index]?.(said, answered.length) ?? said;
    sent.push(byte);
    answered.push(heard);
    return heard;
  }
}

/** Faults by their words: the wire held, or so many transfers with a bit turned. */
export function busFault(words) {
  if (words === null) return null;
  if (words === 'low') return () => 0x00;
  if (words === 'high') return () => 0xff;
  const turned = /^bit (\d+) of byte (\d+), (\d+) times$/.exec(words);
  if (turned === null) throw new Error(`no fault of the bus "${words}"`);
  const [bit, place, times] = turned.slice(1).map(Number);
  let left = times;
  return (byte, at) => {
    if (at !== place || left === 0) return byte;
    left--;
    return byte ^ (1 << bit);
  };
}
