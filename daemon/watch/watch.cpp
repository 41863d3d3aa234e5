#include "daemon/watch/watch.h"

#include <fmt/format.h>

namespace fairlead::watch {
namespace {

constexpr std::chrono::milliseconds kIdle{50};
constexpr uint64_t kTornEnd = 1'000;
constexpr uint64_t kStillOpen = UINT64_MAX;

// What instruments stream, as against words and happenings.
bool is_reading(const v1::Observation& line) {
  return line.has_sample() || line.has_fix() || line.has_alive();
}

}  // namespace

bool is_verdict(const std::string& finding_line, std::string_view verdict) {
  return finding_line.find(fmt::format("\"verdict\":\"{}\"", verdict)) != std::string::npos;
}

Watch::Watch(ledger::Ledger& ledger, WatchOptions options)
    : ledger_(ledger),
      options_(std::move(options)),
      side_(ledger),
      worker_(kIdle, [this] { run_due(); }) {
  if (!base()) return;
  ledger_.on_committed([this, post = worker_.poster()](uint64_t first, uint64_t last) {
    post([this, first, last] { see_leaves(first, last); });
  });
}

Watch::~Watch() {
  if (!base()) return;
  std::promise<void> done;
  const auto kept = done.get_future();
  if (worker_.post([&] {
        (void)side_.keep();
        done.set_value();
      })) {
    kept.wait();
  }
}

Watch::Docket& Watch::docket(const record::Id16& job) {
  Docket& docket = dockets_[job];
  docket.view.job = job;
  return docket;
}

void Watch::wake(Docket& docket, bool urgent) {
  due_.insert(docket.view.job);
  docket.urgent = docket.urgent || urgent;
}

// To be called when a job's row or, on a truck, its closing has changed.
void Watch::place(Docket& docket) {
  const ledger::JobRow& row = docket.view.row;
  const uint64_t open = docket.view.closed && !base() ? 0 : kStillOpen;
  const Span span(row.device_id, row.close_leaf.value_or(open), docket.view.job);
  if (docket.span == span) return;
  if (docket.span) spans_.erase(*docket.span);
  spans_.insert(span);
  docket.span = span;
}

Status Watch::load() {
  constexpr size_t kPage = 1'000;
  std::vector<ledger::JobRow> rows;
  for (uint64_t from = 0;;) {
    const auto page = ledger_.jobs(from, kPage);
    if (!page) return std::unexpected(page.error());
    rows.insert(rows.end(), page->begin(), page->end());
    if (page->size() < kPage) break;
    from = page->back().open_leaf + 1;
  }
  std::promise<Status> done;
  worker_.post([&] {
    for (const ledger::JobRow& row : rows) {
      if (!base() && row.close_leaf) continue;
      Docket& job = docket(row.job_id);
      job.view.row = row;
      place(job);
    }
    if (base()) {
      done.set_value(load_base());
      return;
    }
    for (auto& [id, docket] : dockets_) {
      wake(docket, false);
      if (!read_again(docket)) continue;
      place(docket);
      publish(docket, {}, {});
    }
    done.set_value({});
  });
  return done.get_future().get();
}

// A closed job whose findings are written is judged again only when something of it comes. Findings
// at the very end of the ledger may be fewer than were to be written before a crash.
Status Watch::load_base() {
  if (auto ok = load_findings(); !ok) return ok;
  const auto quarantine = Quarantine::read(ledger_);
  if (!quarantine) return std::unexpected(quarantine.error());
  for (auto& [id, docket] : dockets_) {
    const auto& close_leaf = docket.view.row.close_leaf;
    if (!close_leaf || docket.written_leaf < *close_leaf ||
        docket.written_leaf + kTornEnd >= ledger_.size())
      wake(docket, false);
    if (!read_ends(docket, *quarantine)) continue;
    publish(docket, {}, {});
  }
  return side_.load();
}

// Findings of one job mostly stand together.
Status Watch::load_findings() {
  constexpr size_t kPage = 1'000;
  Docket* of = nullptr;
  std::vector<v1::FindingBody> bodies;
  const auto take = [&] {
    if (of != nullptr) take_written(*of, bodies);
    bodies.clear();
  };
  for (uint64_t from = 0;;) {
    const auto page = ledger_.entries_of_kind(record::Kind::kFinding, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const ledger::StoredEntry& entry : *page) {
      v1::FindingBody body;
      const auto job = dockets_.find(entry.header().job_id);
      if (!body.ParseFromString(entry.body) || job == dockets_.end()) continue;
      if (&job->second != of) take();
      of = &job->second;
      of->written_leaf = entry.leaf;
      bodies.push_back(std::move(body));
    }
    if (page->size() < kPage) break;
    from = page->back().leaf + 1;
  }
  take();
  return {};
}

// Findings of a job as its entries come, the newest last; the view shows them in the order of their
// keys.
void Watch::take_written(Docket& docket, const std::vector<v1::FindingBody>& bodies) {
  std::map<std::string, std::string> lines;
  const auto known = docket.view.findings.lines();
  auto line = known.begin();
  for (const auto& [rule, written] : docket.written) lines.emplace(rule, *line++);
  for (const v1::FindingBody& body : bodies) {
    docket.written[body.rule()] = {body.revision(), sha256(body.line())};
    lines[body.rule()] = body.line();
  }
  std::vector<std::string> shown;
  for (auto& [rule, text] : lines) shown.push_back(std::move(text));
  docket.view.findings = FindingLines(shown);
}

std::function<void(const record::Id16&, uint64_t)> Watch::body_hook() {
  return [this, post = worker_.poster()](const record::Id16& device, uint64_t seq) {
    post([this, device, seq] { see_body(device, seq); });
  };
}

void Watch::see_body(const record::Id16& device, uint64_t seq) {
  const auto mark = ledger_.watermark(device);
  if (!mark) return;
  const auto entry = ledger_.device_entries(device, mark->epoch, seq, 1, true);
  if (!entry || entry->empty()) return;
  // Outside every job nobody waits for it, but it may show work.
  if (!touch_jobs_of(device, entry->front().leaf)) side_.add_body(entry->front());
}

void Watch::line(const v1::Observation& line) {
  worker_.post([this, line] {
    see_line(line);
    // A word is judged at once; and a worker that readings stream to is never idle.
    if (!is_reading(line) || Clock::now() - looked_at_due_ >= kIdle) run_due();
  });
}

void Watch::see_leaves(uint64_t first, uint64_t last) {
  constexpr size_t kPage = 256;
  while (first <= last) {
    const auto page = ledger_.entries(first, std::min<uint64_t>(kPage, last - first + 1), false);
    if (!page || page->empty()) return;
    for (const ledger::StoredEntry& entry : *page) {
      const auto header = entry.header();
      // What was judged before may have lost its ground.
      if (header.kind == record::Kind::kRevoke) {
        for (auto& [id, job] : dockets_) wake(job, false);
      }
      if (record::is_base_kind(header.kind)) continue;
      if (is_zero(header.job_id)) {
        touch_jobs_of(header.device_id, entry.leaf);
        continue;
      }
      wake(docket(header.job_id), header.kind != record::Kind::kStrip);
    }
    first = page->back().leaf + 1;
  }
  side_.add_leaves(last);
  run_due();
}

// What a device records for no job in particular belongs to every job open there. False: none was.
bool Watch::touch_jobs_of(const record::Id16& device, uint64_t leaf) {
  bool any = false;
  // Those that ended later or are open; of a leaf just committed these are few.
  for (auto it = spans_.lower_bound({device, leaf + 1, {}}); it != spans_.end(); ++it) {
    const auto& [opener, end, job] = *it;
    if (opener != device) break;
    Docket& docket = dockets_.at(job);
    if (docket.view.row.open_leaf >= leaf) continue;
    wake(docket, false);
    any = true;
  }
  return any;
}

void Watch::see_line(const v1::Observation& line) {
  if (line.has_opened()) {
    Docket& opened = docket(job_id_of(line.job()));
    if (opened.view.name.empty()) {
      opened.view.name = line.job();
      opened.view.opened = line;
      opened.view.row.job_id = opened.view.job;
      opened.view.row.device_id = options_.device_id;
      if (options_.pins) opened.pins = options_.pins(line.opened());
      place(opened);
    }
  }
  if (line.job().empty()) {
    for (const auto& [opener, end, job] : spans_) {
      if (end == kStillOpen) take(dockets_.at(job), line);
    }
    return;
  }
  const auto known = dockets_.find(job_id_of(line.job()));
  Docket* own = known != dockets_.end() ? &known->second : reopened(line);
  if (own == nullptr || own->view.name != line.job()) return;
  take(*own, line);
  auto& closed = own->view.closed;
  if (line.has_closed() || line.has_abandoned()) closed = line;
  if (line.has_reopened()) closed.reset();
  place(*own);
}

// Truck: a line for a job.
void Watch::take(Docket& docket, const v1::Observation& line) {
  if (docket.let_go && docket.lines.empty()) docket.taken_up = Clock::now();
  docket.lines.push_back(line);
  wake(docket, !is_reading(line));
}

// Truck: the job that this line reopens, if it ended before the last start; load() passes over
// such.
Watch::Docket* Watch::reopened(const v1::Observation& line) {
  if (!line.has_reopened()) return nullptr;
  const auto row = ledger_.job(job_id_of(line.job()));
  if (!row) return nullptr;
  Docket& found = docket(row->job_id);
  found.view.row = *row;
  found.view.name = line.job();
  found.let_go = true;
  return &found;
}

std::vector<JobView> Watch::jobs() const {
  const std::lock_guard lock(mutex_);
  std::vector<JobView> out;
  for (const auto& [id, view] : views_) out.push_back(view);
  return out;
}

std::optional<JobView> Watch::job(const record::Id16& job) const {
  const std::lock_guard lock(mutex_);
  const auto it = views_.find(job);
  return it == views_.end() ? std::nullopt : std::optional(it->second);
}

uint64_t Watch::subscribe(Subscriber subscriber) {
  const std::lock_guard lock(mutex_);
  subscribers_[next_subscriber_] = std::move(subscriber);
  return next_subscriber_++;
}

void Watch::unsubscribe(uint64_t id) {
  const std::lock_guard lock(mutex_);
  subscribers_.erase(id);
}

}  // namespace fairlead::watch
