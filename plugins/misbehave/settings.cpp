#include "plugins/misbehave/settings.h"

#include <array>

#include "daemon/base/nearest.h"

namespace fairlead::misbehave {

namespace {
constexpr std::array kWords = std::to_array<Word>({
    {Fault::kNone, "none", "behaves well"},
    {Fault::kMute, "mute", "never says hello"},
    {Fault::kIgnoreRefusal, "ignore_refusal", "goes on after it was refused"},
    {Fault::kBadUnit, "bad_unit", "describes a channel in a unit it is not recorded in"},
    {Fault::kBadSignal, "bad_signal", "describes a signal nobody knows"},
    {Fault::kBadRange, "bad_range", "describes a range that ends before it begins"},
    {Fault::kAnyConfig, "any_config", "takes keys it does not know"},
    {Fault::kBatchHole, "batch_hole", "leaves a batch number out"},
    {Fault::kHugeBatch, "huge_batch", "sends more readings in a batch than allowed"},
    {Fault::kDescribeAgain, "describe_again", "describes other channels within the session"},
    {Fault::kHelloAgain, "hello_again", "says hello in the middle of a stream"},
    {Fault::kBadChannel, "bad_channel", "sends readings of a channel it never described"},
    {Fault::kClockJump, "clock_jump", "stamps with a wall clock an hour ahead"},
    {Fault::kMonoBack, "mono_back", "stamps with a monotonic clock that runs back"},
    {Fault::kLie, "lie", "sends values outside of what it declared and of all sense"},
    {Fault::kNotANumber, "not_a_number", "sends NaN"},
    {Fault::kWrongKind, "wrong_kind", "sends a fix on a channel of samples"},
    {Fault::kMisread, "misread", "reads its instrument wrong by one"},
    {Fault::kInvents, "invents", "fills the time it was stopped with readings"},
    {Fault::kForgets, "forgets", "sends nothing again after a reconnect"},
    {Fault::kFlood, "flood", "sends fifty times its rate"},
    {Fault::kCrash, "crash", "ends by a signal"},
    {Fault::kQuit, "quit", "ends as if all were well"},
    {Fault::kStop, "stop", "stops itself"},
    {Fault::kHang, "hang", "waits for ever for a silent instrument; without one at once"},
    {Fault::kLeak, "leak", "takes 4 MB of memory a second, for ever"},
    {Fault::kHoard, "hoard", "buffers without bound while it is not read"},
    {Fault::kSpin, "spin", "burns a core"},
    {Fault::kOpenFiles, "open_files", "opens a file with each reading"},
    {Fault::kChatter, "chatter", "writes thousands of lines to stderr"},
    {Fault::kLitter, "litter", "writes to stdout and leaves files about"},
    {Fault::kIgnoreTerm, "ignore_term", "does not end when it is asked to"},
    {Fault::kOrphan, "orphan", "leaves a child of its own behind"},
    {Fault::kFragile, "fragile", "crashes on rubbish from its instrument"},
    {Fault::kWallWait, "wall_wait", "paces itself by the wall clock"},
    {Fault::kRandom, "random", "any of the others, another at each start"},
});
}  // namespace

std::span<const Word> words() { return kWords; }

std::optional<Fault> fault_of(std::string_view word) {
  for (const Word& w : kWords) {
    if (w.word == word) return w.fault;
  }
  return std::nullopt;
}

std::string_view word_of(Fault fault) { return kWords.at(static_cast<size_t>(fault)).word; }

sdk::Problems read_settings(const std::string& toml, bool strict, Settings& settings) {
  sdk::Config config(toml);
  if (!config.readable()) return config.problems();
  sdk::Section root = config.root();
  std::string word = root.text("misbehave", std::string(word_of(settings.fault)));
  if (auto fault = fault_of(word)) {
    settings.fault = *fault;
  } else {
    std::vector<std::string_view> all;
    for (const Word& w : kWords) all.push_back(w.word);
    root.wrong("misbehave", "\"" + word + "\" is none of its words",
               "did you mean \"" + nearest(word, all) + "\"?");
  }
  settings.source = root.text("source", settings.source);
  settings.rate_hz = root.number("rate_hz", 1, 1000, settings.rate_hz);
  if (root.has("device")) settings.device = root.text("device");
  if (root.has("output")) settings.output = root.text("output");
  settings.after_us = root.whole("after_ms", 0, 3'600'000, 0) * 1000;
  settings.seed = root.whole("seed", 0, INT64_MAX, 0);
  if (strict && settings.fault != Fault::kAnyConfig) root.finish();
  return config.problems();
}

}  // namespace fairlead::misbehave
