#include "daemon/desk/deliveries.h"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <iterator>
#include <sstream>

#include "daemon/base/key_file.h"
#include "daemon/base/time_text.h"
#include "daemon/desk/report_files.h"
#include "daemon/desk/summaries.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::desk {
namespace {

constexpr int64_t kMinute = 60'000'000, kHour = 60 * kMinute, kDay = 24 * kHour;
constexpr int64_t kFirstPause = kMinute, kLongestPause = 6 * kHour, kGiveUp = 7 * kDay;
constexpr size_t kLongestState = 64 * 1'024, kLargestFile = 32 << 20;
constexpr const char* kPlanTitle = "fairlead schedule v1";
constexpr const char* kQueueTitle = "fairlead delivery v1";

/// Lines "key value" under a title; a key may come again.
using Fields = std::multimap<std::string, std::string>;

Result<Fields> read_fields(const std::filesystem::path& file, const std::string& title) {
  const auto text = read_small_file(file, kLongestState);
  if (!text) return std::unexpected(text.error());
  std::istringstream in(*text);
  std::string line;
  if (!std::getline(in, line) || line != title)
    return fail(Code::kCorrupt, file.string() + ": is not what the base wrote; remove it");
  Fields out;
  while (std::getline(in, line)) {
    const size_t space = line.find(' ');
    if (space != std::string::npos) out.emplace(line.substr(0, space), line.substr(space + 1));
  }
  return out;
}

std::string field(const Fields& fields, const std::string& key) {
  const auto it = fields.find(key);
  return it == fields.end() ? "" : it->second;
}

int64_t number(const Fields& fields, const std::string& key) {
  return std::strtoll(field(fields, key).c_str(), nullptr, 10);
}

std::string plain(std::string text) {
  std::ranges::replace_if(text, [](unsigned char c) { return c < ' '; }, ' ');
  return text;
}

std::string day_name(int64_t time_us) { return time_for_name(time_us).substr(0, 8); }

int64_t longer(int64_t pause_us) {
  return pause_us == 0 ? kFirstPause : std::min(2 * pause_us, kLongestPause);
}

}  // namespace

Result<std::unique_ptr<Deliveries>> Deliveries::open(Desk& desk, DeliveryOptions options) {
  if (!options.send)
    options.send = [mail = options.mail](const Mail& one) { return send_mail(mail, one); };
  std::unique_ptr<Deliveries> out(new Deliveries(desk, std::move(options)));
  std::error_code error;
  for (const char* name : {"schedules", "outbox"})
    std::filesystem::create_directories(desk.office.data() / name, error);
  if (error) return fail(Code::kIo, desk.office.data().string() + ": " + error.message());
  for (const auto& config : out->options_.schedules) {
    if (auto ok = out->load_plan(config); !ok) return std::unexpected(ok.error());
  }
  if (auto ok = out->load_queue(); !ok) return std::unexpected(ok.error());
  return out;
}

// A schedule that is new here begins with the period of now: nothing is sent of the time before.
Status Deliveries::load_plan(const ScheduleConfig& config) {
  Plan plan;
  plan.config = config;
  const auto every = every_of(config.every);
  if (!every) return std::unexpected(every.error());
  plan.every = *every;
  const auto now = period_at(plan.every, config.zone, options_.now_us());
  if (!now) return fail_at("schedule " + config.name + ": ", now.error());
  const auto fields = read_fields(desk_.office.data() / "schedules" / config.name, kPlanTitle);
  if (!fields && fields.error().code != Code::kNotFound) return std::unexpected(fields.error());
  plan.done_us = now->from_us;
  if (fields) {
    plan.done_us = number(*fields, "done_us");
    plan.approved = field(*fields, "approved");
  } else if (auto ok = save(plan); !ok) {
    return ok;
  }
  plans_[config.name] = std::move(plan);
  return {};
}

Status Deliveries::load_queue() {
  std::error_code error;
  for (const auto& item : std::filesystem::directory_iterator(outbox(), error)) {
    const auto fields = read_fields(item.path() / "delivery", kQueueTitle);
    if (!item.is_directory(error) || item.path().extension() == ".part" || !fields) continue;
    Queued one;
    one.folder = item.path().filename().string();
    one.schedule = field(*fields, "schedule");
    one.state = field(*fields, "state");
    one.words = field(*fields, "words");
    one.tries = static_cast<uint32_t>(number(*fields, "tries"));
    one.made_us = number(*fields, "made_us");
    one.next_us = number(*fields, "next_us");
    one.sent_us = number(*fields, "sent_us");
    const auto [from, to] = fields->equal_range("to");
    for (auto it = from; it != to; ++it) one.to.push_back(it->second);
    queue_[one.folder] = std::move(one);
  }
  return {};
}

Status Deliveries::save(const Plan& plan) const {
  return write_private_file(
      desk_.office.data() / "schedules" / plan.config.name,
      fmt::format("{}\ndone_us {}\napproved {}\n", kPlanTitle, plan.done_us, plan.approved));
}

Status Deliveries::save(const Queued& one) const {
  std::string text = fmt::format(
      "{}\nschedule {}\nstate {}\ntries {}\nmade_us {}\nnext_us {}\nsent_us {}\nwords {}\n",
      kQueueTitle, one.schedule, one.state, one.tries, one.made_us, one.next_us, one.sent_us,
      plain(one.words));
  for (const auto& to : one.to) text += "to " + to + "\n";
  return write_private_file(outbox() / one.folder / "delivery", text);
}

std::string Deliveries::settings_hash(const ScheduleConfig& config) {
  std::string text = config.name + "\n" + config.every + "\n" + config.zone + "\n" + config.paper;
  for (const auto& to : config.to) text += "\n" + to;
  return hex_of(sha256(text));
}

void Deliveries::tick() {
  std::vector<std::string> names, waiting;
  {
    const std::lock_guard lock(mutex_);
    for (const auto& [name, plan] : plans_) names.push_back(name);
  }
  for (const auto& name : names) {
    Plan plan;
    {
      const std::lock_guard lock(mutex_);
      plan = plans_[name];
    }
    write_due(plan);
    const std::lock_guard lock(mutex_);
    Plan& kept = plans_[name];
    kept.done_us = plan.done_us;
    kept.again_us = plan.again_us;
    kept.pause_us = plan.pause_us;
  }
  const int64_t now_us = options_.now_us();
  {
    const std::lock_guard lock(mutex_);
    for (const auto& [folder, one] : queue_) {
      const auto plan = plans_.find(one.schedule);
      const bool approved =
          plan != plans_.end() && plan->second.approved == settings_hash(plan->second.config);
      if (one.state == "WAITING" && approved && one.next_us <= now_us) waiting.push_back(folder);
    }
  }
  for (const auto& folder : waiting) {
    Queued one;
    {
      const std::lock_guard lock(mutex_);
      one = queue_[folder];
    }
    send(one);
    const std::lock_guard lock(mutex_);
    queue_[folder] = one;
  }
}

// Every period that is over, the oldest first: a base that was off for two months owes two.
void Deliveries::write_due(Plan& plan) {
  while (options_.now_us() >= plan.again_us) {
    const auto period = period_at(plan.every, plan.config.zone, plan.done_us);
    if (!period || period->to_us > options_.now_us()) return;
    const auto done = write(plan, *period);
    if (done) {
      plan.pause_us = plan.again_us = 0;
      continue;
    }
    const bool first = plan.pause_us == 0;
    plan.pause_us = longer(plan.pause_us);
    plan.again_us = options_.now_us() + plan.pause_us;
    const std::string words = "summary of schedule " + plan.config.name + ", from " +
                              format_time_us(period->from_us) +
                              ", cannot be written: " + done.error().message;
    options_.log(words);
    if (first) alarm(words);
    return;
  }
}

Status Deliveries::write(Plan& plan, const Period& period) {
  const std::string name =
      plan.config.name + "-" + day_name(period.from_us) + "-" + day_name(period.to_us);
  const auto part = outbox() / (name + ".part");
  std::error_code error;
  if (std::filesystem::exists(outbox() / name, error)) return finish(plan, period, part);
  if (std::filesystem::exists(part, error)) {
    const auto issued = is_issued(part);
    if (!issued) return std::unexpected(issued.error());
    if (*issued) return finish(plan, period, part);
    std::filesystem::remove_all(part, error);
  }
  std::filesystem::create_directories(part, error);
  if (error) return fail(Code::kIo, part.string() + ": " + error.message());
  v1::WriteSummaryRequest request;
  request.set_from(format_time_us(period.from_us));
  request.set_to(format_time_us(period.to_us));
  request.set_paper(plan.config.paper);
  request.set_zone(plan.config.zone);
  SummaryFor whom;
  whom.recipients = plan.config.to;
  whom.folder = part;
  if (const auto written = write_summary(desk_, request, whom); !written)
    return std::unexpected(written.error());
  return finish(plan, period, part);
}

// On record already: the rest may be done twice without harm.
Status Deliveries::finish(Plan& plan, const Period& period, const std::filesystem::path& part) {
  Queued one;
  one.schedule = plan.config.name;
  one.folder = part.stem().string();
  one.to = plan.config.to;
  one.state = one.to.empty() ? "FOLDER_ONLY" : "WAITING";
  one.made_us = options_.now_us();
  const auto whole = outbox() / one.folder;
  std::error_code error;
  if (!std::filesystem::exists(whole, error)) std::filesystem::rename(part, whole, error);
  if (error) return fail(Code::kIo, whole.string() + ": " + error.message());
  if (auto ok = sync_folder(outbox()); !ok) return ok;
  if (!std::filesystem::exists(whole / "delivery", error)) {
    if (auto ok = save(one); !ok) return ok;
    const std::lock_guard lock(mutex_);
    queue_[one.folder] = one;
  }
  plan.done_us = period.to_us;
  const std::lock_guard lock(mutex_);
  Plan& kept = plans_[plan.config.name];  // The owner may have decided meanwhile.
  kept.done_us = period.to_us;
  if (auto ok = save(kept); !ok) return ok;
  options_.log("summary of schedule " + plan.config.name + " is in " + whole.string());
  return {};
}

Result<bool> Deliveries::is_issued(const std::filesystem::path& part) const {
  const auto json = read_small_file(part / "summary.json", kLargestFile);
  if (!json)
    return json.error().code == Code::kNotFound ? Result<bool>(false)
                                                : std::unexpected(json.error());
  const auto hash = hex_of(sha256(*json));
  const auto all = list_summaries(desk_, {});
  if (!all) return std::unexpected(all.error());
  return std::ranges::any_of(all->summary(),
                             [&](const auto& one) { return one.json_sha256() == hash; });
}

Result<Mail> Deliveries::mail_of(const Queued& one) const {
  Mail mail;
  mail.to = one.to;
  mail.date_us = one.made_us;
  mail.id = one.folder + "." + hex_of(desk_.office.ledger_id()).substr(0, 16) + "@fairlead";
  mail.subject = "Compliance summary " + one.folder + " of " + desk_.office.roster().base_name;
  mail.text =
      "The compliance summary of '" + desk_.office.roster().base_name +
      "' is attached: pages as PDF and HTML, figures as CSV and JSON, and the request to "
      "countersign the record's head.\n\nIt holds counts and rates, no job's raw record and "
      "nobody's name. The record shows whether these very files were issued.\n";
  std::vector<std::filesystem::path> files;
  std::error_code error;
  for (const auto& item : std::filesystem::directory_iterator(outbox() / one.folder, error)) {
    if (item.path().filename() != "delivery") files.push_back(item.path());
  }
  if (error) return fail(Code::kIo, one.folder + ": " + error.message());
  std::ranges::sort(files);
  const std::map<std::string, std::string> types = {{".pdf", "application/pdf"},
                                                    {".html", "text/html"},
                                                    {".csv", "text/csv"},
                                                    {".json", "application/json"}};
  for (const auto& file : files) {
    auto bytes = read_small_file(file, kLargestFile);
    if (!bytes) return std::unexpected(bytes.error());
    const auto type = types.find(file.extension().string());
    mail.files.push_back({file.filename().string(),
                          type == types.end() ? "text/plain" : type->second, std::move(*bytes)});
  }
  return mail;
}

void Deliveries::send(Queued& one) {
  ++one.tries;
  const auto mail = mail_of(one);
  const Status sent = mail ? options_.send(*mail) : std::unexpected(mail.error());
  const int64_t now_us = options_.now_us();
  if (sent) {
    one.state = "SENT";
    one.sent_us = now_us;
    one.words = "taken by the mail server";
    options_.log("mail: " + one.folder + " was taken by the server");
  } else {
    const bool final = sent.error().code != Code::kUnavailable || now_us - one.made_us > kGiveUp;
    const bool first = one.tries == 1;
    one.words = sent.error().message;
    one.next_us =
        now_us + std::min(kFirstPause << std::min<uint32_t>(one.tries - 1, 20), kLongestPause);
    if (final) one.state = "FAILED";
    options_.log("mail: " + one.folder + ": " + one.words);
    if (first || final)
      alarm("mail of " + one.folder + (final ? " is given up: " : " waits: ") + one.words);
  }
  if (const auto kept = save(one); !kept) options_.log("mail: " + kept.error().message);
}

void Deliveries::alarm(const std::string& words) {
  v1::AlarmBody body;
  body.set_cause(v1::AlarmBody::OTHER);
  body.set_words(words);
  if (const auto written = desk_.office.write(record::Kind::kAlarm, {}, body); !written)
    options_.log("alarm: " + written.error().message);
}

v1::Schedule Deliveries::schedule_of(const Plan& plan) const {
  v1::Schedule out;
  out.set_name(plan.config.name);
  out.set_every(plan.config.every);
  out.set_zone(plan.config.zone);
  for (const auto& to : plan.config.to) out.add_to(to);
  out.set_approved(plan.approved == settings_hash(plan.config));
  if (const auto next = period_at(plan.every, plan.config.zone, plan.done_us)) {
    out.set_from(format_time_us(next->from_us));
    out.set_until(format_time_us(next->to_us));
    out.set_due(format_time_us(next->to_us));
  }
  return out;
}

v1::ListSchedulesResponse Deliveries::list() const {
  const std::lock_guard lock(mutex_);
  v1::ListSchedulesResponse out;
  for (const auto& [name, plan] : plans_) *out.add_schedule() = schedule_of(plan);
  for (const auto& [folder, one] : queue_) {
    auto* delivery = out.add_delivery();
    delivery->set_schedule(one.schedule);
    delivery->set_folder((outbox() / folder).string());
    const auto plan = plans_.find(one.schedule);
    const bool approved =
        plan != plans_.end() && plan->second.approved == settings_hash(plan->second.config);
    delivery->set_state(one.state == "WAITING" && !approved ? "WAITS_FOR_YOUR_YES" : one.state);
    delivery->set_tries(one.tries);
    if (one.state == "WAITING" && one.next_us > 0)
      delivery->set_next_try(format_time_us(one.next_us));
    if (one.sent_us > 0) delivery->set_sent_at(format_time_us(one.sent_us));
    delivery->set_words(one.words);
    for (const auto& to : one.to) delivery->add_to(to);
  }
  return out;
}

Result<v1::Schedule> Deliveries::decide(const std::string& name, bool approve) {
  const std::lock_guard lock(mutex_);
  const auto it = plans_.find(name);
  if (it == plans_.end())
    return fail(Code::kNotFound, "schedule '" + name + "' is not in the settings file");
  it->second.approved = approve ? settings_hash(it->second.config) : "";
  if (auto ok = save(it->second); !ok) return std::unexpected(ok.error());
  return schedule_of(it->second);
}

Result<v1::WriteSummaryRequest> Deliveries::preview_of(const std::string& name) const {
  const std::lock_guard lock(mutex_);
  const auto it = plans_.find(name);
  if (it == plans_.end())
    return fail(Code::kNotFound, "schedule '" + name + "' is not in the settings file");
  const Plan& plan = it->second;
  const auto now = period_at(plan.every, plan.config.zone, options_.now_us());
  if (!now) return std::unexpected(now.error());
  const auto last = period_at(plan.every, plan.config.zone, now->from_us - 1);
  if (!last) return std::unexpected(last.error());
  v1::WriteSummaryRequest request;
  request.set_from(format_time_us(last->from_us));
  request.set_to(format_time_us(last->to_us));
  request.set_paper(plan.config.paper);
  request.set_zone(plan.config.zone);
  request.set_preview(true);
  return request;
}

Result<std::vector<std::string>> Deliveries::recipients_of(const std::string& name) const {
  const std::lock_guard lock(mutex_);
  const auto it = plans_.find(name);
  if (it == plans_.end())
    return fail(Code::kNotFound, "schedule '" + name + "' is not in the settings file");
  return it->second.config.to;
}

}  // namespace fairlead::desk
