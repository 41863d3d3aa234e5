// One line of progress for people on stderr.
//
// Threads: any.
#pragma once

#include <string>

namespace fairlead {

void log_line(const std::string& words);

}  // namespace fairlead
