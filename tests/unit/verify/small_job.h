// One short job on a SmallBase: enrolment, a start, the job with a strip, a photo and a gap, an
// entry of another job after it, and the findings the judge gives.
#pragma once

#include <string>

#include "tests/unit/verify/small_base.h"

namespace fairlead {

struct SmallJob {
  explicit SmallJob(v1::EnrolBody::Kind kind = v1::EnrolBody::TRUCK);

  void open();
  void work();
  /// One more note on the truck, of a source of its own; returns its leaf.
  uint64_t chat(const std::string& words);
  void close();
  void judge();
  /// All of the above and a head.
  void run(bool cosign);
  /// With the files in force and the photo's bytes.
  [[nodiscard]] record::Bundle bundle();

  SmallBase base;
  Writer truck;
  record::Id16 id = random_array<16>();
  record::Id16 other = random_array<16>();
  uint64_t enrol_leaf = 0, open_leaf = 0, note_leaf = 0, strip_leaf = 0, close_leaf = 0,
           finding_leaf = 0;
  std::string procedure, photo;

 private:
  [[nodiscard]] v1::Observation line(int second, const std::string& source, uint32_t seq,
                                     const std::string& kind) const;
  uint64_t say(int second, uint32_t seq, const std::string& kind);

  uint32_t chats_ = 0;
};

}  // namespace fairlead
