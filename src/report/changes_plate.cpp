#include "pair_plates.hpp"
namespace corefleck {
Result<std::string> changes_png(const ChangesReport&,
                                const MeasuredFace&,
                                const MeasuredFace&,
                                const RecordContext&) {
  return std::string();
}
Result<std::string> wetdry_png(const StatesReport&,
                               const MeasuredFace&,
                               const MeasuredFace&,
                               const RecordContext&) {
  return std::string();
}
}  // namespace corefleck
