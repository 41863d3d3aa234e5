#include "reports/json.h"

namespace fairlead::reports {

std::string json_bytes(const Json& json) {
  return json.dump(2, ' ', true, Json::error_handler_t::replace) + "\n";
}

}  // namespace fairlead::reports
