#include "clients/cli/offline_ledger.h"

#include <sstream>

#include "daemon/base/key_file.h"
#include "daemon/record/commitment.h"
#include "daemon/record/leaf.h"
#include "daemon/record/roster.h"
#include "fairlead/v1/intake_service.pb.h"

namespace fairlead::cli {
namespace {

namespace fs = std::filesystem;

constexpr size_t kLongestFile = 256 * 1024;

Result<ledger::OfflineLedger> base_of(const fs::path& data, const std::string& note) {
  const auto roster = record::open_roster(note);
  if (!roster) return fail_at((data / "roster.note").string() + ": ", roster.error());
  ledger::OfflineLedger out;
  out.log = roster->log;
  out.head_file = data / "head.note";
  const Hash genesis = record::genesis_of(sha256(note));
  for (const auto* keys : {&roster->admins, &roster->services}) {
    for (const record::RosterKey& own : *keys)
      out.own.push_back({own.device_id, 1, own.key.key, genesis});
  }
  return out;
}

// device.pub is one line: "fairlead-device-v1 NAME ID KEY".
Result<ledger::OfflineLedger> truck_of(const fs::path& data, const std::string& bytes) {
  v1::Enrolment enrolment;
  if (!enrolment.ParseFromString(bytes) || enrolment.leaf_data().size() != record::kLeafDataSize)
    return fail(Code::kCorrupt, (data / "enrolment").string() + ": cannot be read");
  const auto line = read_small_file(data / "device.pub", kLongestFile);
  if (!line) return std::unexpected(line.error());
  std::istringstream words(*line);
  std::string form, name, id_hex, key_text;
  words >> form >> name >> id_hex >> key_text;
  const auto id = array_of_hex<16>(id_hex, "device.pub");
  const auto key = bytes_of_base64(key_text, "device.pub");
  if (!id || !key || key->size() != 32)
    return fail(Code::kBadInput, (data / "device.pub").string() + ": cannot be read");
  ledger::ChainStart own;
  own.device_id = *id;
  own.key.bytes = *array_of<32>(*key, "device.pub");
  own.genesis = record::genesis_of(sha256({std::string_view("\0", 1), enrolment.leaf_data()}));
  ledger::OfflineLedger out;
  out.own = {own};
  return out;
}

}  // namespace

Result<ledger::OfflineLedger> offline_ledger(const fs::path& data) {
  const auto roster = read_small_file(data / "roster.note", kLongestFile);
  const auto enrolment = read_small_file(data / "enrolment", kLongestFile);
  if (!roster && !enrolment) {
    return fail(Code::kNotFound,
                data.string() +
                    ": holds neither roster.note (a base) nor enrolment (a truck); "
                    "name the data folder of a daemon");
  }
  auto found = roster ? base_of(data, *roster) : truck_of(data, *enrolment);
  if (found) found->folder = data / "ledger";
  return found;
}

}  // namespace fairlead::cli
