// A strip body: whatever decodes is encoded again to a body that decodes to the same values.

#include <google/protobuf/stubs/logging.h>

#include "daemon/record/observation_json.h"
#include "daemon/record/strip.h"
#include "tests/fuzz/target.h"

namespace fairlead::fuzz {

std::vector<std::string> seeds() {
  std::vector<v1::Observation> samples;
  for (int i = 0; i < 40; ++i) {
    const std::string time =
        "2026-03-02T10:00:0" + std::to_string(i / 10) + "." + std::to_string(i % 10) + "Z";
    const std::string seq = std::to_string(i + 1);
    const std::string start = R"({"time":")" + time + R"(","seq":)" + seq + R"(,"clock":"truck",)";
    const std::string line =
        i % 2 == 0 ? R"("source":"line","sample":{"signal":"line.pull","value":)" +
                         std::to_string(100 * i) + "}}"
                   : R"("source":"gps.tag","fix":{"latDeg":0.00001,"lonDeg":0.5,"speedMps":0.9,)"
                     R"("courseDeg":0,"hSdM":2.5,"speedSdMps":0.1,"mode":3}})";
    const auto read = record::observation_from_line(start + line);
    require(read.has_value(), "the seed lines are well formed");
    samples.push_back(*read);
  }
  const auto whole = record::encode_strip(samples);
  const auto one = record::encode_strip(std::span(samples).first(1));
  require(whole.has_value() && one.has_value(), "well-formed samples make a strip");
  return {*whole, *one};
}

}  // namespace fairlead::fuzz

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  using namespace fairlead;
  // Protobuf would print each piece of bad text it meets.
  static const auto quiet = google::protobuf::SetLogHandler(nullptr);
  static_cast<void>(quiet);
  const auto read = record::decode_strip(fuzz::view(data, size));
  if (!read || read->empty()) return 0;
  const auto body = record::encode_strip(*read);
  if (!body) return 0;  // Hostile bytes may decode to more than one strip takes.
  const auto again = record::decode_strip(*body);
  fuzz::require(again.has_value(), "what was encoded decodes");
  fuzz::require(again->size() == read->size(), "no observation is lost or added");
  return 0;
}
