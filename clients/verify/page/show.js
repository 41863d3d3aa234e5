// What the reader does and sees: files in, verdict out. Every text of a file goes in as text, never as
// markup.
const LARGEST = 2 ** 31 - 1;
const SENTENCES = {
  0: ["proven", "\u2713 PROVEN and countersigned", "This is the record as it was signed: nothing in it was " +
    "changed and nothing of the job is missing."],
  1: ["notes", "\u2713 PROVEN, with notes", "Nothing in this record was changed since it was signed; what it " +
    "lacks stands in the notes."],
  2: ["refused", "\u2717 DISPROVEN", "This is not the record that was signed, or part of it is missing or altered. " +
    "Do not rely on it."],
  3: ["refused", "\u2717 MALFORMED", "This file cannot be read as a bundle of the record, so it proves nothing. " +
    "Ask for it again."],
  4: ["refused", "? NOT DECIDED", "A key or the policy is unknown, so nothing is proven until that is cleared up."],
};
// What an adjuster looks for first.
const ORDER = ["deviated", "unproven", "met"];
const rank = ({verdict}) => (ORDER.indexOf(verdict) + ORDER.length + 1) % (ORDER.length + 1);
const given = {policy: null, record: null, pages: []};
const byId = (id) => document.getElementById(id);

function element(name, text, className) {
  const out = document.createElement(name);
  out.textContent = text;
  if (className) out.className = className;
  return out;
}

function trouble(words) {
  byId("trouble").textContent = words;
  byId("trouble").hidden = words === "";
}

showProgress = (words, done, total) => {
  byId("working").hidden = false;
  byId("doing").textContent = words;
  byId("bar").value = total ? done / total : 0;
};

/** The whole file, piece by piece, so that the page stays alive. */
async function readFile(file) {
  need(file.size <= LARGEST, `${file.name} is over 2 GiB, too large for a browser; use the program fairlead-verify`);
  const bytes = new Uint8Array(file.size), piece = 1 << 22;
  for (let at = 0; at < file.size; at += piece) {
    bytes.set(new Uint8Array(await file.slice(at, at + piece).arrayBuffer()), at);
    await breathe(`Reading ${file.name}`, at, file.size);
  }
  return bytes;
}

/** Puts a file where it belongs, by what it begins with. */
async function sort(file) {
  const bytes = await readFile(file);
  const begins = (text) => same(bytes.subarray(0, text.length), ASCII.encode(text));
  if (begins("FLB1")) {
    given.record = {name: file.name, bytes};
    return;
  }
  if (begins("fairlead policy") || (begins("#") && bytes.length < 65536)) {
    given.policy = {name: file.name, policy: parsePolicy(utf8(bytes))};
    return;
  }
  const bundle = isPdf(bytes) ? await bundleOfPdf(bytes) : null;
  if (bundle !== null) {
    given.record = {name: `${file.name}, the bundle attached to it`, bytes: bundle};
    return;
  }
  need(bytes.length > 0, `${file.name} is empty; fetch it again`);
  const hash = hex(await sha256Slowly(bytes, `Reading ${file.name}`));
  given.pages = given.pages.filter((pages) => pages.name !== file.name).concat({name: file.name, sha256: hash});
}

function showVerdict(verdicts) {
  const [className, word, words] = SENTENCES[verdicts.exit];
  byId("verdict").className = className;
  byId("verdict-word").textContent = word;
  byId("verdict-words").textContent = words;
  for (const [id, wanted] of [["wrong", (mark) => mark > NOTE], ["notes", (mark) => mark === NOTE]]) {
    const found = verdicts.list.filter(({mark}) => wanted(mark)), shown = found.slice(0, 6);
    byId(id).hidden = found.length === 0;
    byId(id).querySelector("ul").replaceChildren(...shown.map((verdict) => element("li", verdict.words)),
      ...(found.length > 6 ? [element("li", `and ${found.length - 6} more, in the list below`)] : []));
  }
}

function showRecord(verdicts) {
  const facts = verdicts.told.filter(({what}) => what !== "finding");
  const findings = verdicts.told.filter(({what}) => what === "finding").sort((a, b) => rank(a) - rank(b));
  byId("record").hidden = verdicts.told.length === 0;
  byId("unproven").hidden = verdicts.exit < 2;
  byId("record").querySelector("dl").replaceChildren(...facts.flatMap(({what, words}) =>
    [element("dt", what[0].toUpperCase() + what.slice(1)), element("dd", words)]));
  byId("findings").hidden = findings.length === 0;
  byId("findings").tBodies[0].replaceChildren(...findings.map(({verdict, words}) => {
    const row = document.createElement("tr");
    row.append(element("td", verdict || "?", verdict === "deviated" ? "strong" : ""), element("td", words));
    return row;
  }));
}

function showChecks(verdicts) {
  byId("checks").open = false;
  byId("checks").querySelector("tbody").replaceChildren(...verdicts.list.map(({step, mark, words}, i) => {
    const row = document.createElement("tr"), again = i > 0 && verdicts.list[i - 1].step === step;
    row.append(element("td", again ? "" : `${step} ${TITLES[step]}`), element("td", MARKS[mark], mark > NOTE ? "strong" : ""),
      element("td", words));
    return row;
  }));
}

function show(verdicts) {
  showVerdict(verdicts);
  showRecord(verdicts);
  showChecks(verdicts);
  byId("answer").hidden = false;
  byId("answer").focus();
}

function showGiven() {
  byId("policy-name").textContent = given.policy ? `${given.policy.name}: ${given.policy.policy.log.name}` : "none yet";
  byId("record-name").textContent = [given.record?.name, ...given.pages.map((pages) => `${pages.name} to compare`)]
    .filter(Boolean).join("; ") || "none yet";
}

let queue = Promise.resolve();
function take(files) {
  queue = queue.then(() => work([...files])).catch((error) => {
    trouble(`This page failed: ${error.message}. Please report it, and use fairlead-verify meanwhile.`);
  });
}

async function work(files) {
  trouble("");
  byId("answer").hidden = true;
  try {
    for (const file of files) await sort(file);
    showGiven();
    if (given.policy && given.record) {
      await chooseVerifier();
      show(await checkBundle(given.record.bytes, given.policy.policy, given.pages));
    } else if (given.record) {
      trouble("Now choose your own policy file: keys are never taken from a report.");
    } else if (given.pages.length > 0) {
      trouble(`${given.pages.at(-1).name} carries no bundle. Choose the report with its attachment, or bundle.flb.`);
    }
  } catch (error) {
    if (!(error instanceof Malformed || error instanceof Unknown)) throw error;
    trouble(error.message);
  } finally {
    byId("working").hidden = true;
  }
}

for (const id of ["policy-file", "record-file"]) {
  byId(id).addEventListener("change", (event) => take(event.target.files));
}
document.addEventListener("dragover", (event) => {
  event.preventDefault();
  document.body.classList.add("dropping");
});
for (const end of ["dragleave", "drop"]) {
  document.addEventListener(end, () => document.body.classList.remove("dropping"));
}
document.addEventListener("drop", (event) => {
  event.preventDefault();
  take(event.dataTransfer.files);
});
