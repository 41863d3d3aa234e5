// The command line: one file a command.
#include <google/protobuf/stubs/logging.h>

#include <CLI/CLI.hpp>

#include "clients/cli/cmd_attach.h"
#include "clients/cli/cmd_audit.h"
#include "clients/cli/cmd_calibrate.h"
#include "clients/cli/cmd_check_procedure.h"
#include "clients/cli/cmd_claim.h"
#include "clients/cli/cmd_countersign.h"
#include "clients/cli/cmd_device.h"
#include "clients/cli/cmd_enrol.h"
#include "clients/cli/cmd_erase.h"
#include "clients/cli/cmd_feed.h"
#include "clients/cli/cmd_hold.h"
#include "clients/cli/cmd_job.h"
#include "clients/cli/cmd_jobs.h"
#include "clients/cli/cmd_judge.h"
#include "clients/cli/cmd_ledger.h"
#include "clients/cli/cmd_plan.h"
#include "clients/cli/cmd_register.h"
#include "clients/cli/cmd_report.h"
#include "clients/cli/cmd_retention.h"
#include "clients/cli/cmd_schedule.h"
#include "clients/cli/cmd_sheet.h"
#include "clients/cli/cmd_status.h"
#include "clients/cli/cmd_summary.h"
#include "clients/cli/cmd_watch.h"
#include "clients/cli/ending.h"

int main(int argc, char** argv) {
  google::protobuf::SetLogHandler(nullptr);  // Bad bytes are reported in our own words.
  CLI::App app{"Fairlead: the record of a recovery job"};
  app.require_subcommand(1);
  fairlead::cli::add_attach(app);
  fairlead::cli::add_audit(app);
  fairlead::cli::add_calibrate(app);
  fairlead::cli::add_check_procedure(app);
  fairlead::cli::add_claim(app);
  fairlead::cli::add_countersign(app);
  fairlead::cli::add_device(app);
  fairlead::cli::add_enrol(app);
  fairlead::cli::add_erase(app);
  fairlead::cli::add_feed(app);
  fairlead::cli::add_hold(app);
  fairlead::cli::add_job(app);
  fairlead::cli::add_jobs(app);
  fairlead::cli::add_judge(app);
  fairlead::cli::add_ledger(app);
  fairlead::cli::add_plan(app);
  fairlead::cli::add_register(app);
  fairlead::cli::add_report(app);
  fairlead::cli::add_retention(app);
  fairlead::cli::add_schedule(app);
  fairlead::cli::add_sheet(app);
  fairlead::cli::add_status(app);
  fairlead::cli::add_summary(app);
  fairlead::cli::add_watch(app);
  CLI11_PARSE(app, argc, argv);
  return fairlead::cli::exit_code();
}
