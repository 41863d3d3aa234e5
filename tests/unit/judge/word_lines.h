// Jobs written as words: who said what at which second. For tests in which one instant decides.
//
// Threads: pure functions.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {

/// A word of a source at a second; without a kind it has a number and never arrives.
struct Word {
  double second;
  std::string source, kind;
};
using Said = std::vector<Word>;

inline const std::string kLost;
inline const std::string kHere = R"("note":{"text":"here"})";
inline const std::string kArrived = R"("arrived":{})";
inline const std::string kChecked = R"("secured":{"checked":true})";
inline const std::string kReady = R"("driveReady":{"confirmed":true})";
constexpr double kMicro = 1e-6;

inline std::string scene(bool set) {
  return std::string(R"("scene":{"set":)") + (set ? "true}" : "false}");
}
inline std::string screen(bool awake) {
  return std::string(R"("screen":{"awake":)") + (awake ? "true}" : "false}");
}
inline std::string wheels(const char* on) {
  return std::string(R"("wheels":{"which":"ALL","on":")") + on + "\"}";
}
inline std::string truck_moving(bool moving) {
  return std::string(R"("truckMotion":{"moving":)") + (moving ? "true}" : "false}");
}
/// A receiver's speed with its s.d., in m/s.
inline std::string speed(double mps, double sd = 0) {
  return R"("fix":{"latDeg":44.5,"lonDeg":-30,"hSdM":2.5,"mode":3,"speedMps":)" +
         std::to_string(mps) + R"(,"speedSdMps":)" + std::to_string(sd) + "}";
}

/// "probe" has a clock of its own, 5 s off at most; "stray" one that nobody knows. Without an end
/// the job is open.
inline Lines lines_of(const Said& words, double end = 200) {
  Lines lines{opened_line()};
  std::map<std::string, uint32_t> seqs{{"operator", 1}};
  for (const Word& word : words) {
    const uint32_t seq = ++seqs[word.source];
    if (word.kind.empty()) continue;
    lines.push_back(line_at(word.second, word.source, seq, word.kind));
    if (word.source != "probe" && word.source != "stray") continue;
    lines.back().set_clock(word.source);
    if (word.source == "probe") lines.back().set_time_uncertainty_ms(5000);
  }
  if (end > 0) lines.push_back(closed_line(end, seqs["operator"] + 1));
  return lines;
}

inline const std::string kSet =
    "phase { id: \"set\" opens: \"scene.set.on\" closes: \"scene.set.off\" longest: \"1 h\" }\n";

inline std::string judged(const std::string& form, const Said& words, double end = 200) {
  return told(judged_form(form, lines_of(words, end), kSet));
}

}  // namespace fairlead::judge
