// Which pin is what: firmware/wiring.md, "Low voltage: the pins"; a test there holds the two together.

export const PINS = {
  lamp: 2,
  beeper: 3,
  drive: 6,
  go: 8,
  stop: 9,
  door: 10,
  permitRead: 11,
  mainsProof: 12,
  airflow: 13,
  fan: 14,
  cs0: 17,
  cs1: 20,
  clock: 21,
  cs2: 22,
  permit: 28,
};

export const OUTPUTS = ['lamp', 'beeper', 'drive', 'fan', 'permit'];
export const INPUTS = ['go', 'stop', 'door', 'permitRead', 'mainsProof', 'airflow'];
export const SELECTS = ['cs0', 'cs1', 'cs2'];
