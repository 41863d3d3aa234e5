#include "daemon/desk/jobs.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/base/time_text.h"
#include "daemon/desk/orders.h"
#include "daemon/record/observation_check.h"
#include "daemon/record/observation_json.h"
#include "daemon/watch/stamp.h"
#include "reports/claim/words.h"

namespace fairlead::desk {
namespace {

// The order a job came from; nullptr for one that was opened on the truck or fed.
const JobOrder* order_of(const std::vector<JobOrder>& orders, const record::Id16& job) {
  const auto it = std::ranges::find_if(
      orders, [&](const JobOrder& order) { return order.sheet.job_id() == view_of(job); });
  return it == orders.end() ? nullptr : &*it;
}

void add_order(const Desk& desk, const JobOrder& order, v1::Job& job) {
  job.set_number(order.sheet.words());
  if (job.opened_at().empty()) {
    job.set_job_id(hex_of(order.sheet.job_id()));
    job.set_ordered_only(true);
    const auto device = desk.devices.find(order.device);
    job.set_truck(device ? device->name : "");
    job.set_device_id(hex_of(order.device));
    job.set_vehicle(order.sheet.opened().opened().vehicle());
    *job.mutable_procedures() = order.sheet.opened().opened().procedures();
    job.set_operator_card(order.sheet.opened().opened().operator_());
    job.set_first_leaf(order.leaf);
  }
}

std::string outcome_of(const v1::Observation& closed) {
  if (closed.has_abandoned()) return "ABANDONED";
  return v1::Closed::Outcome_Name(closed.closed().outcome());
}

Result<v1::Job> job_of(const Desk& desk, const record::Id16& id) {
  const auto orders = job_orders(desk);
  if (!orders) return std::unexpected(orders.error());
  const JobOrder* order = order_of(*orders, id);
  const auto view = desk.watch.job(id);
  if (!view && order == nullptr) return fail(Code::kNotFound, "no job " + hex_of(id));
  v1::Job job;
  if (view) job = job_message(desk, *view);
  if (order != nullptr) add_order(desk, *order, job);
  return job;
}

}  // namespace

v1::Job job_message(const Desk& desk, const watch::JobView& view) {
  v1::Job job;
  job.set_job_id(hex_of(view.job));
  if (view.name != job.job_id()) job.set_number(view.name);
  const auto device = desk.devices.find(view.row.device_id);
  job.set_device_id(hex_of(view.row.device_id));
  job.set_imported(device && device->kind == v1::EnrolBody::IMPORT);
  job.set_truck(device && !job.imported() ? device->name : view.opened.opened().truck());
  job.set_vehicle(view.opened.opened().vehicle());
  *job.mutable_procedures() = view.opened.opened().procedures();
  job.set_operator_card(view.opened.opened().operator_());
  job.set_opened_at(view.opened.time());
  if (view.closed) {
    job.set_closed_at(view.closed->time());
    job.set_outcome(outcome_of(*view.closed));
  }
  job.set_settled(view.settled);
  job.set_met(view.met);
  job.set_deviated(view.deviated);
  job.set_unproven(view.unproven);
  job.set_quarantined(static_cast<uint32_t>(view.quarantined));
  job.set_bodies_missing(static_cast<uint32_t>(view.bodies_missing));
  job.set_recovered_lines(static_cast<uint32_t>(view.recovered));
  job.set_bodies_lost(static_cast<uint32_t>(view.bodies_lost));
  job.set_first_leaf(view.row.open_leaf);
  if (view.row.close_leaf) job.set_last_leaf(*view.row.close_leaf);
  return job;
}

Result<record::Id16> find_job(const Desk& desk, const std::string& text) {
  const auto jobs = list_jobs(const_cast<Desk&>(desk), {});
  if (!jobs) return std::unexpected(jobs.error());
  std::vector<const v1::Job*> exact, prefix;
  for (const v1::Job& job : jobs->job()) {
    if (job.job_id() == text || (!text.empty() && job.number() == text)) exact.push_back(&job);
    if (text.size() >= 4 && job.job_id().starts_with(text)) prefix.push_back(&job);
  }
  const auto& fits = exact.empty() ? prefix : exact;
  if (fits.empty()) {
    return fail(Code::kNotFound, fmt::format("no job '{}'; fairlead jobs lists them", text));
  }
  if (fits.size() > 1) {
    return fail(Code::kBadInput,
                fmt::format("'{}' fits {} jobs ({}, {}, ...); give more of the id", text,
                            fits.size(), fits[0]->job_id(), fits[1]->job_id()));
  }
  return array_of_hex<16>(fits.front()->job_id(), "job");
}

Result<v1::OpenJobResponse> open_job(Desk& desk, const v1::OpenJobRequest& request) {
  const auto device = desk.devices.find_name(request.truck());
  if (!device || device->kind != v1::EnrolBody::TRUCK) {
    return fail(Code::kNotFound,
                fmt::format("truck: no truck '{}' is enrolled; fairlead status lists them",
                            request.truck()));
  }
  const record::Id16 id = random_array<16>();
  v1::Observation line;
  line.set_time(format_time_us(watch::wall_now_us()));
  line.set_job(hex_of(id));
  line.set_source("desk");
  line.set_seq(1);
  *line.mutable_opened() = request.opened();
  if (auto ok = record::check_observation(line); !ok) return std::unexpected(ok.error());
  v1::OrderBody order;
  order.set_device_id(string_of(device->id));
  order.mutable_sheet()->set_job_id(string_of(id));
  *order.mutable_sheet()->mutable_opened() = line;
  order.mutable_sheet()->set_words(request.number());
  const auto written = desk.office.write(record::Kind::kOrder, id, order);
  if (!written) return std::unexpected(written.error());
  if (desk.orders_changed) desk.orders_changed();
  v1::OpenJobResponse response;
  response.set_job_id(hex_of(id));
  response.set_order_leaf(written->leaf);
  return response;
}

Result<v1::ListJobsResponse> list_jobs(Desk& desk, const v1::ListJobsRequest& request) {
  const auto from = request.from().empty() ? Result<int64_t>(0) : parse_time_us(request.from());
  if (!from) return fail_at("from: ", from.error());
  const auto to = request.to().empty() ? Result<int64_t>(INT64_MAX) : parse_time_us(request.to());
  if (!to) return fail_at("to: ", to.error());
  const auto orders = job_orders(desk);
  if (!orders) return std::unexpected(orders.error());
  v1::ListJobsResponse response;
  std::vector<watch::JobView> views = desk.watch.jobs();
  std::ranges::sort(views, {}, [](const watch::JobView& view) { return view.row.open_leaf; });
  for (const watch::JobView& view : views) {
    const auto opened = parse_time_us(view.opened.time());
    if (opened && (*opened < *from || *opened >= *to)) continue;
    v1::Job& job = *response.add_job();
    job = job_message(desk, view);
    if (const JobOrder* order = order_of(*orders, view.job)) add_order(desk, *order, job);
  }
  for (const JobOrder& order : *orders) {
    const auto id = array_of<16>(order.sheet.job_id(), "order");
    if (!id || desk.watch.job(*id) || order.given_us < *from || order.given_us >= *to) continue;
    add_order(desk, order, *response.add_job());
  }
  return response;
}

Result<v1::GetJobResponse> get_job(Desk& desk, const v1::GetJobRequest& request) {
  const auto id = find_job(desk, request.job());
  if (!id) return std::unexpected(id.error());
  auto job = job_of(desk, *id);
  if (!job) return std::unexpected(job.error());
  v1::GetJobResponse response;
  *response.mutable_job() = std::move(*job);
  const auto view = desk.watch.job(*id);
  if (!view) return response;
  for (const std::string& finding : view->findings.lines()) response.add_finding(finding);
  const auto record = watch::read_job(desk.ledger(), *id);
  if (!record) return std::unexpected(record.error());
  for (const v1::Pin& pin : record->pins) response.add_file_in_force(hex_of(pin.sha256()));
  // Of a job that was not judged in this run the view knows its beginning and its end only.
  v1::Job& shown = *response.mutable_job();
  shown.set_lines(static_cast<uint32_t>(record->lines.size()));
  shown.set_quarantined(static_cast<uint32_t>(record->quarantined.size()));
  shown.set_recovered_lines(static_cast<uint32_t>(record->recovered));
  shown.set_bodies_lost(static_cast<uint32_t>(record->bodies_lost));
  for (const watch::ClockStep& step : record->clock_steps) {
    v1::ClockStep& out = *response.add_clock_step();
    out.set_expected(format_time_us(step.expected_us));
    out.set_shown(format_time_us(step.shown_us));
    out.set_step_ms((step.shown_us - step.expected_us) / 1'000);
    out.set_leaf_index(step.leaf);
    out.set_words(reports::clock_step_words(step.shown_us - step.expected_us));
  }
  if (!request.with_lines()) return response;
  std::vector<v1::Observation> lines = record->lines;
  lines.insert(lines.end(), record->foreign.begin(), record->foreign.end());
  lines.insert(lines.end(), record->quarantined.begin(), record->quarantined.end());
  std::ranges::stable_sort(lines, {}, [](const v1::Observation& line) {
    return parse_time_us(line.time()).value_or(0);
  });
  for (const v1::Observation& line : lines) response.add_line(record::observation_to_line(line));
  return response;
}

Result<v1::AttachFileResponse> attach_file(Desk& desk, const v1::AttachFileRequest& request) {
  const auto id = find_job(desk, request.job());
  if (!id) return std::unexpected(id.error());
  const auto record = watch::read_job(desk.ledger(), *id);
  if (!record) return std::unexpected(record.error());
  if (request.content().empty()) {
    return fail(Code::kBadInput, request.file_name() + ": is empty; check the path");
  }
  const auto sha = desk.ledger().put_attachment(request.content());
  if (!sha) return std::unexpected(sha.error());
  v1::AttachFileResponse response;
  response.set_sha256(hex_of(*sha));
  const auto names = [&](const v1::Observation& line) {
    return line.photo().sha256() == response.sha256() ||
           line.film().sha256() == response.sha256() ||
           line.statement().sha256() == response.sha256() ||
           line.custody().sha256() == response.sha256() ||
           line.anchor().sha256() == response.sha256();
  };
  if (std::ranges::any_of(record->lines, names) || std::ranges::any_of(record->foreign, names))
    return response;
  v1::Observation line;
  line.set_time(format_time_us(watch::wall_now_us()));
  line.set_job(record->name);
  line.set_source("desk");
  if (request.has_film()) {
    *line.mutable_film() = request.film();
    line.mutable_film()->set_sha256(response.sha256());
    line.mutable_film()->set_media_type(request.media_type());
  } else if (request.has_note()) {
    *line.mutable_note() = request.note();
  } else {
    *line.mutable_photo() = request.photo();
    line.mutable_photo()->set_sha256(response.sha256());
    line.mutable_photo()->set_media_type(request.media_type());
  }
  line.set_seq(1);
  if (auto ok = record::check_observation(line); !ok) return std::unexpected(ok.error());
  const auto said = desk.import.say_now(std::move(line));
  if (!said) return std::unexpected(said.error());
  response.set_leaf_index(*said);
  return response;
}

}  // namespace fairlead::desk
