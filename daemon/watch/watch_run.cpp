// The judging half of Watch; everything here runs on its worker.
#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "daemon/base/time_text.h"
#include "daemon/watch/stamp.h"
#include "daemon/watch/watch.h"

namespace fairlead::watch {
namespace {

constexpr size_t kMostRulebooks = 256;
// A truck's lines are in its ledger that long after they were told here, unless its disk hangs.
constexpr std::chrono::seconds kInLedger{1};

}  // namespace

void Watch::run_due() {
  looked_at_due_ = Clock::now();
  for (auto it = due_.begin(); it != due_.end();) {
    Docket& docket = dockets_.at(*it);
    // A long job is judged less often, so that judging never takes more than a quarter of the time.
    const auto pause = std::max<Clock::duration>(options_.at_most_every, 3 * docket.last_took);
    const auto since = Clock::now() - docket.last_run;
    const bool wait = docket.let_go && Clock::now() - docket.taken_up < kInLedger;
    if (wait || since < (docket.urgent ? docket.last_took : pause)) {
      ++it;
      continue;
    }
    it = due_.erase(it);
    run(docket);
  }
}

void Watch::run(Docket& docket) {
  const auto begun = Clock::now();
  docket.urgent = false;
  docket.last_run = begun;
  std::optional<JobRecord> record;
  if (base()) {
    auto read = read_job(ledger_, docket.view.job);
    // Lines can come before their opening is known here: an entry under a job nobody has opened.
    if (!read) return;
    record = std::move(*read);
    docket.view.row = record->row;
    place(docket);
    docket.view.name = record->name;
    docket.view.opened = record->opened;
    docket.view.bodies_missing = record->bodies_missing;
    docket.view.quarantined = record->quarantined.size();
    docket.view.recovered = record->recovered;
    docket.view.bodies_lost = record->bodies_lost;
    const v1::Observation* closed = closing_line(*record);
    docket.view.closed = closed != nullptr ? std::optional(*closed) : std::nullopt;
    if (!docket.rules) docket.pins = record->pins;
    // What was found while everything was there stands: less of the record proves nothing new.
    if (record->bodies_erased > 0 && !docket.written.empty()) {
      publish(docket, {}, {});
      return;
    }
  }
  if (docket.let_go && !take_up(docket)) return;
  find_rules(docket);
  if (!docket.rules) {
    publish(docket, {}, {});
    return;
  }
  judge::Options options;
  options.complete = docket.view.bodies_missing == 0;
  judge::Judgement judged;
  if (record) {
    docket.view.lines = record->lines.size();
    judged.findings = judge::judge_job(*docket.rules, record->lines, options);
  } else {
    judged = judge_live(docket, options);
  }
  const auto& findings = judged.findings;
  std::vector<std::string> warnings = warn(docket, judged.warnings);
  docket.last_took = Clock::now() - begun;
  // A closing that is quarantined is none, but what was found under it must be found anew.
  const bool ended = docket.view.closed || (docket.view.quarantined > 0 && docket.view.lines > 0 &&
                                            docket.view.row.close_leaf);
  const bool complete = ended && docket.view.bodies_missing == 0;
  if (base() && complete) write_findings(docket, findings);
  publish(docket, findings, std::move(warnings));
  if (!docket.view.closed) return;
  docket.rules.reset();  // Found again should something of it come.
  docket.live.reset();
  docket.let_go = !base();
}

// A truck takes up what has come since it last judged the job.
judge::Judgement Watch::judge_live(Docket& docket, const judge::Options& options) {
  if (!docket.live) docket.live.emplace(*docket.rules);
  for (v1::Observation& line : docket.lines) docket.live->add(std::move(line));
  docket.lines.clear();
  docket.view.lines = docket.live->lines();
  return docket.live->judge(options);
}

// Something has come of a job whose lines were let go: they are read from the ledger, with those
// that belong to it since. What waited here is there too by now, or else is taken as it stands.
bool Watch::take_up(Docket& docket) {
  const auto closed = docket.view.closed;
  auto waiting = std::exchange(docket.lines, {});
  const bool read = read_again(docket);
  std::set<std::pair<std::string, uint64_t>> there;
  for (const v1::Observation& line : docket.lines) there.emplace(line.source(), line.seq());
  for (v1::Observation& line : waiting) {
    if (!there.contains({line.source(), line.seq()})) docket.lines.push_back(std::move(line));
  }
  docket.view.closed = closed;
  docket.let_go = !read;
  return read;
}

// At start of a base: how the job began and ended, without what lies between.
bool Watch::read_ends(Docket& docket, const Quarantine& quarantine) {
  const ledger::JobRow& row = docket.view.row;
  const auto opening = ledger_.entry(row.open_leaf);
  v1::JobOpenBody open;
  if (!opening || !open.ParseFromString(opening->body)) {
    if (options_.log)
      options_.log(fmt::format("job {}: its opening cannot be read", hex_of(row.job_id)));
    return false;
  }
  docket.view.name = open.observation().job();
  docket.view.opened = open.observation();
  docket.pins.assign(open.pins().begin(), open.pins().end());
  if (!row.close_leaf) return true;
  const auto closing = ledger_.entry(*row.close_leaf);
  v1::JobCloseBody close;
  // A quarantined closing is none; how much else is quarantined, judging again tells.
  if (closing && quarantine.holds(closing->header())) {
    wake(docket, false);
    return true;
  }
  if (closing && close.ParseFromString(closing->body)) docket.view.closed = close.observation();
  return true;
}

// Truck: what the ledger holds of the job.
bool Watch::read_again(Docket& docket) {
  auto record = read_job(ledger_, docket.view.job);
  if (!record) {
    if (options_.log)
      options_.log(fmt::format("job {}: {}", hex_of(docket.view.job), record.error().message));
    return false;
  }
  docket.view.name = record->name;
  docket.view.opened = record->opened;
  docket.view.lines = record->lines.size();
  docket.view.bodies_missing = record->bodies_missing;
  docket.view.quarantined = record->quarantined.size();
  docket.view.recovered = record->recovered;
  docket.view.bodies_lost = record->bodies_lost;
  if (const v1::Observation* closed = closing_line(*record)) docket.view.closed = *closed;
  docket.pins = record->pins;
  for (const v1::Observation& line : record->lines) {
    if (line.has_warning()) docket.warned.insert(line.warning().rule());
  }
  docket.lines = std::move(record->lines);
  return true;
}

void Watch::find_rules(Docket& docket) {
  if (docket.rules) return;
  std::string key;
  for (const v1::Pin& pin : docket.pins)
    key += fmt::format("{} {} {}:{}\n", static_cast<int>(pin.kind()), hex_of(pin.sha256()),
                       pin.name().size(), pin.name());  // The length, as a name may hold anything.
  if (const auto known = rulebooks_.find(key); known != rulebooks_.end()) {
    docket.rules = known->second;
    return;
  }
  const auto rules = rules_of(ledger_, docket.pins);
  if (rules) {
    docket.rules = *rules;
    if (rulebooks_.size() >= kMostRulebooks) rulebooks_.clear();
    rulebooks_.emplace(std::move(key), *rules);
    return;
  }
  if (options_.log) {
    options_.log(
        fmt::format("job {}: cannot be judged: {}", docket.view.name, rules.error().message));
  }
}

void Watch::publish(Docket& docket, const std::vector<judge::Finding>& findings,
                    std::vector<std::string> warnings) {
  JobNews news;
  if (!findings.empty()) {
    std::vector<std::string> lines;
    for (judge::Finding finding : findings) {
      const auto written = docket.written.find(judge::finding_key(finding));
      if (written != docket.written.end()) finding.revision = written->second.revision;
      lines.push_back(judge::finding_to_json(finding));
    }
    const auto before = docket.view.findings.lines();
    std::ranges::copy_if(lines, std::back_inserter(news.changed), [&](const std::string& line) {
      return std::ranges::find(before, line) == before.end();
    });
    docket.view.findings = FindingLines(lines);
  }
  JobView& view = docket.view;
  const auto shown = view.findings.lines();
  const auto count = [&](std::string_view word) {
    return static_cast<uint32_t>(std::ranges::count_if(
        shown, [&](const std::string& line) { return is_verdict(line, word); }));
  };
  view.met = count("met");
  view.deviated = count("deviated");
  view.unproven = count("unproven");
  view.settled = !shown.empty() && std::ranges::all_of(shown, [](const std::string& line) {
    return line.find("\"settled\":true") != std::string::npos;
  });
  news.view = view;
  news.warnings = std::move(warnings);
  std::vector<Subscriber> subscribers;
  {
    const std::lock_guard lock(mutex_);
    views_[view.job] = view;
    for (const auto& [id, subscriber] : subscribers_) subscribers.push_back(subscriber);
  }
  for (const Subscriber& subscriber : subscribers) subscriber(news);
}

void Watch::write_findings(Docket& docket, const std::vector<judge::Finding>& findings) {
  for (judge::Finding finding : findings) {
    const auto written = docket.written.find(judge::finding_key(finding));
    if (written != docket.written.end()) {
      finding.revision = written->second.revision;
      if (sha256(judge::finding_to_json(finding)) == written->second.line) continue;
      ++finding.revision;
    }
    v1::FindingBody body;
    body.set_job_id(string_of(docket.view.job));
    body.set_rule(judge::finding_key(finding));
    body.set_revision(finding.revision);
    body.set_line(judge::finding_to_json(finding));
    docket.written[body.rule()] = {body.revision(), sha256(body.line())};
    options_.office->write_later(record::Kind::kFinding, docket.view.job, body,
                                 [log = options_.log](const Result<ledger::AppendResult>& done) {
                                   if (!done && log)
                                     log("a finding could not be written: " + done.error().message);
                                 });
  }
}

// Each rule warns once as it comes near its limit and once when it is past it.
std::vector<std::string> Watch::warn(Docket& docket,
                                     const std::vector<judge::LiveWarning>& warnings) {
  std::vector<std::string> words;
  if (docket.view.closed) return words;
  for (const judge::LiveWarning& warning : warnings) {
    if (!docket.warned.insert(warning.rule + (warning.deviated ? "!" : "")).second) continue;
    words.push_back(fmt::format("job {}: {}: {}", docket.view.name, warning.rule, warning.words));
    if (options_.log) options_.log("WARNING " + words.back());
    if (!options_.say) continue;
    v1::Observation line;
    line.set_time(format_time_us(docket.live->newest_us()));
    line.set_job(docket.view.name);
    line.set_source("truck");
    line.mutable_warning()->set_rule(warning.rule);
    options_.say(std::move(line));
  }
  return words;
}

}  // namespace fairlead::watch
