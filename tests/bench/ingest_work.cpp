#include "tests/bench/ingest_work.h"

#include <condition_variable>
#include <map>
#include <mutex>

#include "daemon/base/time_text.h"
#include "daemon/record/strip.h"
#include "fairlead/v1/record.pb.h"
#include "tests/bench/reference_job.h"

namespace fairlead::bench {
namespace {

using ledger::AppendResult;
using ledger::Id16;
using ledger::SentEntry;
using record::Kind;

constexpr uint8_t kDevices = 4;
constexpr uint8_t kOfficer = 200;
constexpr size_t kBatch = 64;
constexpr size_t kWindow = 1'024;

Id16 id_of(uint8_t number) {
  Id16 id{};
  id.fill(number);
  return id;
}

std::shared_ptr<const SecretKey> key_of(uint8_t number) {
  const std::string seed(32, static_cast<char>(number));
  return std::make_shared<const SecretKey>(*SecretKey::from_seed(seed));
}

void add_chunks(const std::vector<record::StripLane>& lanes, Work& work) {
  for (const auto& lane : lanes) {
    const auto add = [&](int64_t series, const std::vector<int64_t>& value) {
      if (value.empty()) return;
      work.chunks.push_back({series, lane.time_us, value});
      work.values += value.size();
    };
    add(lane.signal == "line.pull" ? 1 : 2, lane.value);
    add(3, lane.lat_e7);
    add(4, lane.lon_e7);
    add(5, lane.speed_mmps);
    add(6, lane.h_sd_mm);
    add(7, lane.mode);
  }
}

Result<SentEntry> signed_entry(const record::PackedBody& packed, const PackedJob& job,
                               const std::string& origin, ledger::Watermark& mark,
                               const SecretKey& key) {
  SentEntry sent;
  record::EntryHeader header;
  header.kind = packed.kind;
  header.ledger_id = record::ledger_id_of(origin);
  header.device_id = mark.device_id;
  header.seq = mark.seq + 1;
  header.prev = mark.chain;
  if (!packed.job.empty()) header.job_id = job.job_id;
  sent.salt = random_array<16>();
  if (auto bound = record::bind_body(header, sent.salt, packed.body); !bound) {
    return std::unexpected(bound.error());
  }
  sent.entry = record::sign_entry(header, key);
  sent.body = packed.body;
  mark.seq = header.seq;
  mark.chain = record::chain_of(sent.entry);
  return sent;
}

Status enrol(ledger::Ledger& ledger, uint8_t device) {
  v1::EnrolBody body;
  body.set_device_id(string_of(id_of(device)));
  body.set_public_key(string_of(key_of(device)->public_key().bytes));
  body.set_kind(v1::EnrolBody::TRUCK);
  ledger::OwnEntry own;
  own.header.kind = Kind::kEnrol;
  own.header.device_id = id_of(kOfficer);
  own.body = body.SerializeAsString();
  own.key = key_of(kOfficer);
  const auto done = ledger.append_own({own}).get();
  if (!done) return std::unexpected(done.error());
  if (done->at(0).outcome == ledger::Outcome::kStored) return {};
  return fail(Code::kInternal, done->at(0).words);
}

// Counts what is under way and what came back.
class Window {
 public:
  void leave(size_t entries) {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return under_way_ + entries <= kWindow; });
    under_way_ += entries;
  }
  void back(size_t entries, const Result<std::vector<AppendResult>>& results) {
    const std::scoped_lock lock(mutex_);
    under_way_ -= entries;
    if (!results) {
      error_ = results.error();
    } else {
      for (const auto& r : *results) stored_ += r.outcome == ledger::Outcome::kStored ? 1 : 0;
    }
    changed_.notify_all();
  }
  Result<size_t> wait() {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return under_way_ == 0; });
    if (error_) return std::unexpected(*error_);
    return stored_;
  }

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  size_t under_way_ = 0, stored_ = 0;
  std::optional<Error> error_;
};

}  // namespace

Result<Work> make_work(const std::vector<v1::Observation>& said, int jobs, int strip_s) {
  Work work;
  for (int j = 0; j < jobs; ++j) {
    PackedJob job;
    job.device = static_cast<uint8_t>(1 + j % kDevices);
    const Hash id = sha256("job " + std::to_string(j));
    std::copy_n(id.begin(), job.job_id.size(), job.job_id.begin());
    record::PackerLimits limits;
    limits.strip_for_us = strip_s * 1'000'000LL;
    record::Packer packer(limits);
    const auto take = [&](std::vector<record::PackedBody> bodies) {
      for (auto& body : bodies) job.bodies.push_back(std::move(body));
    };
    const auto first_seq = static_cast<uint32_t>(1 + j / kDevices * 25'000);
    const auto lines = reference_job(said, hex_of(job.job_id), static_cast<uint32_t>(j), first_seq);
    for (const auto& line : lines) {
      const int64_t now_us = *parse_time_us(line.time());
      take(packer.due(now_us));
      auto bodies = packer.add(line, now_us);
      if (!bodies) return std::unexpected(bodies.error());
      take(std::move(*bodies));
    }
    take(packer.flush());
    for (const auto& body : job.bodies) {
      if (body.kind != Kind::kStrip) continue;
      const auto lanes = record::strip_lanes(body.body);
      if (!lanes) return std::unexpected(lanes.error());
      add_chunks(*lanes, work);
    }
    work.entries += job.bodies.size();
    work.jobs.push_back(std::move(job));
  }
  return work;
}

Result<Batches> enrol_and_sign(ledger::Ledger& ledger, const std::string& origin,
                               const Work& work) {
  const auto officer =
      ledger.start_chain({id_of(kOfficer), 1, key_of(kOfficer)->public_key(), sha256("roster")});
  if (!officer) return std::unexpected(officer.error());
  std::map<uint8_t, ledger::Watermark> marks;
  for (uint8_t device = 1; device <= kDevices; ++device) {
    if (const auto done = enrol(ledger, device); !done) return std::unexpected(done.error());
    auto mark = ledger.watermark(id_of(device));
    if (!mark) return std::unexpected(mark.error());
    marks.emplace(device, std::move(*mark));
  }
  Batches batches;
  for (const auto& job : work.jobs) {
    const auto key = key_of(job.device);
    for (size_t i = 0; i < job.bodies.size(); ++i) {
      if (i % kBatch == 0) batches.emplace_back();
      auto sent = signed_entry(job.bodies[i], job, origin, marks.at(job.device), *key);
      if (!sent) return std::unexpected(sent.error());
      batches.back().push_back(std::move(*sent));
    }
  }
  return batches;
}

Result<size_t> ingest(ledger::Ledger& ledger, Batches batches) {
  Window window;
  for (auto& batch : batches) {
    for (const auto& sent : batch) {
      const auto header = record::decode_header(sent.entry);
      if (!header) return std::unexpected(header.error());
      if (header->kind == Kind::kStrip) {
        const auto lanes = record::strip_lanes(sent.body);
        if (!lanes) return std::unexpected(lanes.error());
      } else if (const auto lines = record::observations_of(header->kind, sent.body); !lines) {
        return std::unexpected(lines.error());
      }
    }
    const size_t entries = batch.size();
    window.leave(entries);
    ledger.append(std::move(batch),
                  [&window, entries](auto results) { window.back(entries, results); });
  }
  return window.wait();
}

}  // namespace fairlead::bench
