#pragma once

#include "terminal.hpp"

#include "corefleck/report.hpp"

#include <filesystem>
#include <string>

namespace corefleck {

/// One measured photo for reading: figures, cautions with what to do, where the files are. Ends with a line
/// end.
[[nodiscard]] std::string face_summary(const SummaryRow& row,
                                       const std::filesystem::path& folder,
                                       const Terminal& terminal);

/// One measured photo in one line, for a run over many; `name_width` aligns the columns.
[[nodiscard]] std::string face_line(const SummaryRow& row, std::size_t name_width, const Terminal& terminal);

/// The closing block of a run over several faces. Ends with a line end.
[[nodiscard]] std::string faces_summary(const FacesMean& mean,
                                        const std::filesystem::path& table,
                                        const Terminal& terminal);

}  // namespace corefleck
