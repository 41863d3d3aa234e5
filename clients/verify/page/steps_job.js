// Steps 6 to 11: nothing of the job is withheld, bodies and files are the ones signed for, one history,
// and what a reader must know although nothing is wrong.
function checkJobEnds(c, verdicts) {
  if (!c.job) {
    verdicts.add(6, DISPROVEN, "the job's JOB_OPEN is not in the bundle");
    return;
  }
  const own = c.items.filter(({header}) => header.job === c.job.id && header.device === c.job.device);
  for (const item of own) {
    if (comparePlaces(placeOf(item.header), c.job.open) < 0) {
      verdicts.add(6, DISPROVEN, `${item.name} of the job comes before its JOB_OPEN`);
    }
  }
  const opens = own.filter((item) => kindInJob(item) === K.JOB_OPEN).length;
  const after = own.filter(({header}) => c.job.close && comparePlaces(placeOf(header), c.job.close) > 0).length;
  if (opens > 1) verdicts.add(6, NOTE, `the job was opened ${opens} times`);
  if (!c.job.close) verdicts.add(6, NOTE, "the job is still open");
  if (after > 0) verdicts.add(6, NOTE, `${after} entries of the job come after its JOB_CLOSE`);
  const shown = c.items.filter(({header}) => mustShowBody(header, c.job));
  for (const item of shown) {
    if (item.form === BARE) verdicts.add(6, DISPROVEN, `${item.name} belongs to the job, but its body is withheld`);
  }
  if (!verdicts.failed(6)) verdicts.add(6, GOOD, `nothing withheld of the job's ${shown.length} entries`);
}

/** "epoch/seq" of the job's device whose bodies it says nobody holds: its base had lost them with its disk. */
function lostPlaces(c) {
  const lost = new Set();
  for (const item of c.items) {
    if (item.header.kind !== K.GAP || !item.signedWell || !c.job || item.header.device !== c.job.device) continue;
    const body = bodyOf(item), epochs = body ? numbersOf(body, 6) : [], seqs = body ? numbersOf(body, 7) : [];
    for (let i = 0; i < Math.min(epochs.length, seqs.length); ++i) lost.add(`${epochs[i]}/${seqs[i]}`);
  }
  return lost;
}

async function checkBodies(c, verdicts) {
  const erased = new Set();
  for (const item of c.items) {
    const body = item.header.kind === K.ERASE && item.signedWell ? bodyOf(item) : null;
    if (body) for (const leaf of numbersOf(body, 1)) erased.add(leaf);
  }
  const lost = lostPlaces(c);
  let bodies = 0, gone = 0;
  for (const [i, item] of c.items.entries()) {
    const named = erased.has(item.leaf), {device, epoch, seq} = item.header;
    // Only what came in again after a seam can have been lost with the base's disk.
    const isLost = item.form === ERASED && !named && c.job && device === c.job.device &&
      lost.has(`${epoch}/${seq}`) && c.ancestors.some((seam) => seam.leaf < item.leaf);
    if (isLost) ++gone;
    if (item.form === ERASED && !named && !isLost) verdicts.add(7, DISPROVEN, `${item.name} is called erased, but no ERASE entry names it`);
    if (item.form === BARE && named) verdicts.add(7, DISPROVEN, `${item.name} was erased, but is not called so`);
    if (item.form !== BODY) continue;
    item.bound = bodyMatches(item);
    if (!item.bound) verdicts.add(7, DISPROVEN, `${item.name} has another body than the one signed for`);
    ++bodies;
    await breathe("Comparing bodies", i, c.items.length);
  }
  if (gone > 0) verdicts.add(7, NOTE, `${gone} bodies are lost: the base lost its disk, and its truck had freed them`);
  if (!verdicts.failed(7)) verdicts.add(7, GOOD, `${bodies} bodies are the ones signed for`);
}

/** What a generation before this one had, and this log does not keep. */
function showLost(c, lost, verdicts) {
  for (const {origin, keptSize, lastSize} of c.ancestors) {
    const seen = lost.get(origin) ?? 0n, most = seen > lastSize ? seen : lastSize;
    if (most <= keptSize) continue;
    verdicts.add(8, NOTE, `of ${origin} a head of ${most} entries was known, of which this log keeps the first ${keptSize}; ` +
      `what the trucks did not send again of the other ${most - keptSize} is missing` +
      (most > lastSize ? ", and the owner named a smaller head" : ""));
  }
}

function checkSeenHeads(c, verdicts) {
  const roots = new Map();
  const claim = (size, root) => {
    if (!roots.has(size)) roots.set(size, new Map());
    roots.get(size).set(hex(root), root);
  };
  const own = hex(sha256(ASCII.encode(c.origin)).subarray(0, 16));
  const lost = new Map();  // Largest head seen of what is gone, by origin.
  for (const item of c.items) {
    const {header} = item;
    if (header.seenSize === 0n) continue;
    if (header.ledger !== own) {
      const ancestor = c.ancestors.find(({ledger}) => ledger === header.ledger);
      if (!ancestor) {
        verdicts.add(8, DISPROVEN, `${item.name} names a log that is neither this one nor one it continues`);
        continue;
      }
      if (header.seenSize > ancestor.keptSize) {
        if (header.seenSize > (lost.get(ancestor.origin) ?? 0n)) lost.set(ancestor.origin, header.seenSize);
        continue;
      }
    }
    if (header.seenSize > item.leaf) verdicts.add(8, DISPROVEN, `${item.name} had seen a head that is younger than it`);
    claim(header.seenSize, header.seenRoot);
  }
  showLost(c, lost, verdicts);
  for (const head of c.heads) claim(head.size, head.root);
  const proofs = new Map();
  for (const {size, proof} of c.bundle.consistency) {
    proofs.set(size, proof);
    if (!roots.has(size) || size >= c.head.size) verdicts.add(8, DISPROVEN, `a proof for size ${size} belongs to no head`);
  }
  for (const [size, claims] of roots) {
    if (size === 0n) continue;
    for (const root of claims.values()) {
      if (verifyConsistency(size, root, c.head.size, c.head.root, proofs.get(size) ?? [])) continue;
      verdicts.add(8, DISPROVEN, `the head over ${size} leaves is not shown to be a beginning of the last head`);
    }
  }
  if (!verdicts.failed(8)) verdicts.add(8, GOOD, `${roots.size} heads belong to one history`);
}

function oddityWords(c, item) {
  const {kind, device} = item.header, ofDevice = device === c.job.device;
  const body = [K.FORK, K.GAP, K.HOLD, K.HOLD_END].includes(kind) ? bodyOf(item) : null;
  if (kind === K.FORK && body && hex(body.bytes(1)) === c.job.device) {
    return [NOTE, `two different entries exist under number ${body.number(3)} of the job's device (${item.name})`];
  }
  if (kind === K.RESTORE) {
    const restored = bodyOf(item);
    if (restored && restored.bytes(1).length === 0) {
      return [NOTE, `a new generation of the log begins at leaf ${item.leaf}, after ${restored.text(10)}: ${restored.text(7)}`];
    }
  }
  if (kind === K.RESTORE) return [NOTE, `a disk was restored or lost (${item.name})`];
  if (kind === K.RECOVERED && ofDevice) return [NOTE, `entries of an earlier disk were brought in again (${item.name})`];
  if (kind === K.DROP && ofDevice) return [NOTE, `the truck dropped samples for want of room (${item.name})`];
  if (kind === K.GAP && ofDevice && body && mustShowBody(item.header, c.job)) {
    return [SHOWN, `gap on ${body.text(1)}: ${body.text(2)}`];
  }
  if (kind === K.HOLD && body) return [SHOWN, `held as evidence for claim ${body.text(1)}`];
  if (kind === K.HOLD_END && body) {
    const names = body.all(2).map((name) => new TextDecoder().decode(name)).join(", ");
    return [SHOWN, `hold for claim ${body.text(1)} ended, approved by ${names}`];
  }
  return null;
}

/** Never just "missing": which entry says that they went, and under which policy. */
function showErasures(c, verdicts) {
  const erased = new Set(c.items.filter((item) => item.form === ERASED).map((item) => item.leaf));
  for (const item of c.items) {
    const body = c.job && item.header.kind === K.ERASE ? bodyOf(item) : null;
    if (!body) continue;
    const leaves = numbersOf(body, 1), here = leaves.filter((leaf) => erased.has(leaf)).length;
    const where = `erased under "${body.text(3)}" at leaf ${item.leaf}` + (body.text(4) && ` (${body.text(4)})`);
    if (here > 0) verdicts.add(9, NOTE, `${here} bodies shown here were ${where}`);
    if (leaves.length > here) verdicts.add(9, SHOWN, `${leaves.length - here} bodies of other entries were ${where}`);
  }
}

function showOddities(c, verdicts) {
  const before = verdicts.list.length;
  const count = (wanted) => c.items.filter(wanted).length;
  if (c.job) {
    for (const item of c.items) {
      const words = oddityWords(c, item);
      if (words) verdicts.add(9, ...words);
    }
  }
  const quarantined = count((item) => item.quarantined);
  const foreign = c.job ? count((item) => isForeignTo(item.header, c.job)) : 0;
  if (quarantined) verdicts.add(9, NOTE, `${quarantined} entries were made with a revoked key and count for nothing`);
  if (foreign) verdicts.add(9, SHOWN, `${foreign} entries of other devices carry the job's id; they are not judged`);
  showErasures(c, verdicts);
  const device = c.job ? c.devices.get(c.job.device) : null;
  if (device?.isImport) {
    verdicts.add(9, NOTE, `the job was fed in from a file at the base (device ${device.name}), not recorded on a truck`);
  }
  if (verdicts.list.length === before) verdicts.add(9, GOOD, "none");
}

/** Every cosigned head of the bundle, and with its leaf every HEAD_COSIGNED entry that names one. */
async function cosignedHeads(c) {
  const out = c.heads.filter(({cosigned}) => cosigned.length > 0).map(({size, cosigned}) => ({size, leaf: null, times: cosigned}));
  for (const item of c.items) {
    const body = item.header.kind === K.HEAD_COSIGNED && item.signedWell ? bodyOf(item) : null;
    if (!body) continue;
    try {
      const note = parseNote(body.bytes(1)), times = [];
      // Only heads that step 8 ties to this log's history count.
      const head = c.heads.find((one) => same(one.note.text, note.text));
      if (!head) continue;
      for (const key of c.policy.countersigners) {
        const time = await cosignedAt(note, key);
        if (time !== null && time !== undefined) times.push(time);
      }
      out.push({size: head.size, leaf: item.leaf, times});
    } catch (error) {
      if (!(error instanceof Malformed)) throw error;
    }
  }
  return out;
}

/**
 * Not before: a device that had seen a HEAD_COSIGNED entry wrote after that cosignature. Not after: a
 * cosignature on a head that covers the entry came later. As many must say so as the policy asks.
 */
function bracketOf(heads, seenSize, leaf, threshold) {
  let notBefore = null, notAfter = null;
  for (const head of heads) {
    if (head.times.length < threshold) continue;
    const times = [...head.times].sort((a, b) => a < b ? -1 : a > b ? 1 : 0);
    const latest = times[threshold - 1], earliest = times[times.length - threshold];
    if (head.size > leaf && (notAfter === null || latest < notAfter)) notAfter = latest;
    if (head.leaf !== null && head.leaf < seenSize && (notBefore === null || earliest > notBefore)) notBefore = earliest;
  }
  return [notBefore, notAfter].map((time) => time === null ? "unknown" : timeText(time * 1_000_000n));
}

async function showBrackets(c, verdicts) {
  if (!c.job) return;
  const heads = await cosignedHeads(c), own = hex(sha256(ASCII.encode(c.origin)).subarray(0, 16));
  for (const item of c.items) {
    if (item.header.device !== c.job.device) continue;
    const place = placeOf(item.header), opens = comparePlaces(place, c.job.open) === 0;
    if (!opens && !(c.job.close && comparePlaces(place, c.job.close) === 0)) continue;
    const seen = item.header.ledger === own ? item.header.seenSize : 0n;
    const [before, after] = bracketOf(heads, seen, item.leaf, c.policy.threshold);
    verdicts.add(10, SHOWN, `job ${opens ? "opened" : "closed"}: not before ${before}, not after ${after}; ` +
      `the device's clock says ${timeText(item.header.wall)}`);
  }
}

/** When the files that the job pins were put on record. */
function showFiles(c, verdicts) {
  const opening = c.job && openingOf(c);
  if (!opening) return;
  for (const pin of jobPins(c)) {
    let found = null;
    for (const item of c.items) {
      const file = item.header.kind === K.REGISTER && item.signedWell ? bodyOf(item) : null;
      if (!file || file.text(1) !== pin.name || hex(sha256(file.bytes(3))) !== pin.sha256) continue;
      if (found === null || item.leaf < opening.leaf) found = item;
    }
    if (found === null) verdicts.add(10, SHOWN, `${pin.name}: the bundle does not show since when`);
    else {
      const late = found.leaf > opening.leaf;
      verdicts.add(10, late ? NOTE : SHOWN, `${pin.name}: ${late ? "put on record after" : "on record before"} the job ` +
        `was opened, at leaf ${found.leaf}; the base's clock said ${timeText(found.header.wall)}`);
    }
  }
}

function showClockSteps(c, verdicts) {
  for (const item of c.items) {
    if (!c.job || item.header.kind !== K.CLOCK || item.header.device !== c.job.device || !isInside(item.header, c.job)) continue;
    const step = bodyOf(item), time = (field) => timeText(BigInt.asIntN(64, step.number(field)));
    if (step) verdicts.add(10, SHOWN, `the device's clock, which should have said ${time(1)}, said ${time(2)} from leaf ${item.leaf} on`);
  }
}

/** Field of an observation that names an attachment, and the field of the hash in it. */
const NAMING = [[25, 3, "photo"], [26, 1, "film"], [18, 3, "statement"], [40, 2, "anchor picture"], [51, 3, "signature"]];

function linesOf(item) {
  const {kind} = item.header;
  const body = item.bound && [K.OBSERVATIONS, K.JOB_OPEN, K.JOB_CLOSE].includes(kind) ? readMessage(item.body) : null;
  return body ? body.all(1).map(readMessage).filter(Boolean) : recoveredLines(item);
}

/** A RECOVERED body holds an older entry's body word for word. */
function recoveredLines(item) {
  const body = item.bound && item.header.kind === K.RECOVERED ? readMessage(item.body) : null;
  const entry = body?.bytes(1);
  if (!entry || entry.length !== 288 || ![K.OBSERVATIONS, K.JOB_OPEN, K.JOB_CLOSE].includes(entry[4])) return [];
  return (readMessage(body.bytes(3))?.all(1) ?? []).map(readMessage).filter(Boolean);
}

function namedAttachments(c) {
  const named = new Map();
  for (const item of c.items) {
    const judged = isJudgedIn(item.header, c.job) && !item.quarantined;
    if (!judged && !isForeignTo(item.header, c.job)) continue;
    for (const line of linesOf(item)) {
      for (const [field, hashField, what] of NAMING) {
        const inner = line.has(field) ? readMessage(line.bytes(field)) : null;
        const hash = inner?.text(hashField);
        if (hash) named.set(hash, what === "photo" ? `photo ${inner.text(1)}` : what);
      }
    }
  }
  return named;
}

function openingOf(c) {
  return c.items.find((item) => kindInJob(item) === K.JOB_OPEN && item.header.device === c.job.device &&
    item.header.job === c.job.id && comparePlaces(placeOf(item.header), c.job.open) === 0);
}

function jobPins(c) {
  const opening = openingOf(c), outer = bodyOf(opening);
  const body = opening.header.kind === K.RECOVERED ? readMessage(outer?.bytes(3) ?? new Uint8Array(0)) : outer;
  return (body?.all(2) ?? []).map(readMessage).filter(Boolean)
    .map((pin) => ({name: pin.text(1), sha256: hex(pin.bytes(3))}));
}

function checkFiles(c, verdicts) {
  const present = new Set(c.bundle.files.map((file) => file.sha256)), known = new Set(jobPins(c).map((pin) => pin.sha256));
  for (const hash of known) {
    if (!present.has(hash)) verdicts.add(11, DISPROVEN, `file ${hash}, in force when the job was opened, is withheld`);
  }
  for (const item of c.items) {
    const body = item.header.kind === K.IN_FORCE ? bodyOf(item) : null;
    const pin = body ? readMessage(body.bytes(1)) : null;
    if (pin) known.add(hex(pin.bytes(3)));
  }
  if (c.meta.report && !present.has(c.meta.report)) {
    verdicts.add(11, DISPROVEN, `the report's figures (${c.meta.report}) are missing`);
  }
  known.add(c.meta.report);
  for (const hash of present) {
    if (!known.has(hash)) verdicts.add(11, NOTE, `file ${hash} is one the record does not name`);
  }
}

async function checkAttachments(c, verdicts) {
  for (const [what, files] of [["file", c.bundle.files], ["attachment", c.bundle.attachments]]) {
    for (const file of files) {
      if (hex(await sha256Slowly(file.bytes, "Reading pictures and files")) !== file.sha256) {
        verdicts.add(11, DISPROVEN, `${what} ${file.sha256} has other bytes than its hash`);
      }
    }
  }
  if (c.bundle.stamps.length > 0) {
    verdicts.add(11, SHOWN, `${c.bundle.stamps.length} RFC 3161 time stamps are not checked here; use openssl ts -verify`);
  }
  if (!c.job) return;
  checkFiles(c, verdicts);
  const named = namedAttachments(c), present = new Set(c.bundle.attachments.map((file) => file.sha256));
  let missing = 0;
  for (const [hash, what] of named) {
    if (present.has(hash)) continue;
    ++missing;
    verdicts.add(11, NOTE, `${what} ${hash} is named, but not in the bundle`);
  }
  for (const hash of present) {
    if (!named.has(hash)) verdicts.add(11, DISPROVEN, `attachment ${hash} is one no entry of the job names`);
  }
  if (!verdicts.failed(11)) {
    verdicts.add(11, GOOD, `${c.bundle.files.length} files, ${named.size - missing} of ${named.size} attachments`);
  }
}

function checkReports(c, verdicts) {
  const issued = new Set();
  let reports = 0, thisOne = false;
  for (const item of c.items) {
    const body = item.header.kind === K.REPORT_ISSUED && item.signedWell ? bodyOf(item) : null;
    if (!body) continue;
    ++reports;
    for (const field of [4, 5, 6]) if (body.bytes(field).length) issued.add(hex(body.bytes(field)));
    thisOne ||= c.meta.report !== "" && hex(body.bytes(4)) === c.meta.report;
    const claim = body.text(2) && ` for claim ${body.text(2)}`;
    verdicts.add(11, SHOWN, `a report was issued at ${timeText(BigInt.asIntN(64, body.number(7)))}${claim} (${item.name})`);
  }
  if (c.meta.report && !thisOne) {
    verdicts.add(11, SHOWN, "the bundle was made before its report was on record as issued, or for a draft");
  }
  for (const {name, sha256: hash} of c.pages) {
    if (issued.has(hash)) verdicts.add(11, GOOD, `${name} is a report file as the record says it was issued`);
    else if (hash === c.meta.report) verdicts.add(11, GOOD, `${name} holds the figures the bundle was made with`);
    else if (reports > 0) verdicts.add(11, DISPROVEN, `${name} is none of the files the record says were issued`);
    else verdicts.add(11, NOTE, `${name} cannot be compared: this bundle names no issued report; ask for a newer one`);
  }
}

function grouped(bytes) {
  return hex(bytes).match(/.{8}/g).join(" ");
}

/** What the record says, for the eye to hold beside the pages. */
function tellRecord(c, verdicts) {
  if (c.job) {
    const open = c.items.find(({header}) => header.device === c.job.device && comparePlaces(placeOf(header), c.job.open) === 0);
    const name = linesOf(open)[0]?.text(2) ?? "", device = c.devices.get(c.job.device);
    verdicts.tell("job", (name && name !== c.job.id ? `${name} (${c.job.id})` : c.job.id) +
      (device ? `, opened by ${device.name}` : "") + ` at ${timeText(open.header.wall)} by its own clock`);
  }
  for (const head of c.heads) verdicts.tell("head", `over ${head.size} entries, fingerprint ${grouped(head.root)}`);
  const findings = new Map();
  for (const item of c.items) {
    const body = item.header.kind === K.FINDING && item.signedWell ? bodyOf(item) : null;
    if (body && hex(body.bytes(1)) === c.meta.job) findings.set(body.text(3), body.text(2));
  }
  for (const rule of [...findings.keys()].sort()) {
    let line = {};
    try {
      line = JSON.parse(findings.get(rule));
    } catch {
      // Shown as it stands.
    }
    const sentence = typeof line?.sentence === "string" ? line.sentence : findings.get(rule);
    verdicts.tell("finding", sentence, line?.applies === "no" ? "not applicable" : line?.verdict);
  }
}

/** Steps 0 to 11 over a bundle's bytes; `pages` are report files by name and hash (hex). */
async function checkBundle(bytes, policy, pages = []) {
  const verdicts = new Verdicts();
  try {
    const c = await openCase(bytes, policy, pages, verdicts);
    if (c === null) return verdicts;
    await checkSeal(c, verdicts);
    await checkHeads(c, verdicts);
    await checkInclusion(c, verdicts);
    await new SignatureCheck(c, verdicts).run();
    checkCountersigned(c, verdicts);
    checkChains(c, verdicts);
    checkJobEnds(c, verdicts);
    await checkBodies(c, verdicts);
    checkSeenHeads(c, verdicts);
    showOddities(c, verdicts);
    await showBrackets(c, verdicts);
    showFiles(c, verdicts);
    showClockSteps(c, verdicts);
    await checkAttachments(c, verdicts);
    checkReports(c, verdicts);
    verdicts.add(12, SHOWN, "not done on this page: findings are shown as recorded; fairlead-verify judges them again");
    tellRecord(c, verdicts);
    verdicts.list.sort((a, b) => a.step - b.step);
  } catch (error) {
    if (!(error instanceof Malformed)) throw error;
    verdicts.add(0, MALFORMED, error.message);
  }
  return verdicts;
}
