#include "daemon/desk/feed.h"

#include <fmt/format.h>

#include "daemon/record/observation_json.h"

namespace fairlead::desk {

Result<v1::FeedLinesResponse> feed_lines(watch::Recorder& recorder,
                                         const v1::FeedLinesRequest& request) {
  if (request.line_size() > kMostFedLines || request.ByteSizeLong() > kMostFedBytes) {
    return fail(Code::kBadInput,
                fmt::format("line: at most {} lines and {} bytes a call; send the rest in another",
                            kMostFedLines, kMostFedBytes));
  }
  v1::FeedLinesResponse response;
  std::vector<v1::Observation> lines;
  for (int i = 0; i < request.line_size(); ++i) {
    const std::string& text = request.line(i);
    if (text.find_first_not_of(" \t\r\n") == std::string::npos) continue;
    auto line = record::observation_from_line(text);
    if (line) {
      lines.push_back(std::move(*line));
      continue;
    }
    const uint32_t number = request.first_line() + static_cast<uint32_t>(i);
    v1::RefusedLine& refused = *response.add_refused();
    refused.set_line_number(number);
    refused.set_words(fmt::format("{}:{}: {}", request.name(), number, line.error().message));
  }
  const auto fed = recorder.feed(lines);
  if (!fed) return std::unexpected(fed.error());
  response.set_recorded(fed->recorded);
  response.set_duplicates(fed->duplicates);
  return response;
}

}  // namespace fairlead::desk
