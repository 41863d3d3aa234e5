#include "tests/unit/plan/plan_kit.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "daemon/base/time_text.h"

namespace fairlead::plan {

judge::RegisterBook fleet(const std::string& more) {
  std::vector<judge::SourceFile> files;
  for (const auto& entry : std::filesystem::directory_iterator("clients/sim/fleet")) {
    if (entry.path().extension() != ".textproto") continue;
    std::ostringstream bytes;
    bytes << std::ifstream(entry.path()).rdbuf();
    files.push_back({entry.path().string(), bytes.str()});
  }
  EXPECT_FALSE(files.empty()) << "run from the top of the repository";
  if (!more.empty()) files.push_back({"more.textproto", more});
  auto book = judge::RegisterBook::compile(files);
  EXPECT_TRUE(book) << book.error().message;
  return *book;
}

Request load_of(const std::string& vehicle, const std::string& truck) {
  Request request;
  request.vehicle = vehicle;
  request.truck = truck;
  request.gap_m = physics::exactly(3.6);
  request.at_us = *parse_date_us("2026-11-29");
  return request;
}

Plan plan_for(const judge::RegisterBook& book, const Request& request) {
  auto plan = make_plan(book, {}, request);
  EXPECT_TRUE(plan) << plan.error().message;
  return *plan;
}

const PlanCheck& check_of(const Plan& plan, const std::string& id) {
  static const PlanCheck none;
  const auto found = std::ranges::find(plan.checks, id, &PlanCheck::id);
  EXPECT_NE(found, plan.checks.end()) << "no check " << id;
  return found == plan.checks.end() ? none : *found;
}

}  // namespace fairlead::plan
