// Checking proofs: the loops of RFC 9162 2.1.3.2 and 2.1.4.2, names as there.
const NODE = Uint8Array.of(1), LEAF = Uint8Array.of(0);

function nodeHash(left, right) {
  return sha256(NODE, left, right);
}

function areHashes(...hashes) {
  return hashes.length <= 66 && hashes.every((hash) => hash.length === 32);
}

function verifyInclusion(index, size, leafHash, proof, root) {
  if (index >= size || !areHashes(leafHash, root, ...proof)) return false;
  let fn = index, sn = size - 1n, r = leafHash;
  for (const p of proof) {
    if (sn === 0n) return false;
    if (fn & 1n || fn === sn) {
      r = nodeHash(p, r);
      while (!(fn & 1n) && fn !== 0n) {
        fn >>= 1n;
        sn >>= 1n;
      }
    } else {
      r = nodeHash(r, p);
    }
    fn >>= 1n;
    sn >>= 1n;
  }
  return sn === 0n && same(r, root);
}

function verifyConsistency(from, fromRoot, to, toRoot, proof) {
  if (from === 0n || from > to || !areHashes(fromRoot, toRoot, ...proof)) return false;
  if (from === to) return proof.length === 0 && same(fromRoot, toRoot);
  if (proof.length === 0) return false;
  // A whole subtree is not in the proof: it is the old root.
  const rest = (from & from - 1n) === 0n ? [fromRoot, ...proof] : [...proof];
  let fr = rest.shift(), sr = fr, fn = from - 1n, sn = to - 1n;
  while (fn & 1n) {
    fn >>= 1n;
    sn >>= 1n;
  }
  for (const c of rest) {
    if (sn === 0n) return false;
    if (fn & 1n || fn === sn) {
      fr = nodeHash(c, fr);
      sr = nodeHash(c, sr);
      while (!(fn & 1n) && fn !== 0n) {
        fn >>= 1n;
        sn >>= 1n;
      }
    } else {
      sr = nodeHash(sr, c);
    }
    fn >>= 1n;
    sn >>= 1n;
  }
  return sn === 0n && same(fr, fromRoot) && same(sr, toRoot);
}
