#include "tests/bench/chunk_floor.h"

#include "daemon/ledger/body_codec.h"
#include "daemon/ledger/sqlite/database.h"

namespace fairlead::bench {
namespace {

void put_varint(std::string& out, uint64_t value) {
  for (; value >= 0x80; value >>= 7) out += static_cast<char>(value | 0x80);
  out += static_cast<char>(value);
}

void put_deltas(std::string& out, const std::vector<int64_t>& numbers) {
  int64_t before = 0;
  for (const int64_t number : numbers) {
    const int64_t step = number - before;
    put_varint(out, (static_cast<uint64_t>(step) << 1) ^ static_cast<uint64_t>(step >> 63));
    before = number;
  }
}

}  // namespace

Result<size_t> store_chunks(const std::filesystem::path& file, const std::vector<Chunk>& chunks) {
  constexpr size_t kGroup = 64;
  auto database = ledger::Database::open(file, ledger::Access::kWriter);
  if (!database) return std::unexpected(database.error());
  const auto made = database->run(
      "CREATE TABLE chunk(id INTEGER PRIMARY KEY, series INTEGER NOT NULL, from_us INTEGER NOT "
      "NULL, "
      "bytes BLOB NOT NULL) STRICT; CREATE INDEX chunk_by_time ON chunk(series, from_us)");
  if (!made) return std::unexpected(made.error());
  auto insert = ledger::Statement::prepare(
      *database, "INSERT INTO chunk(series, from_us, bytes) VALUES(?,?,?)");
  if (!insert) return std::unexpected(insert.error());
  ledger::BodyCodec codec;
  std::string plain, packed;
  size_t values = 0;
  for (size_t i = 0; i < chunks.size(); ++i) {
    if (i % kGroup == 0) {
      if (const auto begun = database->run("BEGIN"); !begun) return std::unexpected(begun.error());
    }
    plain.clear();
    put_deltas(plain, chunks[i].time_us);
    put_deltas(plain, chunks[i].value);
    (void)codec.pack(plain, packed);
    insert->start().bind(chunks[i].series).bind(chunks[i].time_us.front()).bind_blob(packed);
    if (const auto put = insert->run(); !put) return std::unexpected(put.error());
    values += chunks[i].value.size();
    if (i % kGroup == kGroup - 1 || i + 1 == chunks.size()) {
      if (const auto done = database->run("COMMIT"); !done) return std::unexpected(done.error());
    }
  }
  return values;
}

}  // namespace fairlead::bench
