#include "pair_record.hpp"

#include "neutral.hpp"
#include "record_parts.hpp"

#include "corefleck/utf8.hpp"

namespace corefleck {
namespace {

Json json_of_photo(const MeasuredFace& face) {
  return {{"photo", valid_utf8(face.photo.path.string())}, {"sha256", json_text(face.photo.sha256)}};
}

Json json_of_transform(const FaceTransform& transform) {
  const auto& a = transform.linear;
  return {{"linear",
           {{json_number(a(0, 0)), json_number(a(0, 1))}, {json_number(a(1, 0)), json_number(a(1, 1))}}},
          {"shift_mm", {json_number(transform.shift_mm[0]), json_number(transform.shift_mm[1])}},
          {"nearness_per_mm",
           {json_number(transform.nearness_per_mm[0]), json_number(transform.nearness_per_mm[1])}}};
}

}  // namespace

std::string pair_record(const MeasuredFace& first,
                        const MeasuredFace& second,
                        const Registration& registration,
                        const RecordContext& context) {
  Json record = Json::object();
  record["program"] = {{"name", "corefleck"}, {"version", context.program_version}};
  record["first"] = json_of_photo(first);
  record["second"] = json_of_photo(second);
  record["registration"] = {{"first_to_second", json_of_transform(registration.first_to_second)},
                            {"rotation_deg", json_number(registration.rotation_deg)},
                            {"rotation_u_deg", json_number(registration.rotation_u_deg)},
                            {"residual_mm", json_number(registration.residual_mm)},
                            {"score", json_number(registration.score)},
                            {"score_wanted", kSameFaceScore},
                            {"parts", registration.parts},
                            {"parts_agreeing", registration.parts_agreeing},
                            {"stretch_max_pct", json_number(registration.stretch_max_pct)},
                            {"stretch_min_pct", json_number(registration.stretch_min_pct)}};
  record["note"] = kNeutralSentence;
  return record.dump(2) + "\n";
}

}  // namespace corefleck
