// A truck's hello: its form, and that the caller holds the key it names.
//
// Threads: pure functions.
#pragma once

#include <string>

#include "daemon/base/result.h"
#include "fairlead/v1/intake_service.pb.h"

namespace fairlead::intake {

/// The bytes a hello signs: "fairlead/hello/v1\n" || device_id || epoch || last_seq || last_chain.
[[nodiscard]] std::string hello_text(const v1::Hello& hello);

/// Errors: kBadInput naming the field.
[[nodiscard]] Status check_hello(const v1::Hello& hello);

}  // namespace fairlead::intake
