// Ed25519 verification, RFC 8032 section 5.1, in the strict profile of the record: S >= L, points not
// in canonical form and points of low order are refused; the equation is taken without the cofactor.
const P = 2n ** 255n - 19n;
const L = 2n ** 252n + 27742317777372353535851937790883648493n;

function power(base, exponent) {
  let out = 1n;
  for (base %= P; exponent > 0n; exponent >>= 1n) {
    if (exponent & 1n) out = out * base % P;
    base = base * base % P;
  }
  return out;
}

const positive = (x) => (x % P + P) % P;
const D = positive(-121665n * power(121666n, P - 2n));
const D2 = 2n * D % P;
const ROOT_OF_MINUS_ONE = power(2n, (P - 1n) / 4n);
const NEUTRAL = [0n, 1n, 1n, 0n];

// Extended coordinates (X, Y, Z, T), section 5.1.4.
function addPoints(p, q) {
  const a = (p[1] - p[0]) * (q[1] - q[0]) % P, b = (p[1] + p[0]) * (q[1] + q[0]) % P;
  const c = p[3] * q[3] % P * D2 % P, d = 2n * p[2] * q[2] % P;
  const e = b - a, f = d - c, g = d + c, h = b + a;
  return [e * f % P, g * h % P, f * g % P, e * h % P];
}

function doublePoint(p) {
  const a = p[0] * p[0] % P, b = p[1] * p[1] % P, c = 2n * p[2] * p[2] % P;
  const h = a + b, s = p[0] + p[1], e = h - s * s % P, g = a - b, f = c + g;
  return [e * f % P, g * h % P, f * g % P, e * h % P];
}

function littleEndian(bytes) {
  let out = 0n;
  for (let i = bytes.length - 1; i >= 0; --i) out = out << 8n | BigInt(bytes[i]);
  return out;
}

function encodePoint(p) {
  const z = power(positive(p[2]), P - 2n), x = positive(p[0] * z), y = positive(p[1] * z);
  return encodeNumber(y | (x & 1n) << 255n);
}

function encodeNumber(value) {
  return Uint8Array.from({length: 32}, (_, i) => Number(value >> BigInt(8 * i) & 255n));
}

/** Null for bytes that are no point, or one in another than its canonical form. */
function decodePoint(bytes) {
  const whole = littleEndian(bytes), sign = whole >> 255n, y = whole & (1n << 255n) - 1n;
  if (bytes.length !== 32 || y >= P) return null;
  const xx = (y * y - 1n) * power(D * y % P * y + 1n, P - 2n) % P;
  let x = power(positive(xx), (P + 3n) / 8n);
  if (positive(x * x - xx) !== 0n) x = x * ROOT_OF_MINUS_ONE % P;
  if (positive(x * x - xx) !== 0n || (x === 0n && sign === 1n)) return null;
  if ((x & 1n) !== sign) x = P - x;
  return [x, y, 1n, x * y % P];
}

function isLowOrder(p) {
  const q = doublePoint(doublePoint(doublePoint(p)));
  return positive(q[0]) === 0n && positive(q[1] - q[2]) === 0n;
}

/** Multiples 0 to 15 of a point, for scalars taken four bits at a time. */
function multiples(p) {
  const out = [NEUTRAL];
  while (out.length < 16) out.push(addPoints(out.at(-1), p));
  return out;
}

const BASE_MULTIPLES = multiples(decodePoint(encodeNumber(4n * power(5n, P - 2n) % P)));

/** Multiples of -A by the key's bytes; null for a key that may not be used. */
const knownKeys = new Map();
function keyMultiples(key) {
  const name = hex(key);
  if (!knownKeys.has(name)) {
    const a = decodePoint(key);
    const usable = a !== null && !isLowOrder(a);
    knownKeys.set(name, usable ? multiples([P - a[0], a[1], 1n, P - a[3]]) : null);
  }
  return knownKeys.get(name);
}

/** The plain way, in BigInt: about 2 ms a signature. */
function verifySlowly(key, message, signature) {
  if (key.length !== 32 || signature.length !== 64) return false;
  const r = signature.subarray(0, 32), s = littleEndian(signature.subarray(32));
  const minusA = keyMultiples(key);
  if (s >= L || minusA === null) return false;
  const k = littleEndian(sha512(r, key, message)) % L;
  let sum = NEUTRAL;
  for (let shift = 252n; shift >= 0n; shift -= 4n) {
    if (shift !== 252n) for (let i = 0; i < 4; ++i) sum = doublePoint(sum);
    sum = addPoints(sum, BASE_MULTIPLES[Number(s >> shift & 15n)]);
    sum = addPoints(sum, minusA[Number(k >> shift & 15n)]);
  }
  // R = S B - k A by its bytes: what is not canonical equals none, so only low order is left.
  return same(encodePoint(sum), r) && !isLowOrder(sum);
}

// The browser's own Ed25519 does the same 30 times faster, where it has one that leaves out the
// cofactor too. What it may leave unchecked (low order, form of the key) is checked here.
const LOW_ORDER = lowOrderEncodings();

/** All encodings of the eight points of low order, also those not in canonical form. */
function lowOrderEncodings() {
  let torsion = NEUTRAL;
  // L times a point is of low order; of order 8 when its double still has an x.
  for (let y = 2n; positive(doublePoint(torsion)[0]) === 0n; ++y) {
    const point = decodePoint(encodeNumber(y));
    torsion = NEUTRAL;
    for (let bit = 252n; point && bit >= 0n; --bit) {
      torsion = doublePoint(torsion);
      if (L >> bit & 1n) torsion = addPoints(torsion, point);
    }
  }
  const out = new Set();
  for (let i = 0, point = NEUTRAL; i < 8; ++i, point = addPoints(point, torsion)) {
    const y = littleEndian(encodePoint(point)) & (1n << 255n) - 1n;
    for (const spelling of [y, y + P]) {
      if (spelling >> 255n) continue;
      for (const sign of [0n, 1n << 255n]) out.add(hex(encodeNumber(spelling | sign)));
    }
  }
  return out;
}

async function verifyNatively(key, message, signature) {
  if (key.length !== 32 || signature.length !== 64 || keyMultiples(key) === null) return false;
  const r = signature.subarray(0, 32), s = littleEndian(signature.subarray(32));
  if (s >= L || LOW_ORDER.has(hex(r))) return false;
  const name = hex(key);
  if (!nativeKeys.has(name)) {
    nativeKeys.set(name, await crypto.subtle.importKey("raw", key, "Ed25519", false, ["verify"]));
  }
  return crypto.subtle.verify("Ed25519", nativeKeys.get(name), signature, message);
}
const nativeKeys = new Map();

// RFC 8032 7.1 TEST 3, which must be taken, and vector 6 of github.com/C2SP/CCTV ed25519, which only a
// verifier that multiplies by the cofactor takes.
const PROBES = [
  ["fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", Uint8Array.of(0xaf, 0x82),
    "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac" +
    "18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a", true],
  ["10eb7c3acfb2bed3e0d6ab89bf5a3d6afddd1176ce4812e38d9fd485058fdb1f", ASCII.encode("ed25519vectors 10"),
    "36684ea91032ba5b1dbab2d02f4debc74c3327f2b3802e2e4d371aa42b12b56b" +
    "c02e2b9e63e385c058bf62b14b3a2b29ccefe8e38ddb536bc3f9865320a3d801", false],
];

let verifySignature = async (key, message, signature) => verifySlowly(key, message, signature);
async function chooseVerifier() {
  try {
    for (const [key, message, signature, good] of PROBES) {
      if (await verifyNatively(fromHex(key), message, fromHex(signature)) !== good) return;
    }
    verifySignature = verifyNatively;
  } catch {
    // This browser has no Ed25519 of its own.
  }
}
