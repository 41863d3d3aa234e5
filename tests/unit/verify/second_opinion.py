#!/usr/bin/python3
"""A second, independent check of a bundle: steps 1 to 11, from the byte format alone.
Shares no code with the verifier: RFC 8032, RFC 9162 and protobuf are written down anew, plain and slow.
Usage: second_opinion.py BUNDLE POLICY. Exit codes are the verifier's."""
import base64, hashlib, struct, sys
class Verdict(Exception): """Ends the check with an exit code and words."""
def need(good, code, words):
    if not good: raise Verdict(code, words)
def sha(*parts): return hashlib.sha256(b"".join(parts)).digest()
# RFC 8032 section 5.1 with affine formulas on extended coordinates (section 5.1.4).
P, L = 2**255 - 19, 2**252 + 27742317777372353535851937790883648493
D, I = -121665 * pow(121666, P - 2, P) % P, pow(2, (P - 1) // 4, P)
def add(p, q):
    a, b = (p[1] - p[0]) * (q[1] - q[0]) % P, (p[1] + p[0]) * (q[1] + q[0]) % P
    c, d = 2 * p[3] * q[3] * D % P, 2 * p[2] * q[2] % P
    e, f, g, h = b - a, d - c, d + c, b + a
    return (e * f % P, g * h % P, f * g % P, e * h % P)
def times(n, p):
    q = (0, 1, 1, 0)
    while n: q, p, n = add(q, p) if n & 1 else q, add(p, p), n >> 1
    return q
def encode(p):
    z = pow(p[2], P - 2, P)
    return (p[1] * z % P | (p[0] * z % P & 1) << 255).to_bytes(32, "little")
def decode(text):
    sign, y = divmod(int.from_bytes(text, "little"), 2**255)
    xx = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    x = pow(xx, (P + 3) // 8, P)
    x = x * I % P if (x * x - xx) % P else x
    if y >= P or (x * x - xx) % P or (x == 0 and sign): return None
    x = P - x if x & 1 != sign else x
    return (x, y, 1, x * y % P)
def low_order(p): return encode(times(8, p)) == b"\1" + bytes(31)
BASE = decode((4 * pow(5, P - 2, P) % P).to_bytes(32, "little"))
def verify(key, message, signature):
    a, r, s = decode(key), decode(signature[:32]), int.from_bytes(signature[32:], "little")
    if len(signature) != 64 or a is None or r is None or s >= L or low_order(a) or low_order(r): return False
    k = int.from_bytes(hashlib.sha512(signature[:32] + key + message).digest(), "little") % L
    return encode(add(times(s, BASE), times(k, (P - a[0], a[1], 1, P - a[3])))) == signature[:32]
# RFC 9162 2.1.3.2 and 2.1.4.2.
def fold(fn, sn, fr, sr, proof):
    for c in proof:
        if sn == 0: return None, None
        if fn & 1 or fn == sn:
            fr, sr = sha(b"\1", c, fr), sha(b"\1", c, sr)
            while not fn & 1 and fn: fn, sn = fn >> 1, sn >> 1
        else:
            sr = sha(b"\1", sr, c)
        fn, sn = fn >> 1, sn >> 1
    return (fr, sr) if sn == 0 else (None, None)
def included(at, size, leaf, proof, root): return at < size and fold(at, size - 1, leaf, leaf, proof)[1] == root
def consistent(old, old_root, new, new_root, proof):
    if old >= new or not proof: return old == new and not proof and old_root == new_root
    proof, fn, sn = [old_root] * (old & (old - 1) == 0) + proof, old - 1, new - 1
    while fn & 1: fn, sn = fn >> 1, sn >> 1
    return fold(fn, sn, proof[0], proof[0], proof[1:]) == (old_root, new_root)
class Reader:
    def __init__(self, data): self.data, self.at = data, 0
    def take(self, size):
        need(self.at + size <= len(self.data), 3, "cut off")
        self.at += size
        return self.data[self.at - size:self.at]
    def number(self, form): return struct.unpack(">" + form, self.take(struct.calcsize(form)))[0]
    def hashes(self): return [self.take(32) for _ in range(self.number("B"))]
    def more(self): return self.at < len(self.data)
def varints(data):
    value = shift = 0
    for at, byte in enumerate(data):
        value, shift = value | (byte & 127) << shift, shift + 7
        if byte < 128:
            yield value, at + 1
            value = shift = 0
def proto(data):
    out = {}  # Fields of a protobuf message: number to list of values.
    while data:
        tag, used = next(varints(data))
        value, size = next(varints(data[used:]), (0, 0)) if tag & 7 in (0, 2) else (0, 0)
        data = data[used + size:]
        size = {0: 0, 1: 8, 2: value, 5: 4}[tag & 7]
        value, data = (data[:size], data[size:]) if tag & 7 else (value, data)
        out.setdefault(tag >> 3, []).append(value)
    return out
def vkey(text):
    name, key_id, raw = text.split("+", 2)
    raw = base64.b64decode(raw)
    need(sha(name.encode(), b"\n", raw)[:4].hex() == key_id, 4, "bad key " + name)
    return {"name": name, "id": bytes.fromhex(key_id), "type": raw[0], "key": raw[1:]}
def note(data):
    text, _, lines = data.rpartition(b"\n\n")
    need(lines.endswith(b"\n"), 3, "malformed note")
    out = []
    for line in lines.decode().splitlines():
        need(line.startswith("\u2014 ") and line.count(" ") == 2, 3, "malformed signature line")
        name, raw = line.split(" ")[1:]
        decoded = base64.b64decode(raw, validate=True)
        need(base64.b64encode(decoded).decode() == raw, 3, "base64 not canonical")
        out.append((name, decoded[:4], decoded[4:]))
    return text + b"\n", out
def note_by(data, keys):  # Text of a note whose every line is by a given key and good; cosigners' names.
    text, lines = note(data)
    cosigners = set()
    need(any(name == keys[0]["name"] for name, *_ in lines), 4, "not signed by the log")
    for name, key_id, signature in lines:
        found = [k for k in keys if k["name"] == name and k["id"] == key_id]
        need(found, 4, "signed by an unknown key")
        key, message = found[0], text
        if key["type"] == 4:
            time = struct.unpack(">Q", signature[:8])[0]
            message, signature = b"cosignature/v1\ntime %d\n" % time + text, signature[8:]
            cosigners.add(name)
        need(verify(key["key"], message, signature), 2, "bad signature of " + name)
    return text, cosigners
def roster(data, pinned=None):  # Who writes, by device id; officers by name; the root; the log key.
    need(pinned is None or sha(data).hex() in pinned, 4, "unknown roster")
    lines = [line.split(" ") for line in note(data)[0].decode().splitlines()]
    staff = {bytes.fromhex(w[1]): (w[0], vkey(w[2])["key"], sha(data)) for w in lines if w[0] in ("admin", "service")}
    officers = {k["name"]: k["key"] for k in (vkey(w[1]) for w in lines if w[0] == "officer")}
    root, log = ([vkey(w[1]) for w in lines if w[0] == word] for word in ("root", "log"))
    note_by(data, root)
    return staff, officers, root, log[0]
def generations(seams, items, origin, root):  # The rosters of all generations hang together; fingerprints.
    shown = [proto(e["body"])[1][0] for e in items if e["kind"] == 64 and e["form"] == 1][:1]
    for e, body in seams:
        need(shown and body.get(6, [0])[0] <= e["leaf"], 2, "a generation that follows nothing")
        (_, _, old_root, old), (_, _, new_root, new) = roster(shown[-1]), roster(body[11][0])
        before, after = (log["name"].rpartition("/fairlead/g") for log in (old, new))
        need(old_root == new_root and before[0] == after[0] and int(before[2]) + 1 == int(after[2]) and
             body[10][0].decode() == old["name"] and len(body[9][0]) == 32, 2, "not the next generation")
        text = b"\n".join([b"fairlead/generation/v1", body[10][0], new["name"].encode(), struct.pack(
            ">Q", body.get(6, [0])[0]) + body[9][0] + sha(body[11][0])])
        need(verify(new["key"], text, body[13][0]), 2, "the new log key signs no seam")
        need(12 not in body or verify(old["key"], text, body[12][0]), 2, "the old log key signs no seam")
        shown.append(body[11][0])
    need(not seams or new_root == root and new["name"] == origin, 2, "leads to another generation")
    return [sha(data) for data in shown]
def sections(data):
    reader, out = Reader(data), {}
    need(reader.take(4) == b"FLB1", 3, "not a bundle")
    while reader.more():
        start, kind = reader.at, reader.number("B")
        need(max(out, default=0) < kind <= 9, 3, "sections out of order")
        out[kind] = reader.take(reader.number("Q"))
    need({1, 2, 3, 4, 9} <= set(out), 3, "a section is missing")
    return out, data[:start]
def entries(data):
    reader, out = Reader(data), []
    while reader.more():
        e = {"leaf": reader.number("Q"), "recv": reader.take(8), "bytes": reader.take(288)}
        e["path"], e["form"] = reader.hashes(), reader.number("B")
        need(e["form"] <= 2, 3, "unknown form")
        if e["form"] == 1: e.update(salt=reader.take(16), body=reader.take(reader.number("I")))
        b = e["bytes"]
        need(b[:4] == b"FLE1" and not any(b[5:8] + b[121:124] + b[188:192]), 3, "not an entry")
        e.update(kind=b[4], ledger=b[8:24], device=b[24:40], prev=b[56:88], job=b[168:184], seen_root=b[136:168],
                 commit=b[192:224], hash=sha(b"\0\1", b, e["recv"]))
        e["epoch"], e["seq"], e["seen"], e["body_len"] = struct.unpack(
            ">IQQI", b[40:44] + b[48:56] + b[128:136] + b[184:188])
        e["place"], e["inner"] = (e["epoch"], e["seq"]), e["kind"]
        need(not out or out[-1]["leaf"] < e["leaf"], 3, "leaves do not ascend")
        out.append(e)
    return out
def files(data):
    reader = Reader(data)
    while reader.more():
        digest = reader.take(32)
        need(sha(reader.take(reader.number("I"))) == digest, 2, "a file is not its hash")
        yield digest
def learn(e, body, devices, officers, asked, everybody, trusted, erased, lost, notes):  # What a body says of others.
    if e["kind"] == 7:
        places = zip(*([n for n, _ in varints(b"".join(body.get(field, [])))] for field in (6, 7)))
        lost |= {(e["device"], place) for place in places}
    if e["kind"] == 11:  # This device's own, signed in an earlier epoch.
        old = body[1][0]
        by = [k for k in devices[e["device"]][3] if verify(k, b"fairlead/entry/v1\n" + old[:224], old[224:])]
        need(by and old[24:40] == e["device"] and old[168:184] == e["job"] and
             old[40:44] < e["bytes"][40:44], 2, "recovered")
        e["inner"], e["inner_body"] = old[4], body.get(3, [b""])[0]
        notes.append("brought in again")
    if e["kind"] == 65:
        need(body[2][0] not in devices and body[2][0] not in everybody, 2, "enrolled twice")
        devices[body[2][0]] = [body[1][0], e["hash"], body.get(5, [0])[0], [body[1][0]]]
        need(not (officers or asked) or devices[body[2][0]][2] == 2 or verify(
            officers.get(body.get(7, [b""])[0].decode(), b"\0" * 32), b"fairlead/enrol/v1\n" +
            body[2][0] + body[1][0] + body.get(6, [b""])[0], body.get(8, [b""])[0]), 2, "no officer signed")
    if e["kind"] == 67 and body[1][0] in devices:
        device, old, new, by_old, by_new = (body[n][0] for n in range(1, 6))
        message = b"fairlead/rotate/v1\n" + device + old + new
        need(devices[device][0] == old and verify(old, message, by_old) and
             verify(new, message, by_new), 2, "not signed by both keys")
        devices[device][0], _ = new, devices[device][3].append(new)
    if e["kind"] == 66:
        trusted[body[1][0]] = min((body.get(3, [0])[0], body.get(4, [0])[0]), trusted.get(body[1][0], (2**64,)))
    if e["kind"] == 74: erased |= {leaf for leaf, _ in varints(b"".join(body.get(1, [])))}
def check(bundle, policy_text):
    policy = [line.split(" ", 1) for line in policy_text.splitlines()[1:] if line[:1] not in ("", "#")]
    keys = [vkey(v) for k, v in policy if k == "log"] + [vkey(v) for k, v in policy if k == "countersigner"]
    origin = keys[0]["name"]
    parts, sealed = sections(bundle)
    meta = proto(parts[1])
    job, opener = meta[2][0], meta[3][0]
    need(meta[1][0].decode() == origin, 4, "of another log")
    seal = origin.encode() + b"/bundle\n" + sha(sealed).hex().encode() + b"\n"
    need(note_by(parts[9], keys[:1])[0] == seal, 2, "seal")
    roots, signed, reader = {}, 0, Reader(parts[2])
    while reader.more():
        text, cosigners = note_by(reader.take(reader.number("I")), keys)
        name, size, root = text.decode().splitlines()
        need(name == origin, 2, "head of another log")
        head, head_root = int(size), base64.b64decode(root)
        roots.setdefault(head, set()).add(head_root)
        signed = head if len(cosigners) >= int(dict(policy).get("threshold", "1")) else signed
    pinned, asked = [v for k, v in policy if k == "roster"], any(k == "officers" for k, v in policy)
    staff, officers, root, _ = roster(parts[3], pinned)
    need(officers or not asked, 4, "no officers")
    devices, erased, chains, trusted, epochs, everybody, lost = {}, set(), {}, {}, {}, dict(staff), set()
    items = entries(parts[4])  # 3, 4, 7
    notes = ["not countersigned"] * any(e["leaf"] >= signed for e in items if e["device"] not in staff)
    seams = [(e, proto(e["body"])) for e in items if e["kind"] == 69 and e["form"] == 1 and 1 not in proto(e["body"])]
    past = {sha(body[10][0])[:16]: body.get(6, [0])[0] for _, body in seams}
    rosters = generations(seams, items, origin, root)
    for e in items:
        need(included(e["leaf"], head, e["hash"], e["path"], head_root), 2, "not in the tree")
        need(e["ledger"] == sha(origin.encode())[:16] or e["ledger"] in past, 2, "of another log")
        brought = roster(proto(e["body"])[1][0]) if e["kind"] == 64 and e["leaf"] else None
        need(not brought or brought[2] == root, 2, "a roster of another root")
        if brought and brought[3]["name"] == origin:
            staff, officers = roster(proto(e["body"])[1][0], pinned)[:2]
            everybody = {**staff, **everybody}
        need(e["device"] in staff or e["device"] not in everybody, 2, "no longer in the roster")
        role, key = staff.get(e["device"], ("device", devices.get(e["device"], (None,))[0]))[:2]
        need(key, 4, "unknown device")
        need((e["kind"] >= 64 and e["kind"] not in (70, 77, 79) or e["kind"] in (3, 6, 7, 9, 10)) if role == "admin"
             else e["kind"] in (70, 77, 79) if role == "service" else e["kind"] < 64, 2, "kind not allowed")
        need(verify(key, b"fairlead/entry/v1\n" + e["bytes"][:224], e["bytes"][224:]), 2, "signature")
        if e["form"] == 1:
            need(len(e["body"]) == e["body_len"] and
                 sha(b"fairlead/body/v1\n", e["salt"], e["body"]) == e["commit"], 2, "another body")
            body = proto(e["body"]) if e["kind"] >= 64 or e["kind"] in (7, 11) else {}
            learn(e, body, devices, officers, asked, everybody, trusted, erased, lost, notes)
        need(e["form"] == 1 or e["kind"] not in (64, 66, 67, 68, 69), 2, "a change of keys is withheld")
        if e["kind"] == 69 and 1 in body: epochs[body[1][0], body[2][0]] = e["hash"]
        notes += ["a fork, a restored disk, a new log"] * (e["kind"] == 69 or e["kind"] == 68 and body[1][0] == opener)
        chains.setdefault((e["device"], e["epoch"]), []).append(e)
        if e["seen"] and e["seen"] <= past.get(e["ledger"], 2**64):
            need(e["seen"] <= e["leaf"], 2, "saw the future")
            roots.setdefault(e["seen"], set()).add(e["seen_root"])
    notes += ["under a revoked key"] * any(e["place"] > trusted.get(e["device"], (2**64,)) for e in items)
    gone = {e["leaf"] for e in items if e["device"] == opener and (opener, e["place"]) in lost and
            any(seam["leaf"] < e["leaf"] for seam, _ in seams)}
    history(items, chains, everybody, devices, epochs, opener, job, erased, gone, rosters, sha(parts[3]), notes)
    return one_log(parts, items, opener, job, roots, head, head_root, notes)
def history(items, chains, staff, devices, epochs, opener, job, erased, gone, rosters, first, notes):  # 5, 6
    for (device, epoch), chain in chains.items():
        chain.sort(key=lambda e: e["seq"])
        anchor = devices[device][1] if epoch == 1 and device in devices else epochs.get((device, epoch), b"")
        if device in staff:  # Each generation is an epoch of the base's own chains.
            anchor = staff[device][2] if epoch == 1 else rosters[epoch - 1]
            anchor = rosters[0] if epoch == 1 and anchor == first and len(rosters) > 1 else anchor
        need(chain[0]["seq"] != 1 or chain[0]["prev"] == sha(b"fairlead/genesis/v1\n", anchor), 2, "genesis")
        need(chain[0]["seq"] == 1 or staff.get(device, ("",))[0] != "admin", 2, "officer's chain cut")
        for a, b in zip(chain, chain[1:]):
            need(b["seq"] == a["seq"] + 1 and b["leaf"] > a["leaf"] and
                 b["prev"] == sha(b"fairlead/chain/v1\n", a["bytes"]), 2, "a link is missing")
    own = sorted((e for e in items if (e["device"], e["job"]) == (opener, job)), key=lambda e: e["place"])
    opens, closes = ([e["place"] for e in own if e["inner"] == k] for k in (4, 5))
    need(opens and own[0]["place"] == opens[0], 2, "JOB_OPEN is not first")
    last = closes[-1] if closes else (2**64,)
    notes += ["open, or entries after the close"] * (not closes or own[-1]["place"] != last)
    for e in items:
        inside = e["device"] == opener and e["kind"] != 3 and opens[0] <= e["place"] <= last
        need(e["form"] != 0 or not (inside or e["job"] == job), 2, "a body is withheld")
        need((e["form"] == 2) == (e["leaf"] in erased) or e["form"] == 1 or e["form"] == 2 and e["leaf"] in gone, 2,
             "erased or not")
    notes += ["erased or lost bodies, or an imported job"] * (any(e["form"] == 2 for e in items) or bool(erased) or
                                                              devices[opener][2] == 2)
def one_log(parts, items, opener, job, roots, head, head_root, notes):  # 8, 11
    proofs, reader = {}, Reader(parts.get(5, b""))
    while reader.more():
        size = reader.number("Q")
        proofs[size] = reader.hashes()
        need(size in roots and size < head, 2, "a proof for no head")
    for size, root in ((size, root) for size, claims in roots.items() for root in claims):
        need(consistent(size, root, head, head_root, proofs.get(size, [])), 2, "two histories")
    present = set(files(parts.get(6, b"")))
    own = min((e for e in items if (e["device"], e["job"], e["inner"]) == (opener, job, 4)), key=lambda e: e["place"])
    pins = proto(own.get("inner_body", own.get("body", b""))).get(2, [])
    need({*proto(parts[1]).get(4, [])} <= present, 2, "the report's figures are missing")
    need(all(proto(pin)[3][0] in present for pin in pins), 2, "a file in force is withheld")
    spoken = b"".join(e.get("body", b"") for e in items if e["job"] == job)
    need(all(name.hex().encode() in spoken for name in files(parts.get(7, b""))), 2, "an attachment nobody names")
    return notes
def main():
    try:
        notes = check(open(sys.argv[1], "rb").read(), open(sys.argv[2]).read())
    except (Verdict, ValueError, KeyError, IndexError) as error:
        print(*error.args)
        return error.args[0] if isinstance(error, Verdict) else 3
    print("proven", *notes, sep="; ")
    return 1 if notes else 0
if __name__ == "__main__": sys.exit(main())
