// SHA-256 and SHA-512, FIPS 180-4. The constants are computed: the first bits of the fractional parts
// of the square and cube roots of the first primes (4.2.2, 4.2.3, 5.3.3, 5.3.5).
const PRIMES = [];
for (let n = 2; PRIMES.length < 80; ++n) {
  if (PRIMES.every((prime) => n % prime)) PRIMES.push(n);
}

/** The first 64 bits of the fractional part of the `root`-th root of a prime. */
function rootBits(prime, root) {
  const target = BigInt(prime) << BigInt(64 * root);
  let low = 0n, high = 1n << 70n;
  while (high - low > 1n) {
    const middle = (low + high) >> 1n;
    if (middle ** BigInt(root) <= target) low = middle;
    else high = middle;
  }
  return BigInt.asUintN(64, low);
}

const START_512 = PRIMES.slice(0, 8).map((prime) => rootBits(prime, 2));
const K_512 = PRIMES.map((prime) => rootBits(prime, 3));
const START_256 = START_512.map((bits) => Number(bits >> 32n));
const K_256 = Int32Array.from(K_512.slice(0, 64), (bits) => Number(bits >> 32n) | 0);

class Sha256 {
  constructor() {
    this.state = Int32Array.from(START_256, (word) => word | 0);
    this.words = new Int32Array(64);
    this.block = new Uint8Array(64);
    this.used = 0;
    this.length = 0;
  }

  update(bytes) {
    this.length += bytes.length;
    let at = 0;
    while (at < bytes.length) {
      if (this.used === 0 && bytes.length - at >= 64) {
        this.compress(bytes, at);
        at += 64;
        continue;
      }
      const count = Math.min(64 - this.used, bytes.length - at);
      this.block.set(bytes.subarray(at, at + count), this.used);
      at += count;
      this.used = (this.used + count) % 64;
      if (this.used === 0) this.compress(this.block, 0);
    }
    return this;
  }

  compress(data, at) {
    const w = this.words, s = this.state;
    for (let i = 0; i < 16; ++i, at += 4) {
      w[i] = data[at] << 24 | data[at + 1] << 16 | data[at + 2] << 8 | data[at + 3];
    }
    for (let i = 16; i < 64; ++i) {
      const x = w[i - 15], y = w[i - 2];
      w[i] = w[i - 16] + w[i - 7] +
        ((x >>> 7 | x << 25) ^ (x >>> 18 | x << 14) ^ x >>> 3) +
        ((y >>> 17 | y << 15) ^ (y >>> 19 | y << 13) ^ y >>> 10) | 0;
    }
    let a = s[0], b = s[1], c = s[2], d = s[3], e = s[4], f = s[5], g = s[6], h = s[7];
    for (let i = 0; i < 64; ++i) {
      const t1 = h + ((e >>> 6 | e << 26) ^ (e >>> 11 | e << 21) ^ (e >>> 25 | e << 7)) +
        (e & f ^ ~e & g) + K_256[i] + w[i] | 0;
      const t2 = ((a >>> 2 | a << 30) ^ (a >>> 13 | a << 19) ^ (a >>> 22 | a << 10)) +
        (a & b ^ a & c ^ b & c) | 0;
      h = g;
      g = f;
      f = e;
      e = d + t1 | 0;
      d = c;
      c = b;
      b = a;
      a = t1 + t2 | 0;
    }
    s[0] += a;
    s[1] += b;
    s[2] += c;
    s[3] += d;
    s[4] += e;
    s[5] += f;
    s[6] += g;
    s[7] += h;
  }

  finish() {
    const tail = new Uint8Array((this.used < 56 ? 64 : 128) - this.used);
    tail[0] = 0x80;
    new DataView(tail.buffer).setBigUint64(tail.length - 8, BigInt(this.length) * 8n);
    this.update(tail);
    const out = new Uint8Array(32), view = new DataView(out.buffer);
    this.state.forEach((word, i) => view.setInt32(4 * i, word));
    return out;
  }
}

function sha256(...parts) {
  const hash = new Sha256();
  for (const part of parts) hash.update(part);
  return hash.finish();
}

/** Of short messages only: entries and notes; 64-bit words as BigInt. */
function sha512(...parts) {
  const message = concat(...parts);
  const padded = new Uint8Array((message.length + 17 + 127) >> 7 << 7);
  padded.set(message);
  padded[message.length] = 0x80;
  const view = new DataView(padded.buffer);
  view.setBigUint64(padded.length - 8, BigInt(message.length) * 8n);
  const state = BigUint64Array.from(START_512), w = new BigUint64Array(80);
  const turn = (x, n) => x >> n | x << (64n - n);
  for (let at = 0; at < padded.length; at += 128) {
    for (let i = 0; i < 16; ++i) w[i] = view.getBigUint64(at + 8 * i);
    for (let i = 16; i < 80; ++i) {
      const x = w[i - 15], y = w[i - 2];
      const s0 = BigInt.asUintN(64, turn(x, 1n) ^ turn(x, 8n)) ^ x >> 7n;
      const s1 = BigInt.asUintN(64, turn(y, 19n) ^ turn(y, 61n)) ^ y >> 6n;
      w[i] = w[i - 16] + s0 + w[i - 7] + s1;
    }
    let [a, b, c, d, e, f, g, h] = state;
    for (let i = 0; i < 80; ++i) {
      const s1 = BigInt.asUintN(64, turn(e, 14n) ^ turn(e, 18n) ^ turn(e, 41n));
      const s0 = BigInt.asUintN(64, turn(a, 28n) ^ turn(a, 34n) ^ turn(a, 39n));
      const t1 = h + s1 + (e & f ^ (e ^ 0xffffffffffffffffn) & g) + K_512[i] + w[i];
      const t2 = s0 + (a & b ^ a & c ^ b & c);
      [h, g, f, e, d, c, b, a] = [g, f, e, BigInt.asUintN(64, d + t1), c, b, a, BigInt.asUintN(64, t1 + t2)];
    }
    [a, b, c, d, e, f, g, h].forEach((value, i) => {
      state[i] += value;
    });
  }
  const out = new Uint8Array(64), words = new DataView(out.buffer);
  state.forEach((word, i) => words.setBigUint64(8 * i, word));
  return out;
}
