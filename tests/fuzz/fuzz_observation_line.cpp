// An observation line: whatever is accepted is written back to a line that reads back equal.

#include "daemon/record/observation_json.h"
#include "tests/fuzz/target.h"

namespace fairlead::fuzz {

std::vector<std::string> seeds() {
  const std::string common =
      R"({"time":"2026-03-02T10:00:00.25Z","job":"demo-1","source":"operator","seq":1,"clock":"truck",)";
  return {
      common +
          R"("opened":{"procedures":["load"],"vehicle":"hatch-1","truck":"t","operator":"card-3f","massKg":1500,"massSdKg":20}})",
      common + R"("photo":{"view":"wheel:LF","when":"BEFORE","sha256":")" + std::string(64, 'a') +
          R"(","mediaType":"image/jpeg"}})",
      common + R"("rigging":{"on":true,"point":"front_eye","gear":["soft-1"],"legsAngleDeg":60}})",
      common + R"("sample":{"signal":"line.pull","value":2600.5}})",
      common +
          R"("fix":{"latDeg":0.0000081,"lonDeg":0,"speedMps":0.9,"courseDeg":0,"hSdM":2.5,"speedSdMps":0.1,"mode":3}})",
      common +
          R"("tiedown":{"on":true,"gear":"strap-1","wheel":"LF","path":"SAME_SIDE","over":"TREAD"}})",
      common + R"("clamp":{"lead":"POSITIVE","on":true,"at":"VEHICLE","point":"TERMINALS"}})",
      common + R"("note":{"text":"wet, \u00e9 \ud83d\ude00"}})",
      common + R"("closed":{"outcome":"SIGNED"}})",
  };
}

}  // namespace fairlead::fuzz

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  using namespace fairlead;
  const auto read = record::observation_from_line(fuzz::view(data, size));
  if (!read) {
    fuzz::require(read.error().message.find(':') != std::string::npos, "a refusal names its field");
    return 0;
  }
  const std::string line = record::observation_to_line(*read);
  const auto again = record::observation_from_line(line);
  fuzz::require(again.has_value(), "an accepted line is accepted again as written back");
  fuzz::require(record::observation_to_line(*again) == line, "written back twice, the same line");
  return 0;
}
