// A truck's batch as it comes off the wire, past its signatures: a header is read or refused with a
// reason, a body counts only where it is the one committed to, and the lines it gives are sane.

#include "daemon/record/commitment.h"
#include "daemon/record/entry.h"
#include "daemon/record/observation_check.h"
#include "daemon/record/packer.h"
#include "fairlead/v1/intake_service.pb.h"
#include "fairlead/v1/record.pb.h"
#include "tests/fuzz/target.h"

namespace fairlead::fuzz {

v1::SentEntry sent(record::Kind kind, const std::string& body) {
  static const auto secret = SecretKey::from_seed(std::string(32, 's'));
  record::EntryHeader header;
  header.kind = kind;
  record::Salt salt{};
  require(record::bind_body(header, salt, body).has_value(), "a short body is bound");
  v1::SentEntry out;
  out.set_entry(string_of(record::sign_entry(header, *secret)));
  out.set_salt(string_of(salt));
  out.set_body(body);
  return out;
}

std::vector<std::string> seeds() {
  v1::Observation line;
  line.set_time("2026-03-02T10:00:00.000000Z");
  line.set_source("operator");
  line.set_seq(1);
  line.mutable_note()->set_text("It rains.");
  v1::ObservationsBody lines;
  *lines.add_observation() = line;
  v1::JobCloseBody close;
  *close.mutable_observation() = line;
  v1::EntryBatch batch;
  *batch.add_entry() = sent(record::Kind::kObservations, lines.SerializeAsString());
  *batch.add_entry() = sent(record::Kind::kJobClose, close.SerializeAsString());
  v1::RecoveredBody old;
  old.set_entry(batch.entry(0).entry());
  old.set_salt(batch.entry(0).salt());
  old.set_body(batch.entry(0).body());
  *batch.add_entry() = sent(record::Kind::kRecovered, old.SerializeAsString());
  return {batch.SerializeAsString()};
}

void take(const v1::SentEntry& sent) {
  const auto header = record::decode_header(sent.entry());
  const auto salt = array_of<16>(sent.salt(), "salt");
  if (!header) return require(!header.error().message.empty(), "a refusal says why");
  if (!salt || !record::body_matches(*header, *salt, sent.body())) return;
  const auto lines = record::observations_of(header->kind, sent.body());
  if (!lines) return require(!lines.error().message.empty(), "a refusal says why");
  for (const v1::Observation& line : *lines) {
    require(record::check_observation(line).has_value(), "lines of a body are sane");
  }
}

}  // namespace fairlead::fuzz

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  fairlead::v1::EntryBatch batch;
  if (!batch.ParseFromArray(data, static_cast<int>(size))) return 0;
  for (const auto& entry : batch.entry()) fairlead::fuzz::take(entry);
  return 0;
}
