// A procedure or a register file: every complaint names file, line and column; what is accepted
// judges a small job, twice the same, with bounds in order.

#include <cctype>
#include <cstdio>

#include "daemon/judge/judge.h"
#include "daemon/judge/shipped.h"
#include "daemon/record/observation_json.h"
#include "tests/fuzz/target.h"

namespace fairlead::fuzz {
namespace {

// A car rolled on, tied, driven; its negative clamp off and on.
std::vector<v1::Observation> small_job() {
  std::vector<v1::Observation> lines;
  uint32_t seq = 0;
  const auto add = [&](int second, const std::string& source, const std::string& kind) {
    const std::string time = "2026-03-02T10:" + std::to_string(10 + second / 60) + ":" +
                             (second % 60 < 10 ? "0" : "") + std::to_string(second % 60) + "Z";
    auto line = record::observation_from_line(R"({"time":")" + time + R"(","job":"j","source":")" +
                                              source + R"(","clock":"truck","seq":)" +
                                              std::to_string(++seq) + "," + kind + "}");
    require(line.has_value(), "the small job reads");
    lines.push_back(std::move(*line));
  };
  add(0, "operator",
      R"("opened":{"procedures":["p"],"vehicle":"car","truck":"t","operator":"card-1","massKg":1500,"massSdKg":20})");
  add(5, "operator", R"("rigging":{"on":true,"point":"front_eye","gear":["s"],"legsAngleDeg":60})");
  add(10, "operator", R"("vehicleMode":{"mode":"ROLLING"})");
  for (int second = 11; second < 25; ++second) {
    add(second, "gps.tag",
        R"("fix":{"latDeg":44.5,"lonDeg":-30,"speedMps":1.2,"hSdM":2.5,"speedSdMps":0.1,"mode":3})");
    add(second, "line", R"("sample":{"signal":"line.pull","value":2500})");
  }
  add(30, "operator", R"("tiedown":{"on":true,"gear":"s","wheel":"LF","path":"ACROSS"})");
  add(40, "gps.truck", R"("truckMotion":{"moving":true})");
  add(70, "operator", R"("secured":{"checked":true})");
  add(90, "operator", R"("closed":{"outcome":"SIGNED"})");
  return lines;
}

// "file:line:column: words" in every line.
bool names_places(const std::string& message, const std::string& file) {
  size_t at = 0;
  while (at < message.size()) {
    const size_t end = std::min(message.find('\n', at), message.size());
    size_t place = at + file.size();
    if (message.compare(at, file.size(), file) != 0) return false;
    for (int numbers = 0; numbers < 2; ++numbers) {
      if (place >= end || message[place++] != ':') return false;
      const size_t digits = place;
      while (place < end && std::isdigit(static_cast<unsigned char>(message[place]))) ++place;
      if (place == digits) return false;
    }
    if (place >= end || message[place] != ':') return false;
    at = end + 1;
  }
  return !message.empty();
}

}  // namespace

std::vector<std::string> seeds() {
  std::vector<std::string> all;
  for (const std::string& id : judge::shipped_procedure_ids())
    all.push_back(judge::shipped_procedure(id)->bytes);
  all.push_back(
      R"(vehicle { id: "car" mass: "1500 kg" mass_sd: "20 kg" rolling_speed: "5 km/h" point { id: "front_eye" rating: "20 kN" } }
gear { id: "s" kind: WEBBING width: "50 mm" wll: "910 kg" in_service: "2025-01-10" inspect_by: "2027-01-10" }
truck { id: "t" winch { line_speed: "6 m/min" line_rating: "17.8 kN" layer { number: 1 pull: "36 kN" length: "7.9 m" } } }
sensor { id: "cell" channel: "line.pull" sd: "1 % + 30 N" tau: "200 ms" certificate: "C" valid_until: "2026-12-31" }
)");
  return all;
}

}  // namespace fairlead::fuzz

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  using namespace fairlead;
  static const std::vector<v1::Observation> job = fuzz::small_job();
  static const judge::SourceFile usual = *judge::shipped_procedure("load");
  const judge::SourceFile file{"f.textproto", std::string(fuzz::view(data, size))};
  for (const bool procedure : {true, false}) {
    const auto rules =
        procedure ? judge::Rulebook::load({file}, {}) : judge::Rulebook::load({usual}, {file});
    if (!rules) {
      const std::string& said = rules.error().message;
      const bool placed = fuzz::names_places(said, file.name);
      if (!placed) std::fprintf(stderr, "%s\n", said.c_str());
      fuzz::require(placed, "every complaint names file, line and column");
      continue;
    }
    const auto findings = judge::judge_job(*rules, job);
    const auto again = judge::judge_job(*rules, job);
    fuzz::require(findings.size() == again.size(), "judged twice, as many findings");
    for (size_t i = 0; i < findings.size(); ++i) {
      fuzz::require(judge::finding_to_json(findings[i]) == judge::finding_to_json(again[i]),
                    "judged twice, the same bytes");
      fuzz::require((findings[i].verdict == judge::Verdict::kUnproven) ==
                        (findings[i].reason != judge::Reason::kNone),
                    "a reason exactly when unproven");
    }
  }
  return 0;
}
