// The exit code of the command that ran: a command's callback sets it, main returns it.
//
// Threads: one.
#pragma once

namespace fairlead::cli {

[[nodiscard]] inline int& exit_code() {
  static int code = 0;
  return code;
}

/// What a command's callback ends with.
inline void end_with(int code) { exit_code() = code; }

}  // namespace fairlead::cli
