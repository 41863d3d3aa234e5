#include "daemon/log_line.h"

#include <cstdio>

namespace fairlead {

void log_line(const std::string& words) {
  const std::string line = "fairleadd: " + words + "\n";
  // One write a line, so that lines of several threads do not mix.
  std::fwrite(line.data(), 1, line.size(), stderr);
}

}  // namespace fairlead
