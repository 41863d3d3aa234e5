// The bundle's form, the entry's header, and protobuf's wire form of the few bodies that are read.
const KINDS = {1: "OBSERVATIONS", 2: "STRIP", 3: "CARD", 4: "JOB_OPEN", 5: "JOB_CLOSE", 6: "CLOCK",
  7: "GAP", 8: "DROP", 9: "START", 10: "STOP", 11: "RECOVERED", 12: "IN_FORCE", 64: "ROSTER",
  65: "ENROL", 66: "REVOKE", 67: "ROTATE", 68: "FORK", 69: "RESTORE", 70: "FINDING", 71: "CLAIM",
  72: "HOLD", 73: "HOLD_END", 74: "ERASE", 75: "DISK_FULL", 76: "REPORT_ISSUED", 77: "HEAD_COSIGNED",
  78: "REGISTER", 79: "REFUSED", 80: "ORDER", 81: "ALARM"};
const K = Object.fromEntries(Object.entries(KINDS).map(([number, name]) => [name, Number(number)]));
const BARE = 0, BODY = 1, ERASED = 2;
const MOST_ENTRIES = 1_000_000;

function decodeHeader(entry, where) {
  const at = (from, size) => entry.subarray(from, from + size);
  const view = new DataView(entry.buffer, entry.byteOffset, entry.byteLength);
  const zero = (...ranges) => ranges.every(([from, size]) => at(from, size).every((byte) => byte === 0));
  const h = {
    kind: entry[4], ledger: hex(at(8, 16)), device: hex(at(24, 16)), epoch: view.getUint32(40),
    keyId: hex(at(44, 4)), seq: view.getBigUint64(48), prev: at(56, 32), wall: view.getBigInt64(88),
    seenSize: view.getBigUint64(128), seenRoot: at(136, 32), job: hex(at(168, 16)),
    bodyLength: view.getUint32(184), commit: at(192, 32),
  };
  need(same(at(0, 4), ASCII.encode("FLE1")) && KINDS[h.kind] && zero([5, 3], [121, 3], [188, 4]) &&
    entry[120] <= 3 && h.epoch > 0 && h.seq > 0n && h.bodyLength <= 61440 &&
    (h.seenSize !== 0n || zero([136, 32])), `${where}: is not an entry`);
  return h;
}

function readEntries(bytes) {
  const cursor = new Cursor(bytes, "bundle section ENTRIES"), out = [];
  while (cursor.more) {
    need(out.length < MOST_ENTRIES, "bundle section ENTRIES: more than 1,000,000");
    const item = {leaf: cursor.u64(), recv: cursor.take(8), entry: cursor.take(288), path: cursor.hashes(),
      form: cursor.u8(), salt: null, body: null, signedWell: false, quarantined: false, bound: false};
    need(item.form <= ERASED, "bundle section ENTRIES: a form is out of range");
    if (item.form === BODY) {
      item.salt = cursor.take(16);
      item.body = cursor.sized();
      need(item.body.length <= 61440, "bundle section ENTRIES: a body is over its cap");
    }
    need(out.length === 0 || out.at(-1).leaf < item.leaf, "bundle section ENTRIES: leaves do not ascend");
    item.header = decodeHeader(item.entry, `bundle section ENTRIES: record ${out.length + 1}`);
    item.name = `entry at leaf ${item.leaf} (${KINDS[item.header.kind]})`;
    out.push(item);
  }
  return out;
}

function readList(bytes, what, most, readOne, ascends) {
  const cursor = new Cursor(bytes, `bundle section ${what}`), out = [];
  while (cursor.more) {
    need(out.length < most, `bundle section ${what}: too many records`);
    out.push(readOne(cursor));
    need(out.length < 2 || !ascends || ascends(out.at(-2), out.at(-1)), `bundle section ${what}: does not ascend`);
  }
  return out;
}

function readNotes(bytes, what) {
  return readList(bytes, what, 10_000, (cursor) => {
    const note = cursor.sized();
    need(note.length <= 1_000_000, `bundle section ${what}: a record is over 1,000,000 bytes`);
    return note;
  });
}

function readFiles(bytes, what) {
  return readList(bytes, what, 100_000, (cursor) => ({sha256: hex(cursor.take(32)), bytes: cursor.sized()}),
    (a, b) => a.sha256 < b.sha256);
}

function readBundle(bytes) {
  need(same(bytes.subarray(0, 4), ASCII.encode("FLB1")), "bundle: does not begin with \"FLB1\"");
  const sections = new Map(), cursor = new Cursor(bytes, "bundle");
  cursor.at = 4;
  let sealedPart = null;
  for (let previous = 0; cursor.more;) {
    const start = cursor.at, type = cursor.u8(), length = cursor.u64();
    need(type > previous && type <= 9, `bundle: section ${type} is unknown or out of order`);
    need(length <= BigInt(bytes.length), "bundle: cut off inside a section; fetch it again");
    if (type === 9) sealedPart = bytes.subarray(0, start);
    sections.set(type, cursor.take(Number(length)));
    previous = type;
  }
  for (const type of [1, 2, 3, 4, 9]) need(sections.has(type), `bundle: section ${type} is missing`);
  const section = (type) => sections.get(type) ?? new Uint8Array(0);
  const bundle = {
    meta: section(1), heads: readNotes(section(2), "HEADS"), roster: section(3), entries: readEntries(section(4)),
    consistency: readList(section(5), "CONSISTENCY", MOST_ENTRIES,
      (cursor) => ({size: cursor.u64(), proof: cursor.hashes()}), (a, b) => a.size < b.size),
    files: readFiles(section(6), "FILES"), attachments: readFiles(section(7), "ATTACHMENTS"),
    stamps: readNotes(section(8), "STAMPS"), seal: section(9), sealedPart,
  };
  need(bundle.heads.length > 0 && bundle.entries.length > 0, "bundle: holds no head or no entry");
  need(bundle.consistency.every(({size}) => size > 0n), "bundle section CONSISTENCY: sizes do not ascend from 1");
  return bundle;
}

/** A protobuf message: its fields by number, each a list; numbers as BigInt. Null when it is not one. */
function readMessage(bytes) {
  const fields = new Map();
  let at = 0;
  const varint = () => {
    let value = 0n;
    for (let shift = 0n; shift < 70n; shift += 7n) {
      need(at < bytes.length, "a body ends inside a number");
      value |= BigInt(bytes[at] & 127) << shift;
      if (bytes[at++] < 128) return BigInt.asUintN(64, value);
    }
    throw new Malformed("a number in a body is too long");
  };
  try {
    while (at < bytes.length) {
      const tag = Number(varint()), form = tag & 7, number = tag >> 3;
      let value;
      if (form === 0) value = varint();
      else {
        const size = form === 1 ? 8 : form === 5 ? 4 : form === 2 ? Number(varint()) : -1;
        need(size >= 0 && size <= bytes.length - at && number > 0, "a field of a body is cut off");
        value = bytes.subarray(at, at + size);
        at += size;
      }
      if (!fields.has(number)) fields.set(number, []);
      fields.get(number).push(value);
    }
  } catch (error) {
    if (error instanceof Malformed) return null;
    throw error;
  }
  const last = (number) => fields.get(number)?.at(-1);
  return {
    all: (number) => fields.get(number) ?? [],
    bytes: (number) => last(number) instanceof Uint8Array ? last(number) : new Uint8Array(0),
    number: (number) => typeof last(number) === "bigint" ? last(number) : 0n,
    text: (number) => last(number) instanceof Uint8Array ? new TextDecoder().decode(last(number)) : "",
    has: (number) => fields.has(number),
    only: (most) => [...fields.keys()].every((number) => number <= most),
  };
}

/** Repeated whole numbers, packed or not. */
function numbersOf(message, field) {
  const out = [];
  for (const value of message.all(field)) {
    if (typeof value === "bigint") out.push(value);
    else {
      for (let at = 0, number = 0n, shift = 0n; at < value.length; ++at) {
        number |= BigInt(value[at] & 127) << shift;
        shift += 7n;
        if (value[at] < 128) {
          out.push(number);
          number = shift = 0n;
        }
      }
    }
  }
  return out;
}
