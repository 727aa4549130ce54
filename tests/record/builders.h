// Sign-offs for tests, with telling defaults.
#pragma once

#include <chrono>
#include <string>

#include "model/signoff.h"
#include "record/digest.h"
#include "record/signoff.h"

namespace daywright::test {

inline model::SignOff go(const std::string& principal = "mara@petrel.example", const std::string& role = "eva_lead") {
  model::SignOff signoff;
  signoff.previous = std::string(record::no_record);
  signoff.call = model::Call::go;
  signoff.day = 8;
  signoff.gate = "eva_3";
  signoff.subjects = {{"brief.md", 5, record::sha256_hex("brief")}, {"status.json", 2, record::sha256_hex("{}")}};
  signoff.verdicts = {{"eva_3", "READY"}, {"entry", "NO DATA"}};
  signoff.limiting = "Water 2.1 d";
  signoff.statement = "Mara Velden, EVA lead, calls GO for EVA 3.";
  signoff.signer = {principal, "Mara Velden", role, ""};
  signoff.signed_at = std::chrono::sys_days{std::chrono::year{2031} / 5 / 13} + std::chrono::hours{22};
  signoff.program = "0.1.0";
  return signoff;
}

}  // namespace daywright::test
