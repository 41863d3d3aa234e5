// Steps 4 and 5: every entry is signed by the key valid at its leaf; no link of a chain is missing.
const ENTRY_LABEL = ASCII.encode("fairlead/entry/v1\n");
const CHAIN_LABEL = ASCII.encode("fairlead/chain/v1\n");
const GENESIS_LABEL = ASCII.encode("fairlead/genesis/v1\n");
const SERVICE_KINDS = new Set([K.FINDING, K.HEAD_COSIGNED, K.REFUSED]);
const ADMIN_EXTRA = new Set([K.START, K.STOP, K.CLOCK, K.GAP, K.CARD]);

const IMPORT = 2n;

function keyText(key) {
  return key.name + hex(key.key);
}

async function rosterOrNull(bytes) {
  try {
    return bytes ? await openRoster(bytes) : null;
  } catch (error) {
    if (error instanceof Malformed) return null;
    throw error;
  }
}

/** The note of the first generation's roster, as its ROSTER entry holds it. */
function firstRoster(c) {
  for (const item of c.items) {
    const note = item.header.kind === K.ROSTER ? bodyOf(item)?.bytes(1) : null;
    if (note) return note;
  }
  return null;
}

function generationOf(origin) {
  const found = origin.match(/\/fairlead\/g([1-9][0-9]{0,9})$/);
  return found ? Number(found[1]) : null;
}

/** The next generation of the same base under the same root key, signed by both log keys unless the old one is lost. */
async function seamHolds(body, before, next) {
  const [from, to] = [generationOf(before.log.name), generationOf(next.log.name)];
  if (from === null || to !== from + 1 || body.text(10) !== before.log.name || next.base !== before.base ||
      keyText(next.root) !== keyText(before.root) || body.bytes(9).length !== 32) return false;
  const text = concat(ASCII.encode(`fairlead/generation/v1\n${before.log.name}\n${next.log.name}\n`),
    u64(body.number(6)), body.bytes(9), sha256(body.bytes(11)));
  const old = body.bytes(12);
  return await verifySignature(next.log.key, text, body.bytes(13)) &&
    (old.length === 0 || await verifySignature(before.log.key, text, old));
}

/** The same base, root and log; an old key keeps its device id and office, a new one has a new id. */
function canFollow(before, next) {
  if (next.base !== before.base || keyText(next.root) !== keyText(before.root) || keyText(next.log) !== keyText(before.log)) {
    return false;
  }
  for (const group of ["admins", "services"]) {
    for (const [id, key] of next[group]) {
      for (const oldGroup of ["admins", "services"]) {
        for (const [oldId, oldKey] of before[oldGroup]) {
          if ((id === oldId) !== same(key.key, oldKey.key) || (id === oldId && group !== oldGroup)) return false;
        }
      }
    }
  }
  return true;
}

class SignatureCheck {
  constructor(c, verdicts) {
    this.c = c;
    this.verdicts = verdicts;
    this.stopped = false;
    this.seams = [];
  }

  bad(item, words) {
    this.verdicts.add(4, DISPROVEN, `${item.name} ${words}`);
  }

  async run() {
    // Keys change from entry to entry, so one after the other.
    for (const [i, item] of this.c.items.entries()) {
      if (this.stopped) break;  // Who may sign after a roster the reader does not know is not known either.
      await this.check(item);
      await breathe("Checking signatures", i, this.c.items.length);
    }
    await this.checkSeams();
    if (!this.verdicts.failed(4)) {
      this.verdicts.add(4, GOOD, `${this.c.items.length} signatures, ${this.c.devices.size} enrolled devices`);
    }
  }

  async check(item) {
    const {kind, device} = item.header;
    if (kind === K.ROSTER && item.leaf > 0n && !await this.learnRoster(item)) return;
    const {admins, services} = rosterAt(this.c, item.leaf);
    if (admins.has(device)) {
      if (!ADMIN_EXTRA.has(kind) && (kind < 64 || SERVICE_KINDS.has(kind))) {
        return this.bad(item, "is of a kind no admin key may sign");
      }
      await this.verifyWith(item, admins.get(device).key);
      if (item.signedWell) await this.learn(item);
    } else if (services.has(device)) {
      if (!SERVICE_KINDS.has(kind)) return this.bad(item, "is of a kind no service key may sign");
      await this.verifyWith(item, services.get(device).key);
    } else if (isOfBase(this.c, device)) {
      this.bad(item, "is by a key the roster in force no longer names");
    } else {
      await this.checkDevice(item);
    }
  }

  /** A later roster vouches for itself: by the root's signature and the policy that pins it. */
  async learnRoster(item) {
    const bytes = bodyOf(item)?.bytes(1) ?? new Uint8Array(0), before = this.c.rosters.at(-1);
    let roster;
    try {
      roster = await openRoster(bytes);
    } catch (error) {
      if (!(error instanceof Malformed)) throw error;
      this.bad(item, "must be shown with a roster its root has signed");
      return false;
    }
    // Of a generation before the one the policy names: the seams join it to this one.
    const [named] = this.c.rosters;
    if (roster.log.name !== named.log.name && same(roster.root.key, named.root.key)) return true;
    if (!this.c.policy.rosters.includes(hex(roster.fingerprint))) {
      this.verdicts.add(4, UNKNOWN, `${item.name} brings roster ${hex(roster.fingerprint)}, which the policy does ` +
        "not name; ask for it and pin it too. Nothing after it is checked");
      this.stopped = true;
      return false;
    }
    if (!canFollow(before, roster)) {
      this.bad(item, "brings a roster that cannot follow");
      return false;
    }
    this.c.rosters.push({...roster, fromLeaf: item.leaf});
    return true;
  }

  async verifyWith(item, key) {
    const message = concat(ENTRY_LABEL, item.entry.subarray(0, 224));
    item.signedWell = item.header.keyId === hex(sha256(key).subarray(0, 4)) &&
      await verifySignature(key, message, item.entry.subarray(224));
    if (!item.signedWell) this.bad(item, "is not signed by the key of its writer");
  }

  async checkDevice(item) {
    if (item.header.kind >= 64) return this.bad(item, "is of a kind only the base may write");
    const device = this.c.devices.get(item.header.device);
    if (!device) {
      this.verdicts.add(4, UNKNOWN, `${item.name} is of device ${item.header.device}, which no entry before it enrols`);
      return;
    }
    const valid = device.keys.filter((span) => item.leaf > span.afterLeaf).at(-1);
    if (!valid) return this.bad(item, "is older than its device's enrolment");
    await this.verifyWith(item, valid.key);
    item.quarantined = item.quarantined ||
      (device.lastTrusted !== null && comparePlaces(placeOf(item.header), device.lastTrusted) > 0);
    if (item.header.kind === K.RECOVERED && item.form === BODY) await this.checkRecovered(item, device);
  }

  /** What was brought in again must be this device's own, signed in an earlier epoch. */
  async checkRecovered(item, device) {
    const inner = innerHeader(item), entry = bodyOf(item)?.bytes(1);
    let good = inner !== null && inner.device === item.header.device && inner.epoch < item.header.epoch &&
      inner.job === item.header.job;
    if (good) {
      const message = concat(ENTRY_LABEL, entry.subarray(0, 224));
      const tries = device.keys.map(({key}) => verifySignature(key, message, entry.subarray(224)));
      good = (await Promise.all(tries)).includes(true);
    }
    if (!good) this.bad(item, "brings in what its device did not sign in an earlier epoch");
  }

  async learn(item) {
    const {kind} = item.header;
    if (kind === K.ENROL) await this.learnEnrol(item);
    else if (kind === K.ROTATE) await this.learnRotate(item);
    else if (kind === K.REVOKE) this.learnRevoke(item);
    else if ((kind === K.RESTORE || kind === K.FORK) && item.form !== BODY) this.bad(item, "must be shown with its body");
    else if (kind === K.RESTORE) this.learnRestore(item);
  }

  /** A RESTORE of the base ends a generation; both log keys and the root key sign the seam. */
  learnRestore(item) {
    const body = bodyOf(item);
    if (body === null) return this.bad(item, "must be shown with its body");
    if (body.bytes(1).length > 0) return;  // Of a device.
    const origin = body.text(10), keptSize = body.number(6);
    if (keptSize > item.leaf) return this.bad(item, "keeps more than stands before it");
    let lastSize = 0n;
    try {
      lastSize = parseCheckpoint(parseNote(body.bytes(5)).text).size;
    } catch (error) {
      if (!(error instanceof Malformed)) throw error;
    }
    this.c.ancestors.push({origin, ledger: hex(sha256(ASCII.encode(origin)).subarray(0, 16)), keptSize, lastSize,
      roster: body.bytes(11), leaf: item.leaf});
    this.seams.push({item, body});
  }

  /** The rosters of all generations hang together, from the first to the one the policy pins. */
  async checkSeams() {
    if (this.seams.length === 0) return;
    let before = await rosterOrNull(firstRoster(this.c));
    for (const {item, body} of this.seams) {
      if (before === null) return this.bad(item, "follows a generation whose roster the bundle does not show");
      const next = await rosterOrNull(body.bytes(11));
      if (next === null || !await seamHolds(body, before, next)) return this.bad(item, "does not join two generations");
      if (body.bytes(12).length === 0) {
        this.verdicts.add(4, NOTE, `${item.name} is not signed by the log key before it, which was lost`);
      }
      before = next;
    }
    const now = this.c.rosters.at(-1);
    if (keyText(before.root) !== keyText(now.root) || before.log.name !== now.log.name) {
      this.bad(this.seams.at(-1).item, "does not lead to the generation the policy names");
    }
  }

  async learnEnrol(item) {
    if (item.form !== BODY) return;  // Of a device the bundle does not speak of.
    const body = bodyOf(item), id = hex(body?.bytes(2) ?? []), key = body?.bytes(1) ?? [];
    if (id.length !== 32 || key.length !== 32) return this.bad(item, "does not name a device and its key");
    if (isOfBase(this.c, id) || this.c.devices.has(id)) {
      return this.bad(item, "enrols a device id that is already in use");
    }
    if (body.number(5) !== IMPORT && !await this.officerSigned(item, body)) {
      this.bad(item, "enrols a truck without the signature of an officer of the roster");
    }
    this.c.devices.set(id, {enrolLeafHash: item.leafHash, name: body.text(3), isImport: body.number(5) === IMPORT,
      keys: [{key, afterLeaf: item.leaf}], lastTrusted: null});
  }

  async officerSigned(item, body) {
    const {officers} = rosterAt(this.c, item.leaf);
    if (officers.size === 0 && !this.c.policy.officersRequired) return true;
    const officer = officers.get(body.text(7)), binding = body.bytes(6);
    const statement = concat(ASCII.encode("fairlead/enrol/v1\n"), body.bytes(2), body.bytes(1), binding);
    return officer !== undefined && binding.length === 32 && await verifySignature(officer.key, statement, body.bytes(8));
  }

  async learnRotate(item) {
    const body = bodyOf(item);
    const [id, oldKey, newKey, oldSignature, newSignature] = [1, 2, 3, 4, 5].map((field) => body?.bytes(field) ?? []);
    if (id.length !== 16 || oldKey.length !== 32 || newKey.length !== 32 || oldSignature.length !== 64 ||
        newSignature.length !== 64) {
      return this.bad(item, "must be shown with its body and both signatures");
    }
    const device = this.c.devices.get(hex(id));
    if (!device) return;  // Not a device of this bundle.
    const message = concat(ASCII.encode("fairlead/rotate/v1\n"), id, oldKey, newKey);
    if (!same(device.keys.at(-1).key, oldKey) || !await verifySignature(oldKey, message, oldSignature) ||
        !await verifySignature(newKey, message, newSignature)) {
      return this.bad(item, "is not signed by the old and the new key");
    }
    device.keys.push({key: newKey, afterLeaf: item.leaf});
  }

  learnRevoke(item) {
    const body = bodyOf(item), id = hex(body?.bytes(1) ?? []);
    if (id.length !== 32) return this.bad(item, "must be shown with its body");
    const device = this.c.devices.get(id);
    if (!device) return;
    const place = [body.number(3), body.number(4)];
    if (device.lastTrusted === null || comparePlaces(place, device.lastTrusted) < 0) device.lastTrusted = place;
    for (const other of this.c.items) {
      if (other.header.device === id && comparePlaces(placeOf(other.header), device.lastTrusted) > 0) {
        other.quarantined = true;
      }
    }
  }
}

function rosterOfEpoch(c, epoch) {
  if (epoch === c.ancestors.length + 1) return c.bundle.roster;
  return epoch === 1 ? firstRoster(c) : c.ancestors[epoch - 2]?.roster ?? null;
}

/** What seq 1 must name as its prev; null when the bundle does not tell. */
function genesisFor(c, header) {
  const of = (anchor) => sha256(GENESIS_LABEL, anchor);
  const staff = staffRoster(c, header.device);
  if (staff) {
    // Each generation is an epoch of the base's own chains, rooted in its roster.
    // A key that a later roster brought is rooted in that one.
    if (c.ancestors.length === 0 || staff !== c.rosters[0]) return of(staff.fingerprint);
    const note = rosterOfEpoch(c, header.epoch);
    return note && of(sha256(note));
  }
  if (header.epoch === 1) {
    const device = c.devices.get(header.device);
    return device ? of(device.enrolLeafHash) : null;
  }
  for (const item of c.items) {
    const body = item.header.kind === K.RESTORE ? bodyOf(item) : null;
    if (body && hex(body.bytes(1)) === header.device && body.number(2) === BigInt(header.epoch)) return of(item.leafHash);
  }
  return null;
}

function checkChain(c, chain, verdicts) {
  const wrong = (words) => verdicts.add(5, DISPROVEN, words), first = chain[0];
  if (first.header.seq === 1n) {
    const genesis = genesisFor(c, first.header);
    if (!genesis) verdicts.add(5, UNKNOWN, `${first.name} begins a chain the bundle does not root`);
    else if (!same(genesis, first.header.prev)) wrong(`${first.name} does not begin where its chain must`);
  } else if (isAdmin(c, first.header.device)) {
    wrong(`${first.name} is not the officer's first entry; entries before it are missing`);
  }
  for (let i = 1; i < chain.length; ++i) {
    const before = chain[i - 1], item = chain[i];
    if (item.header.seq === before.header.seq) wrong(`${item.name} has the same number as another entry`);
    else if (item.header.seq !== before.header.seq + 1n) {
      wrong(`${item.name} does not follow: entries between number ${before.header.seq} and ${item.header.seq} ` +
        "of its device are missing");
    } else if (!same(item.header.prev, sha256(CHAIN_LABEL, before.entry))) {
      wrong(`${item.name} does not link to the entry before it`);
    } else if (item.leaf <= before.leaf) {
      wrong(`${item.name} stands in the log before its predecessor`);
    }
  }
}

function checkChains(c, verdicts) {
  const chains = new Map();
  for (const item of c.items) {
    const key = `${item.header.device} ${item.header.epoch}`;
    if (!chains.has(key)) chains.set(key, []);
    chains.get(key).push(item);
  }
  for (const chain of chains.values()) {
    chain.sort((a, b) => a.header.seq < b.header.seq ? -1 : a.header.seq > b.header.seq ? 1 : 0);
    checkChain(c, chain, verdicts);
  }
  if (!verdicts.failed(5)) verdicts.add(5, GOOD, `no link is missing in ${chains.size} chains`);
}
