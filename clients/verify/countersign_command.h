// The commands countersign-key and countersign.
//
// Threads: one.
#pragma once

#include "clients/verify/options.h"

namespace fairlead::verifier {

[[nodiscard]] int countersign_key_command(const std::vector<std::string>& words);
[[nodiscard]] int countersign_command(const std::vector<std::string>& words);

}  // namespace fairlead::verifier
