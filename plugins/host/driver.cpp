#include "plugins/host/driver.h"

#include <dlfcn.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cstddef>
#include <fstream>
#include <iterator>

namespace fairlead::host {

namespace {
constexpr uint32_t kMostChannels = 64;

Status check_file(const std::filesystem::path& file) {
  struct stat info{};
  if (stat(file.c_str(), &info) != 0 || !S_ISREG(info.st_mode)) {
    return fail(Code::kNotFound,
                file.string() + ": is not there; install the driver or correct the path");
  }
  if ((info.st_mode & S_IWOTH) != 0) {
    return fail(Code::kDenied, file.string() + ": anyone may write it; chmod o-w it");
  }
  if (info.st_uid != 0 && info.st_uid != geteuid()) {
    return fail(Code::kDenied, file.string() + ": belongs to another user; chown it to root");
  }
  return {};
}

std::string text_of(const char* text) { return text == nullptr ? "" : text; }

Status check_table(const std::filesystem::path& file, const fairlead_driver* table) {
  auto no = [&](const std::string& why) {
    return fail(Code::kBadInput, file.string() + ": " + why);
  };
  if (table == nullptr) return no("gives no driver; ask its maker for another version");
  // First the size: nothing beyond it may be looked at.
  if (table->struct_size < offsetof(fairlead_driver, name)) return no("its struct is too short");
  if (table->major != FAIRLEAD_DRIVER_MAJOR) {
    return no(
        fmt::format("is built for driver ABI {}, this host knows {}; install matching "
                    "versions",
                    table->major, FAIRLEAD_DRIVER_MAJOR));
  }
  if (table->struct_size < sizeof(fairlead_driver)) return no("its struct is too short");
  bool whole = table->configure != nullptr && table->describe != nullptr &&
               table->open != nullptr && table->read != nullptr && table->close != nullptr &&
               table->trouble != nullptr;
  return whole ? Status() : no("one of its functions is missing");
}
}  // namespace

Status check_manifest(const std::filesystem::path& file) {
  std::filesystem::path manifest = file;
  manifest.replace_extension(".toml");
  for (const std::filesystem::path& each : {file, manifest}) {
    if (auto ok = check_file(each); !ok) return ok;
  }
  std::ifstream in(manifest, std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(in), {}};
  sdk::Config config(text);
  if (!config.readable()) return fail(Code::kBadInput, manifest.string() + ": is no TOML");
  int64_t abi = config.root().whole("driver_abi", 0, 1'000'000);
  if (!config.problems().empty() || abi != FAIRLEAD_DRIVER_MAJOR) {
    return fail(Code::kBadInput, fmt::format("{}: driver_abi is not {}; install a driver for it",
                                             manifest.string(), FAIRLEAD_DRIVER_MAJOR));
  }
  return {};
}

Result<Driver> Driver::load(const std::filesystem::path& file) {
  if (auto ok = check_manifest(file); !ok) return std::unexpected(ok.error());
  void* object = dlopen(file.c_str(), RTLD_NOW | RTLD_LOCAL);
  if (object == nullptr) return fail(Code::kBadInput, text_of(dlerror()));
  auto query =
      reinterpret_cast<const fairlead_driver* (*)()>(dlsym(object, "fairlead_driver_query"));
  if (query == nullptr) {
    return fail(Code::kBadInput, file.string() + ": exports no fairlead_driver_query");
  }
  const fairlead_driver* table = query();
  if (auto ok = check_table(file, table); !ok) return std::unexpected(ok.error());
  return Driver(table);
}

sdk::Problems Driver::configure(const std::vector<std::pair<std::string, std::string>>& settings,
                                std::vector<v1::PluginChannel>& channels) {
  std::vector<fairlead_setting> list;
  for (const auto& [key, value] : settings) {
    list.push_back({sizeof(fairlead_setting), key.c_str(), value.c_str()});
  }
  fairlead_problem problem{};
  problem.struct_size = sizeof problem;
  if (table_->configure(list.data(), static_cast<uint32_t>(list.size()), &problem) != 0) {
    v1::PluginConfigProblem said;
    said.set_field("settings." + text_of(problem.key));
    said.set_problem(text_of(problem.what));
    said.set_remedy(text_of(problem.remedy));
    return {said};
  }
  for (uint32_t i = 0; i < kMostChannels; ++i) {
    fairlead_channel channel{};
    channel.struct_size = sizeof channel;
    if (table_->describe(i, &channel) == 0) break;
    v1::PluginChannel& c = channels.emplace_back();
    c.set_source(text_of(channel.source));
    c.set_signal(text_of(channel.signal));
    c.set_unit(text_of(channel.unit));
    c.set_range_lo(channel.range_lo);
    c.set_range_hi(channel.range_hi);
    c.set_resolution(channel.resolution);
    c.set_rate_hz(channel.rate_hz);
    c.set_clock_source(v1::PluginChannel::ARRIVAL);
    c.set_convention(
        fmt::format("vendor's driver {} {}", text_of(table_->name), text_of(table_->version)));
  }
  return {};
}

int32_t Driver::read(fairlead_reading& out, uint32_t wait_ms) const {
  out = {};
  out.struct_size = sizeof out;
  return table_->read(&out, wait_ms);
}

std::string Driver::trouble() const {
  std::string words = text_of(table_->trouble());
  return words.empty() ? "the driver lost its instrument" : words;
}

}  // namespace fairlead::host
