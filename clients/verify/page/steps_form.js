// The case under check, and steps 0 to 3: form, seal, heads, inclusion.
const MARKS = ["ok", "shown", "note", "unknown", "WRONG", "MALFORMED"];
const [GOOD, SHOWN, NOTE, UNKNOWN, DISPROVEN, MALFORMED] = MARKS.keys();
const TITLES = ["form", "seal", "heads and countersigners", "entries in the tree", "signatures", "chains",
  "first and last entry of the job", "bodies", "heads the devices had seen", "forks, gaps, erasures, holds",
  "not before, not after", "attachments and files", "findings judged again"];

class Verdicts {
  constructor() {
    this.list = [];
    this.told = [];
  }
  add(step, mark, words) {
    this.list.push({step, mark, words});
  }
  tell(what, words, verdict) {
    this.told.push({what, words, verdict});
  }
  failed(step) {
    return this.list.some((verdict) => verdict.step === step && verdict.mark > NOTE);
  }
  get exit() {
    const worst = Math.max(GOOD, ...this.list.map((verdict) => verdict.mark));
    return [0, 0, 1, 4, 2, 3][worst];
  }
}

// Lets the page draw and answer between pieces of work.
let lastBreath = 0;
let showProgress = () => {};
async function breathe(words, done, total) {
  if (performance.now() - lastBreath < 40) return;
  showProgress(words, done, total);
  await new Promise((resolve) => setTimeout(resolve));
  lastBreath = performance.now();
}

async function sha256Slowly(bytes, words) {
  const hash = new Sha256(), piece = 1 << 20;
  for (let at = 0; at < bytes.length; at += piece) {
    hash.update(bytes.subarray(at, at + piece));
    await breathe(words, at, bytes.length);
  }
  return hash.finish();
}

function placeOf(header) {
  return [BigInt(header.epoch), header.seq];
}

function comparePlaces(a, b) {
  return a[0] !== b[0] ? (a[0] < b[0] ? -1 : 1) : a[1] !== b[1] ? (a[1] < b[1] ? -1 : 1) : 0;
}

/** META in its one spelling: fields 1 to 4 in order, each once, none empty. */
function readMeta(bytes) {
  const message = readMessage(bytes);
  if (message === null) return null;
  const parts = [];
  for (const field of [1, 2, 3, 4]) {
    const value = message.bytes(field);
    if (value.length > 127 + 127 * 128) return null;
    if (value.length > 127) parts.push(Uint8Array.of(field << 3 | 2, value.length & 127 | 128, value.length >> 7), value);
    else if (value.length > 0) parts.push(Uint8Array.of(field << 3 | 2, value.length), value);
  }
  const meta = {origin: utf8(message.bytes(1)), job: hex(message.bytes(2)), device: hex(message.bytes(3)),
    report: hex(message.bytes(4))};
  const fits = meta.job.length === 32 && meta.device.length === 32 && [0, 64].includes(meta.report.length);
  return fits && same(concat(...parts), bytes) ? meta : null;
}

function openHeads(c, verdicts) {
  const keys = [c.policy.log, ...c.policy.countersigners];
  for (const bytes of c.bundle.heads) {
    const what = `head ${c.heads.length + 1}`, note = parseNote(bytes);
    if (!note.signatures.some((signature) => isBy(signature, c.policy.log))) {
      verdicts.add(2, UNKNOWN, `${what} is not signed by the log key the policy names (${c.policy.log.name}); ` +
        "it comes from another base, or the policy is an old one");
      return false;
    }
    if (!note.signatures.every((signature) => keys.some((key) => isBy(signature, key)))) {
      verdicts.add(2, MALFORMED, `${what} has a signature line by a key the policy does not name`);
      return false;
    }
    const checkpoint = parseCheckpoint(note.text);
    need(c.heads.length === 0 || c.head.size < checkpoint.size, `${what}: heads do not ascend in size`);
    c.heads.push({...checkpoint, note, cosigned: []});
    c.head = c.heads.at(-1);
  }
  return true;
}

/** What an entry is to its job: of one that was brought in again what it was before. */
function kindInJob(item) {
  return innerHeader(item)?.kind ?? item.header.kind;
}

/** The header inside a RECOVERED entry; null for any other, and for one that holds none. */
function innerHeader(item) {
  const body = item.header.kind === K.RECOVERED ? bodyOf(item) : null, entry = body?.bytes(1);
  if (entry?.length !== 288) return null;
  try {
    return decodeHeader(entry, item.name);
  } catch (error) {
    if (error instanceof Malformed) return null;
    throw error;
  }
}

/** The job with the places its entries really give. */
function findJob(c) {
  let open = null, close = null;
  for (const item of c.items) {
    const {header} = item;
    if (header.job !== c.meta.job || header.device !== c.meta.device) continue;
    const place = placeOf(header), kind = kindInJob(item);
    if (kind === K.JOB_OPEN && (!open || comparePlaces(place, open) < 0)) open = place;
    if (kind === K.JOB_CLOSE && (!close || comparePlaces(place, close) > 0)) close = place;
  }
  return open && {id: c.meta.job, device: c.meta.device, open, close};
}

function isInside(header, job) {
  const place = placeOf(header);
  return comparePlaces(place, job.open) >= 0 && (!job.close || comparePlaces(place, job.close) <= 0);
}

const JUDGED_KINDS = new Set([K.OBSERVATIONS, K.STRIP, K.JOB_OPEN, K.JOB_CLOSE, K.RECOVERED]);
function isJudgedIn(header, job) {
  if (header.device !== job.device || !JUDGED_KINDS.has(header.kind)) return false;
  return header.job === job.id || isInside(header, job);
}

function mustShowBody(header, job) {
  return header.job === job.id || isJudgedIn(header, job) ||
    (header.device === job.device && header.kind !== K.CARD && isInside(header, job));
}

function isForeignTo(header, job) {
  return header.job === job.id && header.device !== job.device && header.kind < 64;
}

/** Step 0. Null when something has not even its form; the verdicts say what. */
async function openCase(bytes, policy, pages, verdicts) {
  const c = {policy, pages, heads: [], head: null, devices: new Map(), ancestors: []};
  c.bundle = readBundle(bytes);
  c.meta = readMeta(c.bundle.meta);
  need(c.meta !== null, "section META does not name a job and its device");
  c.origin = policy.log.name;
  if (c.meta.origin !== c.origin) {
    verdicts.add(0, UNKNOWN, "the bundle is of another log than the policy names");
    return null;
  }
  if (!openHeads(c, verdicts)) return null;
  const fingerprint = hex(sha256(c.bundle.roster));
  if (!policy.rosters.includes(fingerprint)) {
    verdicts.add(0, UNKNOWN, `roster ${fingerprint} is not one the policy names; compare it with the ` +
      "contract before pinning it");
    return null;
  }
  const roster = await openRoster(c.bundle.roster);
  if (policy.officersRequired && roster.officers.size === 0) {
    verdicts.add(0, UNKNOWN, "the policy asks for officers' signatures, but the roster names no officer");
    return null;
  }
  c.rosters = [{...roster, fromLeaf: 0n}];  // Later ones come by ROSTER entries, step 4.
  c.items = c.bundle.entries;
  for (const item of c.items) item.leafHash = sha256(LEAF, Uint8Array.of(1), item.entry, item.recv);
  c.job = findJob(c);
  verdicts.add(0, GOOD, `${c.items.length} entries, ${c.heads.length} heads, ${c.bundle.files.length} files, ` +
    `${c.bundle.attachments.length} attachments of ${c.origin}, job ${c.meta.job}`);
  return c;
}

function parseSeal(c, verdicts) {
  try {
    return parseNote(c.bundle.seal);
  } catch (error) {
    verdicts.add(1, MALFORMED, error.message);
    return null;
  }
}

async function checkSeal(c, verdicts) {
  const note = parseSeal(c, verdicts), log = c.policy.log;
  if (note === null) return;
  const text = `${c.origin}/bundle\n${hex(await sha256Slowly(c.bundle.sealedPart, "Reading the seal"))}\n`;
  if (!note.signatures.some((signature) => isBy(signature, log))) {
    verdicts.add(1, UNKNOWN, "sealed by another key than the policy's log key");
  } else if (note.signatures.length !== 1) {
    verdicts.add(1, MALFORMED, "the seal has more than the log's signature");
  } else if (!await verifyNote(note, log)) {
    verdicts.add(1, DISPROVEN, "the seal's signature does not verify");
  } else if (utf8(note.text) !== text) {
    verdicts.add(1, DISPROVEN, "bytes of the bundle were changed after it was sealed");
  } else {
    verdicts.add(1, GOOD, `sealed by ${log.name}`);
  }
}

async function checkHeads(c, verdicts) {
  const {policy} = c;
  for (const head of c.heads) {
    const what = `head over ${head.size} leaves`;
    if (head.origin !== c.origin || !await verifyNote(head.note, policy.log)) {
      verdicts.add(2, DISPROVEN, `${what}: not signed by the log key of ${c.origin}`);
    }
    for (const key of policy.countersigners) {
      const time = await cosignedAt(head.note, key);
      if (time === undefined) verdicts.add(2, DISPROVEN, `${what}: cosignature of ${key.name} does not verify`);
      else if (time !== null) head.cosigned.push(time);
    }
  }
  if (!verdicts.failed(2)) verdicts.add(2, GOOD, `head over ${c.head.size} leaves signed by the log`);
}

/**
 * Step 2, once step 4 knows every roster. The newest head with enough cosignatures must cover every entry
 * that a device made; the base's own may come later.
 */
function checkCountersigned(c, verdicts) {
  const {threshold, countersigners} = c.policy;
  if (countersigners.length === 0) {
    verdicts.add(2, NOTE, "not yet countersigned: the policy names no countersigner");
    return;
  }
  const found = c.heads.filter((head) => head.cosigned.length >= threshold).at(-1);
  if (!found) {
    const most = Math.max(...c.heads.map((head) => head.cosigned.length));
    verdicts.add(2, NOTE, `not yet countersigned: ${most} of ${threshold} cosignatures on any head`);
    return;
  }
  const late = c.items.filter((item) => item.leaf >= found.size);
  const ofDevices = late.filter(({header}) => !isOfBase(c, header.device)).length;
  if (ofDevices > 0) {
    verdicts.add(2, NOTE, `not yet countersigned: ${ofDevices} entries are newer than the countersigned head over ` +
      `${found.size} leaves`);
    return;
  }
  verdicts.add(2, GOOD, `countersigned by ${found.cosigned.length} of ${countersigners.length}: head over ${found.size} leaves`);
  if (late.length > 0) {
    verdicts.add(2, SHOWN, `${late.length} entries of the base itself, none of a truck, came after that head`);
  }
}

/** The first roster that names this device id; undefined for a device. */
function staffRoster(c, device) {
  return c.rosters.find(({admins, services}) => admins.has(device) || services.has(device));
}

function isAdmin(c, device) {
  return c.rosters.some(({admins}) => admins.has(device));
}

function isOfBase(c, device) {
  return staffRoster(c, device) !== undefined;
}

function rosterAt(c, leaf) {
  return c.rosters.filter((roster) => roster.fromLeaf <= leaf).at(-1) ?? c.rosters[0];
}

/** Ledger ids an entry may name: this generation's, and those before it that a RESTORE names. */
function ledgersOf(c) {
  const idOf = (origin) => hex(sha256(ASCII.encode(origin)).subarray(0, 16));
  const out = new Set([idOf(c.origin)]);
  for (const item of c.items) {
    const body = item.header.kind === K.RESTORE ? bodyOf(item) : null;
    if (!body?.bytes(5).length) continue;
    try {
      out.add(idOf(parseCheckpoint(parseNote(body.bytes(5)).text).origin));
    } catch {
      // Names no head.
    }
  }
  return out;
}

async function checkInclusion(c, verdicts) {
  const ledgers = ledgersOf(c);
  for (const [i, item] of c.items.entries()) {
    if (!verifyInclusion(item.leaf, c.head.size, item.leafHash, item.path, c.head.root)) {
      verdicts.add(3, DISPROVEN, `${item.name} is not in the tree of the last head`);
    }
    if (!ledgers.has(item.header.ledger)) verdicts.add(3, DISPROVEN, `${item.name} was made for another log`);
    await breathe("Looking for each entry in the tree", i, c.items.length);
  }
  if (!verdicts.failed(3)) verdicts.add(3, GOOD, `all ${c.items.length} entries are in it`);
}

/** The committed body as fields; null when it is not there, not the one signed for, or not one. */
function bodyOf(item) {
  return item.form === BODY && bodyMatches(item) ? readMessage(item.body) : null;
}

function bodyMatches(item) {
  return item.body.length === item.header.bodyLength &&
    same(sha256(ASCII.encode("fairlead/body/v1\n"), item.salt, item.body), item.header.commit);
}
