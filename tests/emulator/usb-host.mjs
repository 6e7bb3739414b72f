// The computer's end of the USB cable: enumerates the board and exchanges bytes with its serial
// port (USB 2.0, chapter 9; class definitions for CDC 1.2, 6.2 and 6.3).
//
// The package's own host class cannot send, and its requests go to the device instead of the
// interface. Here an OUT buffer that was armed early is remembered, and nothing is answered while
// there is nothing to send: an idle cable costs the board no interrupt.

import {
  DataDirection, SetupRecipient, SetupType, createSetupPacket, getDescriptorPacket,
  setDeviceAddressPacket, setDeviceConfigurationPacket,
} from 'rp2040js';

const DESCRIPTOR_ENDPOINT = 5;
const BULK = 2;
const SET_LINE_CODING = 0x20;
const SET_CONTROL_LINE_STATE = 0x22;
const DEVICE = 1;
const CONFIGURATION = 2;
const STRING = 3;
const ENGLISH = 0x0409;
/** 115,200 baud, one stop bit, no parity, eight bits. */
const LINE_CODING = [0x00, 0xc2, 0x01, 0x00, 0x00, 0x00, 0x08];

export class UsbHost {
  constructor(usb) {
    this.usb = usb;
    this.received = [];
    this.unsent = [];
    this.armed = null;
    this.plugged = true;
    this.enabled = false;
    this.#forget();
    usb.onUSBEnabled = () => {
      this.enabled = true;
      if (this.plugged) usb.resetDevice();
    };
    usb.onResetReceived = () => this.#enumerate();
    usb.onEndpointWrite = (endpoint, bytes) => this.#heard(endpoint, bytes);
    usb.onEndpointRead = (endpoint, size) => this.#armedFor(endpoint, size);
  }

  get connected() {
    return this.state === 'connected';
  }

  /** Pulls the cable, or puts it in again: the board sees a reset then. */
  plug(inserted) {
    this.plugged = inserted;
    this.#forget();
    if (inserted && this.enabled) this.usb.resetDevice();
  }

  /** Sends bytes, as fast as the board takes them. */
  send(bytes) {
    if (!this.plugged) return;
    for (const byte of bytes) this.unsent.push(byte);
    this.#flush();
  }

  /** What came since the last call. */
  take() {
    return this.received.splice(0);
  }

  #forget() {
    this.state = 'away';
    this.steps = [];
    this.step = null;
    this.in = -1;
    this.out = -1;
    this.armed = null;
    this.unsent.length = 0;
  }

  #enumerate() {
    this.#forget();
    if (!this.plugged) return;
    this.state = 'enumerating';
    const whole = { packet: getDescriptorPacket(CONFIGURATION, 9), wants: 9,
      then: (bytes) => this.#findEndpoints(bytes) };
    this.steps = [
      { packet: setDeviceAddressPacket(1) },
      { packet: getDescriptorPacket(DEVICE, 18), wants: 18,
        then: (bytes) => this.#askProduct(bytes) },
      { packet: getDescriptorPacket(CONFIGURATION, 9), wants: 9, then: (bytes) => {
        whole.packet.set([bytes[2], bytes[3]], 6);
        whole.wants = bytes[2] | (bytes[3] << 8);
      } },
      whole,
      { packet: setDeviceConfigurationPacket(1) },
      { packet: toInterface(SET_LINE_CODING, 0, LINE_CODING.length), sends: LINE_CODING },
      { packet: toInterface(SET_CONTROL_LINE_STATE, 3, 0) },
    ];
    this.#next();
  }

  #askProduct(device) {
    const packet = getDescriptorPacket(STRING, 255);
    packet.set([device[15], STRING, ENGLISH & 255, ENGLISH >> 8], 2);
    this.steps.unshift({ packet, wants: 255, then: (bytes) => {
      const text = Buffer.from(bytes.slice(2));
      this.product = text.toString('utf16le');
    } });
  }

  #findEndpoints(bytes) {
    for (let at = 0; at < bytes.length && bytes[at] > 0; at += bytes[at]) {
      if (bytes[at + 1] !== DESCRIPTOR_ENDPOINT || (bytes[at + 3] & 3) !== BULK) continue;
      if (bytes[at + 2] & 0x80) this.in = bytes[at + 2] & 0x0f;
      else this.out = bytes[at + 2];
    }
  }

  #next() {
    this.step = this.steps.shift() ?? null;
    this.answer = [];
    if (this.step === null) {
      this.state = 'connected';
      this.#flush();
    } else {
      this.usb.sendSetupPacket(this.step.packet);
    }
  }

  #heard(endpoint, bytes) {
    if (endpoint === 0) this.#controlIn(bytes);
    else if (endpoint === this.in && this.connected) this.received.push(...bytes);
  }

  #controlIn(bytes) {
    const { step } = this;
    if (step === null) return;
    if (step.wants === undefined) {
      if (bytes.length === 0) this.#next();
      return;
    }
    this.answer.push(...bytes);
    // A packet that is not full is the last.
    if (this.answer.length >= step.wants || bytes.length < 64) {
      step.then(Uint8Array.from(this.answer));
      this.#next();
    }
  }

  #armedFor(endpoint, size) {
    if (endpoint === 0) {
      const bytes = this.step?.sends;
      if (bytes) {
        this.step.sends = null;
        this.usb.endpointReadDone(0, Uint8Array.from(bytes));
      }
      return;
    }
    this.armed = { endpoint, size };
    this.#flush();
  }

  #flush() {
    if (!this.connected || this.armed?.endpoint !== this.out || this.unsent.length === 0) return;
    const { size } = this.armed;
    this.armed = null;
    this.usb.endpointReadDone(this.out, Uint8Array.from(this.unsent.splice(0, size)));
  }
}

function toInterface(request, value, length) {
  return createSetupPacket({
    dataDirection: DataDirection.HostToDevice,
    type: SetupType.Class,
    recipient: SetupRecipient.Interface,
    bRequest: request,
    wValue: value,
    wIndex: 0,
    wLength: length,
  });
}
