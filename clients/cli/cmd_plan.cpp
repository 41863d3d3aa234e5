#include "clients/cli/cmd_plan.h"

#include <fmt/format.h>

#include <chrono>
#include <fstream>
#include <iostream>
#include <memory>

#include "clients/cli/ending.h"
#include "clients/cli/text_files.h"
#include "daemon/base/nearest.h"
#include "daemon/base/time_text.h"
#include "reports/plan/plan_report.h"

namespace fairlead::cli {
namespace {

constexpr int kBadInputExit = 3;

struct Arguments {
  std::vector<std::string> registers, procedures, points, gear;
  std::string vehicle, truck, surface = "hard road", date, svg;
  std::string mode = "load", rolls = "yes", path = "same-side", rules;
  std::string ground, gap, deck, ramps, legs, mass, behind, strap_deck, strap_aside, friction;
  bool json = false, tail_first = false;
};

template <typename Word>
Result<Word> word_of(const std::string& option, const std::string& text,
                     const std::vector<std::pair<std::string_view, Word>>& words) {
  std::vector<std::string_view> known;
  for (const auto& [name, word] : words) {
    if (name == text) return word;
    known.push_back(name);
  }
  return fail(Code::kBadInput, fmt::format("{}: no '{}'; the nearest is '{}' (of {})", option, text,
                                           nearest(text, known), fmt::join(known, ", ")));
}

// A range into `into`; untouched where the option is not given.
template <typename Into>
Status read_into(const char* option, const std::string& text, Dimension dimension, Into& into) {
  if (text.empty()) return {};
  const auto range = plan::read_range(text, dimension);
  if (!range) return fail_at(std::string(option) + ": ", range.error());
  into = *range;
  return {};
}

Status read_ranges(const Arguments& a, plan::Request& request) {
  Status fine;
  const auto take = [&](const char* option, const std::string& text, Dimension dimension,
                        auto& into) {
    if (fine) fine = read_into(option, text, dimension, into);
  };
  take("--ground", a.ground, Dimension::kAngle, request.ground_deg);
  take("--gap", a.gap, Dimension::kLength, request.gap_m);
  take("--deck", a.deck, Dimension::kAngle, request.deck_deg);
  take("--ramps", a.ramps, Dimension::kAngle, request.ramp_deg);
  take("--legs", a.legs, Dimension::kAngle, request.legs_deg);
  take("--mass", a.mass, Dimension::kMass, request.mass_kg);
  take("--behind", a.behind, Dimension::kLength, request.behind_headboard_m);
  take("--strap-deck", a.strap_deck, Dimension::kAngle, request.strap_deck_deg);
  take("--strap-aside", a.strap_aside, Dimension::kAngle, request.strap_aside_deg);
  take("--friction", a.friction, Dimension::kShare, request.friction);
  return fine;
}

Result<plan::Request> request_of(const Arguments& a) {
  using plan::Mode;
  using plan::Rolls;
  using Path = physics::Path;
  plan::Request request;
  request.vehicle = a.vehicle;
  request.truck = a.truck;
  request.surface = a.surface;
  request.points = a.points;
  request.gear = a.gear;
  request.tail_first = a.tail_first;
  const auto mode = word_of<Mode>("--mode", a.mode,
                                  {{"load", Mode::kLoad},
                                   {"unload", Mode::kUnload},
                                   {"winch-out", Mode::kWinchOut},
                                   {"reposition", Mode::kReposition}});
  if (!mode) return std::unexpected(mode.error());
  const auto rolls = word_of<Rolls>(
      "--rolls", a.rolls, {{"yes", Rolls::kYes}, {"no", Rolls::kNo}, {"unknown", Rolls::kUnknown}});
  if (!rolls) return std::unexpected(rolls.error());
  const auto path = word_of<Path>(
      "--path", a.path,
      {{"direct", Path::kDirect}, {"same-side", Path::kSameSide}, {"across", Path::kAcross}});
  if (!path) return std::unexpected(path.error());
  if (!a.rules.empty()) {
    const auto rules = physics::jurisdiction_named(a.rules);
    if (!rules) return fail_at("--rules: ", rules.error());
    request.jurisdiction = *rules;
  }
  request.mode = *mode, request.rolls = *rolls, request.path = *path;
  if (auto fine = read_ranges(a, request); !fine) return std::unexpected(fine.error());
  if (a.date.empty()) {
    request.at_us = std::chrono::duration_cast<std::chrono::microseconds>(
                        std::chrono::system_clock::now().time_since_epoch())
                        .count();
    return request;
  }
  const auto day = parse_date_us(a.date);
  if (!day) return fail_at("--date: ", day.error());
  request.at_us = *day;
  return request;
}

Result<std::vector<judge::Procedure>> procedures_for(const Arguments& a, plan::Mode mode) {
  std::vector<judge::Procedure> out;
  for (const std::string& name : a.procedures.empty() ? plan::procedures_of(mode) : a.procedures) {
    const auto file = procedure_file(name);
    if (!file) return std::unexpected(file.error());
    auto procedure = judge::compile_procedure(*file);
    if (!procedure) return std::unexpected(procedure.error());
    out.push_back(std::move(*procedure));
  }
  return out;
}

Result<plan::Plan> plan_of(const Arguments& a) {
  const auto request = request_of(a);
  if (!request) return std::unexpected(request.error());
  const auto files = register_files(a.registers);
  if (!files) return std::unexpected(files.error());
  const auto book = judge::RegisterBook::compile(*files);
  if (!book) return std::unexpected(book.error());
  const auto procedures = procedures_for(a, request->mode);
  if (!procedures) return std::unexpected(procedures.error());
  return plan::make_plan(*book, *procedures, *request);
}

int run(const Arguments& a) {
  const auto plan = plan_of(a);
  if (!plan) {
    std::cerr << plan.error().message << "\n";
    return kBadInputExit;
  }
  if (!a.svg.empty()) {
    std::ofstream out(a.svg, std::ios::binary);
    out << reports::plan_drawing(*plan);
    if (!out.flush()) {
      std::cerr << a.svg << ": cannot be written; check the path\n";
      return kBadInputExit;
    }
  }
  std::cout << (a.json ? reports::plan_json(*plan).dump() + "\n" : reports::plan_text(*plan));
  return plan->fits == physics::Verdict::kMet        ? 0
         : plan->fits == physics::Verdict::kUnproven ? 1
                                                     : 2;
}

void add_site_options(CLI::App* command, Arguments& a) {
  command->add_option("--mode", a.mode, "load, unload, winch-out or reposition")
      ->capture_default_str();
  command->add_option("--gap", a.gap, "From the car to the deck's tail (winch-out: to the truck)");
  command->add_option("--surface", a.surface, "Under the car: hard road, grass, gravel, bog ...")
      ->capture_default_str();
  command->add_option("--ground", a.ground, "Slope under the car, uphill towards the truck");
  command->add_option("--deck", a.deck, "Tilt of the deck; else the truck file's");
  command->add_option("--ramps", a.ramps, "Slope of ramps between ground and deck");
  command->add_option("--rolls", a.rolls, "Does the car roll, as found: yes, no, unknown")
      ->capture_default_str();
  command->add_option("--mass", a.mass, "Weighed; else the vehicle file's");
  command->add_option("--behind", a.behind, "Where it will stand, behind the headboard");
  command->add_flag("--tail-first", a.tail_first, "Drawn up by its rear");
}

void add_strap_options(CLI::App* command, Arguments& a) {
  command->add_option(
      "--rules", a.rules,
      "us-49cfr, ca-nsc10, en12195-2003 or en12195-2010; else what the base goes by");
  command->add_option("--strap-deck", a.strap_deck, "Angle of the straps to the deck");
  command->add_option("--strap-aside", a.strap_aside,
                      "Their angle outward from the line of travel, seen from above");
  command->add_option("--friction", a.friction, "Of tyres on the deck, as 0.3 or \"0.2 to 0.4\"");
}

}  // namespace

void add_plan(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command = app.add_subcommand(
      "plan", "Can this truck and this gear take this car: margins, straps, line, cautions");
  command->add_option("--register", a->registers, "Register file or folder; several are fine")
      ->required()
      ->take_all();
  command->add_option("--vehicle", a->vehicle, "The car, by its id in the register")->required();
  command->add_option("--truck", a->truck, "The truck, by its id")->required();
  add_site_options(command, *a);
  command->add_option("--point", a->points, "Attachment point; several are fine")->take_all();
  command->add_option("--legs", a->legs, "Angle between two legs");
  command->add_option("--gear", a->gear, "Tiedowns to use; else what the truck carries")
      ->take_all();
  command->add_option("--path", a->path, "Of the tiedowns: direct, same-side or across")
      ->capture_default_str();
  add_strap_options(command, *a);
  command->add_option("--date", a->date, "Day of the job, for dates of gear; else today");
  command->add_option("--procedure", a->procedures, "File or shipped id; else those of the mode")
      ->take_all();
  command->add_option("--svg", a->svg, "Write a drawing of the loaded truck, to scale");
  command->add_flag("--json", a->json, "One JSON object");
  command->footer(
      "A figure may carry how well it is known: \"3.6 m\", \"3.6 m +- 0.5 m\", \"3 m to 4 m\".\n"
      "Exit: 0 it fits, 1 not shown, 2 it does not, 3 bad input.\n"
      "Examples:\n"
      "  fairlead plan --register clients/sim/fleet --vehicle hauberk --truck OW-04 --gap \"3.6 "
      "m\"\n"
      "  fairlead plan --register fleet --vehicle wrenlet --truck OW-02 --gap \"5 m +- 1 m\" \\\n"
      "      --rolls unknown --svg truck.svg");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
