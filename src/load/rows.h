// One row of each log, from cells to a fact.
//
// To add a column: read it here, give it a member in model/log.h, and say in merge.cpp whether two rows that
// differ in it disagree.
#pragma once

#include <span>
#include <string_view>

#include "load/row_reader.h"
#include "model/log.h"

namespace daywright::load {

/// The columns of a log: those a file must have, and those it may have.
struct LogColumns {
  std::span<const std::string_view> required;
  std::span<const std::string_view> optional;
  std::string_view subject;  ///< the column that says what a row speaks of; empty: a bad row may bear on anything
};
[[nodiscard]] const LogColumns& columns_of(model::Log log);

/// Columns that every log may have.
inline constexpr std::array<std::string_view, 4> common_columns{"recorded", "ref", "corrects", "remark"};

/// Every column that a log may have.
[[nodiscard]] std::vector<std::string> names_of_columns(model::Log log);

// Each reads the row under `in`; the result is only to be used when the row is sound afterwards.
void read_row(RowReader& in, const LogFile& file, model::PlanRow& row);
void read_row(RowReader& in, const LogFile& file, model::TaskRow& row);
void read_row(RowReader& in, const LogFile& file, model::SortieRow& row);
void read_row(RowReader& in, const LogFile& file, model::CloseoutRow& row);
void read_row(RowReader& in, const LogFile& file, model::SurveyRow& row);
void read_row(RowReader& in, const LogFile& file, model::FindingRow& row);
void read_row(RowReader& in, const LogFile& file, model::ClearanceRow& row);
void read_row(RowReader& in, const LogFile& file, model::CountRow& row);
void read_row(RowReader& in, const LogFile& file, model::TransferRow& row);
void read_row(RowReader& in, const LogFile& file, model::ReadingRow& row);
void read_row(RowReader& in, const LogFile& file, model::EquipmentRow& row);
void read_row(RowReader& in, const LogFile& file, model::AnomalyRow& row);
void read_row(RowReader& in, const LogFile& file, model::DecisionRow& row);
void read_row(RowReader& in, const LogFile& file, model::ActionRow& row);
void read_row(RowReader& in, const LogFile& file, model::StatementRow& row);
void read_row(RowReader& in, const LogFile& file, model::CrewRow& row);

}  // namespace daywright::load
