// What a misbehaving plugin does to the machine it runs on. Each is called once a turn of its loop.
//
// Threads: one, apart from the ones it starts itself.
#pragma once

#include <cstdint>
#include <memory>
#include <vector>

#include "plugins/misbehave/settings.h"

namespace fairlead::misbehave {

class Harm {
 public:
  explicit Harm(Fault fault) : fault_(fault) {}

  /// Before anything else: what signals it ignores.
  void prepare() const;
  /// Once a turn, from when it is to misbehave on. May not return.
  void turn(int64_t mono_us);
  /// While `unacked` readings wait that nobody takes.
  void while_unread(size_t unacked);
  /// With each stream.
  void connected();

 private:
  void once();
  Fault fault_;
  bool done_ = false;
  int64_t begun_us_ = 0;
  std::vector<std::unique_ptr<char[]>> taken_;
};

}  // namespace fairlead::misbehave
