// Takes the bundle out of a PDF report: the embedded file that begins with "FLB1", plain or Flate, in
// the form our own writer gives it (ISO 32000-2, 7.11.4 and 7.4.4). The pages are not looked at.
const MOST_INFLATED = 2 ** 30;
const OTHER_WAY = "; drop bundle.flb itself, which comes beside the report";

function isPdf(bytes) {
  return same(bytes.subarray(0, 5), ASCII.encode("%PDF-"));
}

function indexOfBytes(bytes, text, from) {
  const wanted = ASCII.encode(text);
  for (let at = bytes.indexOf(wanted[0], from); at >= 0; at = bytes.indexOf(wanted[0], at + 1)) {
    if (wanted.every((byte, i) => bytes[at + i] === byte)) return at;
  }
  return -1;
}

/** The stream whose dictionary holds the /EmbeddedFile at `at`; null when it is not in our form. */
function streamAt(pdf, at) {
  const latin1 = (from, to) => new TextDecoder("latin1").decode(pdf.subarray(Math.max(from, 0), to));
  const before = latin1(at - 4096, at), after = latin1(at, at + 4096);
  const end = after.indexOf("stream"), begin = before.lastIndexOf(" obj");
  if (begin < 0 || end < 0) return null;
  const dictionary = before.slice(begin) + after.slice(0, end);
  const number = (key) => {
    const found = dictionary.match(new RegExp(`${key}[ \\t\\r\\n\\f]+([0-9]+)(?![0-9])(?![ \\t\\r\\n\\f]+[0-9])`));
    return found ? Number(found[1]) : null;
  };
  const length = number("/Length"), size = number("/Size");
  const filter = dictionary.match(/\/Filter[ \t\r\n\f]*\[?[ ]*(\/[A-Za-z0-9]+)/);
  const newline = after.slice(end + 6).match(/^\r?\n/);
  if (dictionary.includes("endobj") || length === null || !newline || dictionary.includes("/DecodeParms") ||
      (filter && filter[1] !== "/FlateDecode")) return null;
  const data = at + end + 6 + newline[0].length;
  if (length > pdf.length - data) return null;
  return {raw: pdf.subarray(data, data + length), flate: filter !== null, size};
}

/** Inflated bytes, at most `most`; null for bytes that are not deflated or are cut off. */
async function inflate(raw, most, onlyBegin) {
  const chunks = [];
  let size = 0;
  const reader = new Blob([raw]).stream().pipeThrough(new DecompressionStream("deflate")).getReader();
  try {
    for (;;) {
      const {done, value} = await reader.read();
      if (done) break;
      chunks.push(value);
      size += value.length;
      if (size > most || (onlyBegin && size >= 4)) {
        reader.cancel().catch(() => {});
        return onlyBegin ? concat(...chunks) : null;
      }
    }
  } catch {
    return onlyBegin && size >= 4 ? concat(...chunks) : null;
  }
  return concat(...chunks);
}

async function holdsBundle(stream) {
  const begin = stream.flate ? await inflate(stream.raw, 4, true) : stream.raw;
  return begin !== null && same(begin.subarray(0, 4), ASCII.encode("FLB1"));
}

/** The attached bundle; null when the PDF carries none. */
async function bundleOfPdf(pdf) {
  let found = null, odd = false, seen = 0;
  for (let at = 0; (at = indexOfBytes(pdf, "/EmbeddedFile", at)) >= 0; at += 13) {
    if (!" \t\r\n\f/<>[]()".includes(String.fromCharCode(pdf[at + 13]))) continue;
    need(++seen <= 1000, "PDF: has more than 1,000 attachments" + OTHER_WAY);
    const stream = streamAt(pdf, at);
    if (stream === null) odd = true;
    else if (await holdsBundle(stream)) {
      need(found === null, "PDF: carries more than one bundle, and nobody can say which is meant" + OTHER_WAY);
      found = stream;
    }
  }
  if (found === null) {
    need(!odd, "PDF: an attachment is not stored the way our reports store it" + OTHER_WAY);
    return null;
  }
  need(Math.max(found.raw.length, found.size ?? 0) <= MOST_INFLATED, "PDF: the attached bundle is over 1 GiB" + OTHER_WAY);
  const bundle = found.flate ? await inflate(found.raw, MOST_INFLATED, false) : found.raw;
  need(bundle !== null, "PDF: the attached bundle is cut off or damaged" + OTHER_WAY);
  need(!found.flate || found.size === null || found.size === bundle.length,
    "PDF: the attached bundle has another length than the PDF says" + OTHER_WAY);
  return bundle;
}
