// Signed notes and verifier keys (C2SP signed-note), cosignatures (C2SP tlog-cosignature), checkpoints
// (C2SP tlog-checkpoint), and the two texts made of keys: the roster and the reader's own policy.
const SIGNS_TEXT = 1, COSIGNS = 4;

function isKeyName(name) {
  return /^[\x21-\x2a\x2c-\x7e]{1,255}$/.test(name);
}

function parseKey(text) {
  const [name, id, ...rest] = text.split("+");
  const raw = fromBase64(rest.join("+"));
  need(isKeyName(name) && raw.length === 33 && (raw[0] === SIGNS_TEXT || raw[0] === COSIGNS),
    "a key is not NAME+HEX8+BASE64 of a known type");
  const digest = sha256(ASCII.encode(name + "\n"), raw);
  need(hex(digest.subarray(0, 4)) === id, `the key id of ${name} does not belong to its name and key`);
  return {name, id, type: raw[0], key: raw.subarray(1)};
}

function findGap(bytes) {
  for (let at = bytes.length - 2; at >= 0; --at) {
    if (bytes[at] === 10 && bytes[at + 1] === 10) return at;
  }
  throw new Malformed("note: has no empty line before its signatures");
}

function parseNote(bytes) {
  need(bytes.length <= 1_000_000, "note: is larger than 1,000,000 bytes");
  const gap = findGap(bytes), text = bytes.subarray(0, gap + 1);
  need(!utf8(text).match(/[\0-\x09\x0b-\x1f\x7f]/), "note: text has control characters");
  const lines = utf8(bytes.subarray(gap + 2)).split("\n");
  need(lines.pop() === "" && lines.length >= 1, "note: has no signature or does not end in a newline");
  need(lines.length <= 16, "note: has more than 16 signatures");
  const signatures = lines.map((line) => {
    const parts = line.split(" ");
    need(parts.length === 3 && parts[0] === "\u2014" && isKeyName(parts[1]),
      "note: a signature line is out of form");
    const raw = fromBase64(parts[2]);
    need(raw.length >= 5, "note: a signature line is too short");
    return {name: parts[1], id: hex(raw.subarray(0, 4)), bytes: raw.subarray(4)};
  });
  return {text, signatures};
}

function isBy(signature, key) {
  return signature.id === key.id && signature.name === key.name;
}

/** True when a signature line of this key is good and none of them is bad. */
async function verifyNote(note, key) {
  const own = note.signatures.filter((signature) => isBy(signature, key));
  for (const signature of own) {
    if (key.type !== SIGNS_TEXT || !await verifySignature(key.key, note.text, signature.bytes)) return false;
  }
  return own.length > 0;
}

/** The earliest time, in Unix seconds, of this key's good cosignatures; null for none, undefined for a bad one. */
async function cosignedAt(note, key) {
  let earliest = null;
  for (const signature of note.signatures) {
    if (!isBy(signature, key)) continue;
    if (signature.bytes.length !== 72) return undefined;
    const time = new Cursor(signature.bytes, "cosignature").u64();
    const message = concat(ASCII.encode(`cosignature/v1\ntime ${time}\n`), note.text);
    if (!await verifySignature(key.key, message, signature.bytes.subarray(8))) return undefined;
    if (earliest === null || time < earliest) earliest = time;
  }
  return earliest;
}

function parseCheckpoint(text) {
  const lines = utf8(text).split("\n");
  need(lines.length === 4 && lines[3] === "" && lines[0] !== "", "checkpoint: is not three lines");
  need(/^(0|[1-9][0-9]{0,18})$/.test(lines[1]) && BigInt(lines[1]) < 1n << 63n,
    "checkpoint: line 2 is not a tree size in plain decimal");
  const root = fromBase64(lines[2]);
  need(root.length === 32, "checkpoint: line 3, the root, is not 32 bytes");
  return {origin: lines[0], size: BigInt(lines[1]), root};
}

/** Admin and service keys by device id (hex), officers by name, and the other lines; checked against its root key. */
async function openRoster(bytes) {
  const note = parseNote(bytes), lines = utf8(note.text).split("\n");
  need(lines.shift() === "fairlead roster v1" && lines.pop() === "", "roster: is not one");
  const roster = {admins: new Map(), services: new Map(), officers: new Map(), fingerprint: sha256(bytes)};
  const expected = ["base", "root", "log", "admin", "service", "officer"];
  let place = 0;
  for (const line of lines) {
    const [word, ...rest] = line.split(" ");
    const here = expected.indexOf(word);
    need(here >= place && (here > 2 || here === place), `roster: "${word}" is out of place`);
    place = here < 3 ? here + 1 : here;
    if (word === "base") roster.base = rest.join(" ");
    else if (word === "root" || word === "log") roster[word] = parseKey(rest.join(" "));
    else if (word === "officer") {
      const key = parseKey(rest.join(" "));
      roster.officers.set(key.name, key);
    } else {
      const id = hex(fromHex(rest[0], 16)), key = parseKey(rest.slice(1).join(" "));
      need(/[^0]/.test(id) && !roster.admins.has(id) && !roster.services.has(id), "roster: a device id is named twice");
      (word === "admin" ? roster.admins : roster.services).set(id, key);
    }
  }
  need(roster.log && roster.admins.size > 0, "roster: names no log or no admin key");
  need(await verifyNote(note, roster.root), "roster: not signed by its root key");
  return roster;
}

/** The insurer's own file. Throws Unknown naming the line. */
function parsePolicy(text) {
  const policy = {log: null, rosters: [], countersigners: [], threshold: 1, officersRequired: false};
  const lines = text.split("\n").map((line, i) => [i + 1, line]);
  const wanted = lines.filter(([, line]) => line !== "" && !line.startsWith("#"));
  if (wanted.length === 0 || wanted[0][1] !== "fairlead policy v1") {
    throw new Unknown("policy: does not begin with \"fairlead policy v1\"; make the file with fairlead-verify pin");
  }
  for (const [number, line] of wanted.slice(1)) {
    try {
      readPolicyLine(policy, line);
    } catch (error) {
      throw new Unknown(`policy: line ${number}: ${error.message}`);
    }
  }
  if (!policy.log || policy.rosters.length === 0) throw new Unknown("policy: names no log or no roster");
  const keys = [policy.log, ...policy.countersigners].map((key) => hex(key.key));
  if (new Set(keys).size !== keys.length) throw new Unknown("policy: a key is named twice");
  if (policy.threshold > Math.max(1, policy.countersigners.length)) {
    throw new Unknown("policy: threshold is above the number of countersigners");
  }
  return policy;
}

function readPolicyLine(policy, line) {
  const space = line.indexOf(" "), word = line.slice(0, space), rest = line.slice(space + 1);
  if (word === "log") {
    need(policy.log === null, "log is named twice");
    policy.log = parseKey(rest);
    need(policy.log.type === SIGNS_TEXT, "log key is not an Ed25519 note key");
  } else if (word === "countersigner") {
    const key = parseKey(rest);
    need(key.type === COSIGNS && policy.countersigners.length < 15, "is no cosignature key, or one too many");
    policy.countersigners.push(key);
  } else if (word === "roster") {
    policy.rosters.push(hex(fromHex(rest, 32)));
  } else if (word === "threshold") {
    need(/^[1-9][0-9]?$/.test(rest), "threshold is not a number from 1");
    policy.threshold = Number(rest);
  } else if (line === "officers required") {
    policy.officersRequired = true;
  } else {
    throw new Malformed("unknown word; a line begins with log, roster, countersigner or threshold");
  }
}
