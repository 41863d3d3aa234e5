#include "reports/csv.h"

#include "reports/text.h"

namespace fairlead::reports {

std::string csv_field(std::string text) {
  const bool number = read_number(text).has_value();
  if (!text.empty() && !number && std::string("=+-@\t\r\n").find(text[0]) != std::string::npos &&
      text != "-")
    text.insert(0, "'");
  if (text.find_first_of(",\"\n\r") == std::string::npos) return text;
  std::string out = "\"";
  for (const char c : text) out += c == '"' ? std::string("\"\"") : std::string(1, c);
  return out + "\"";
}

}  // namespace fairlead::reports
