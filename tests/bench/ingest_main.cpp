// fairlead-bench-ingest: signed entries of the reference job into a base's ledger (signature, form,
// decoding, chain, tree, SQLite FULL, acknowledgement), beside its floor, plain chunks in SQLite,
// in turns of the same minutes. Prints CPU-seconds and bytes per million values and the ratio.
//
//   fairlead-bench-ingest [--jobs N] [--strip SECONDS] [--rounds N] [--source CHECKOUT] [--tiny]
//
// Exit 1 when anything was not stored as sent; the figures themselves are never a failure.
#include <fmt/core.h>
#include <unistd.h>

#include <filesystem>

#include "daemon/ledger/sqlite/open.h"
#include "daemon/record/checkpoint.h"
#include "tests/bench/ingest_work.h"
#include "tests/bench/measure.h"
#include "tests/bench/reference_job.h"

namespace fairlead::bench {
namespace {

namespace fs = std::filesystem;

struct Figures {
  double cpu_s = 0, wall_s = 0;
  uintmax_t bytes = 0;
};

ledger::Options options_in(const fs::path& folder) {
  const auto secret = std::make_shared<const SecretKey>(SecretKey::generate());
  const auto origin = *record::origin_of("bench", 1);
  ledger::Options options;
  options.folder = folder / "ledger";
  options.head_file = folder / "head";
  options.signer = ledger::LogSigner{
      *record::make_verifier_key(origin, record::NoteKeyType::kEd25519, secret->public_key()),
      secret};
  return options;
}

Result<Figures> run_ledger(const fs::path& folder, const Work& work) {
  const auto options = options_in(folder);
  Figures figures;
  {
    auto opened = ledger::open_sqlite(options);
    if (!opened) return std::unexpected(opened.error());
    auto batches = enrol_and_sign(**opened, options.signer->log.name, work);
    if (!batches) return std::unexpected(batches.error());
    const uint64_t before = (*opened)->size();
    const Stopwatch watch;
    const auto stored = ingest(**opened, std::move(*batches));
    figures.cpu_s = watch.cpu_s();
    figures.wall_s = watch.wall_s();
    if (!stored) return std::unexpected(stored.error());
    if (*stored != work.entries || (*opened)->size() != before + work.entries) {
      return fail(Code::kInternal,
                  fmt::format("{} of {} entries were stored", *stored, work.entries));
    }
    const auto report = (*opened)->audit();
    if (!report) return std::unexpected(report.error());
    if (!report->problems.empty()) return fail(Code::kInternal, "audit: " + report->problems[0]);
  }
  figures.bytes = fs::file_size(options.folder / "ledger.db");
  return figures;
}

Result<Figures> run_floor(const fs::path& folder, const Work& work) {
  Figures figures;
  const Stopwatch watch;
  const auto stored = store_chunks(folder / "floor.db", work.chunks);
  figures.cpu_s = watch.cpu_s();
  figures.wall_s = watch.wall_s();
  if (!stored) return std::unexpected(stored.error());
  if (*stored != work.values) return fail(Code::kInternal, "the floor lost values");
  figures.bytes = fs::file_size(folder / "floor.db");
  return figures;
}

void print(const char* what, const std::vector<Figures>& rounds, size_t values) {
  std::vector<double> cpu, wall;
  for (const auto& f : rounds) {
    cpu.push_back(f.cpu_s * 1e6 / static_cast<double>(values));
    wall.push_back(static_cast<double>(values) / f.wall_s / 1e6);
  }
  fmt::print("{:7} {:.4f} CPU-s/1M values, {:.2f} M values/s wall, {:.3f} bytes/value of file\n",
             what, median(cpu), median(wall),
             static_cast<double>(rounds.back().bytes) / static_cast<double>(values));
}

double median_cpu(const std::vector<Figures>& rounds) {
  std::vector<double> cpu;
  for (const auto& f : rounds) cpu.push_back(f.cpu_s);
  return median(cpu);
}

Status run(std::span<char*> arguments) {
  const bool tiny = flag_option(arguments, "--tiny");
  const int jobs = number_option(arguments, "--jobs", tiny ? 2 : 40);
  const int strip_s = number_option(arguments, "--strip", 10);
  const int rounds = number_option(arguments, "--rounds", tiny ? 1 : 5);
  if (jobs < 1 || strip_s < 1 || rounds < 1) {
    return fail(Code::kBadInput, "--jobs, --strip and --rounds: give whole numbers from 1");
  }
  const auto said = said_lines(text_option(arguments, "--source", "."));
  if (!said) return std::unexpected(said.error());
  const auto work = make_work(*said, jobs, strip_s);
  if (!work) return std::unexpected(work.error());
  if (work->values != kValuesAJob * static_cast<size_t>(jobs)) {
    return fail(Code::kInternal,
                fmt::format("{} values packed, not {} a job", work->values, kValuesAJob));
  }
  fmt::print("{} jobs, {} values, {} entries, strips of {} s, {} rounds in turns\n", jobs,
             work->values, work->entries, strip_s, rounds);
  std::vector<Figures> ledgers, floors;
  for (int round = 0; round < rounds; ++round) {
    std::string name = (fs::temp_directory_path() / "fairlead-bench-XXXXXX").string();
    const fs::path folder = ::mkdtemp(name.data());
    const auto ours = run_ledger(folder, *work);
    const auto floor = run_floor(folder, *work);
    fs::remove_all(folder);
    if (!ours) return std::unexpected(ours.error());
    if (!floor) return std::unexpected(floor.error());
    ledgers.push_back(*ours);
    floors.push_back(*floor);
  }
  print("ledger", ledgers, work->values);
  print("floor", floors, work->values);
  fmt::print("ratio   {:.2f} times the floor's CPU\n", median_cpu(ledgers) / median_cpu(floors));
  return {};
}

}  // namespace
}  // namespace fairlead::bench

int main(int count, char** arguments) {
  const auto done = fairlead::bench::run({arguments, static_cast<size_t>(count)});
  if (done) return 0;
  fmt::print(stderr, "fairlead-bench-ingest: {}\n", done.error().message);
  return 1;
}
