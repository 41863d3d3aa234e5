// Bytes, texts and big-endian numbers. Whatever is cut off or out of form throws Malformed.
class Malformed extends Error {}
class Unknown extends Error {}

function need(good, words) {
  if (!good) throw new Malformed(words);
}

const ASCII = new TextEncoder();

function concat(...parts) {
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}

function same(a, b) {
  return a.length === b.length && a.every((byte, i) => byte === b[i]);
}

function hex(bytes) {
  let out = "";
  for (const byte of bytes) out += byte.toString(16).padStart(2, "0");
  return out;
}

function fromHex(text, size) {
  need(/^([0-9a-f]{2})*$/.test(text) && (size === undefined || text.length === 2 * size),
    "hexadecimal text is out of form");
  return Uint8Array.from(text.match(/../g) ?? [], (pair) => parseInt(pair, 16));
}

// RFC 4648 section 4, the one spelling with padding and zero filler bits.
function fromBase64(text) {
  need(/^[A-Za-z0-9+/]*={0,2}$/.test(text) && text.length % 4 === 0, "base64 is out of form");
  const raw = atob(text);
  need(btoa(raw) === text, "base64 is not canonical");
  return Uint8Array.from(raw, (c) => c.charCodeAt(0));
}

function toBase64(bytes) {
  return btoa(String.fromCharCode(...bytes));
}

function utf8(bytes) {
  try {
    return new TextDecoder("utf-8", {fatal: true, ignoreBOM: true}).decode(bytes);
  } catch {
    throw new Malformed("text is not UTF-8");
  }
}

function u64(value) {
  const out = new Uint8Array(8);
  new DataView(out.buffer).setBigUint64(0, value);
  return out;
}

/** Takes bytes off the front; every piece is a view into the file. */
class Cursor {
  constructor(bytes, what) {
    this.bytes = bytes;
    this.what = what;
    this.at = 0;
    this.view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  }
  get more() {
    return this.at < this.bytes.length;
  }
  take(size) {
    need(size <= this.bytes.length - this.at, `${this.what}: cut off`);
    this.at += size;
    return this.bytes.subarray(this.at - size, this.at);
  }
  u8() {
    return this.take(1)[0];
  }
  u32() {
    this.take(4);
    return this.view.getUint32(this.at - 4);
  }
  u64() {
    this.take(8);
    return this.view.getBigUint64(this.at - 8);
  }
  i64() {
    this.take(8);
    return this.view.getBigInt64(this.at - 8);
  }
  sized() {
    return this.take(this.u32());
  }
  hashes() {
    const count = this.u8();
    need(count <= 63, `${this.what}: a proof has over 63 hashes`);
    return Array.from({length: count}, () => this.take(32));
  }
}

/** RFC 3339 in UTC, to the second; microseconds since 1970. */
function timeText(us) {
  const ms = Number(us / 1000n);
  return Math.abs(ms) < 8.64e15 ? new Date(ms).toISOString().replace(/\.\d+Z$/, "Z") : "unknown";
}
