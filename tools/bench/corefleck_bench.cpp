// One benchmark for each stage of `measure`, on one photo, beside the bare decoding of its JPEG. Seconds do
// not travel between machines; ratios to BM_decode of the same run do.
//
//   corefleck_bench PHOTO.jpg [CARD_REFLECTANCE] [SAME-CORE.jpg] [benchmark options]; tools/bench/bench times
//   whole runs, and renders the photos. With a second photo of the core: what comparing the two adds.

#include "calibration/card_light.hpp"
#include "calibration/face_finder.hpp"
#include "calibration/grey_card.hpp"
#include "calibration/light_field.hpp"
#include "calibration/overview.hpp"
#include "calibration/pose.hpp"
#include "calibration/rectify.hpp"
#include "calibration/scale_bar.hpp"

#include "corefleck/calibration.hpp"
#include "corefleck/comparison.hpp"
#include "corefleck/measurement.hpp"
#include "corefleck/photo.hpp"
#include "corefleck/registration.hpp"
#include "corefleck/report.hpp"
#include "corefleck/segmentation.hpp"

#include <benchmark/benchmark.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <string>

namespace {

using namespace corefleck;

// Of the command line, before any benchmark runs.
std::string photo_path, second_path;
CalibrationSettings settings;

template <typename T>
T need(Result<T> result) {
  if (result) return *std::move(result);
  std::fprintf(stderr, "corefleck_bench: %s\n", result.error().what.c_str());
  std::exit(1);
}

[[maybe_unused]] const Photo& photo() {
  static const Photo it = need(read_photo(photo_path, {}));
  return it;
}

const Overview& overview() {
  static const Overview it = make_overview(photo());
  return it;
}

const FoundFace& face() {
  static const FoundFace it = need(find_face(photo(), overview(), std::nullopt));
  return it;
}

const FoundBar& bar() {
  static const FoundBar it = need(find_scale_bars(photo(), overview(), face().ellipse, settings)).front();
  return it;
}

const FoundCard& card() {
  static const FoundCard it = need(find_grey_card(photo(), overview(), face().ellipse, bar(), settings));
  return it;
}

const FittedPose& pose() {
  static const FittedPose it = fit_pose(photo(), face(), bar(), &card(), settings);
  return it;
}

const CalibratedFace& calibrated() {
  static const CalibratedFace it = need(calibrate(photo(), settings));
  return it;
}

const SpotMap& spots() {
  static const SpotMap it = need(find_spots(calibrated(), {}));
  return it;
}

// Each stage's inputs are made before its clock starts.
void BM_decode(benchmark::State& state) {
  for (auto _ : state) benchmark::DoNotOptimize(need(read_photo(photo_path, {})));
}

void BM_overview(benchmark::State& state) {
  photo();
  for (auto _ : state) benchmark::DoNotOptimize(make_overview(photo()));
}

void BM_face(benchmark::State& state) {
  overview();
  for (auto _ : state) benchmark::DoNotOptimize(need(find_face(photo(), overview(), std::nullopt)));
}

void BM_bar(benchmark::State& state) {
  face();
  for (auto _ : state)
    benchmark::DoNotOptimize(need(find_scale_bars(photo(), overview(), face().ellipse, settings)));
}

void BM_card(benchmark::State& state) {
  bar();
  for (auto _ : state)
    benchmark::DoNotOptimize(need(find_grey_card(photo(), overview(), face().ellipse, bar(), settings)));
}

void BM_pose(benchmark::State& state) {
  card();
  for (auto _ : state) benchmark::DoNotOptimize(fit_pose(photo(), face(), bar(), &card(), settings));
}

void BM_rectify(benchmark::State& state) {
  calibrated();
  for (auto _ : state) {
    CalibratedFace out{};
    rectify(
        photo(), pose().pose, Millimetres{pose().radius_mm}, calibrated().grid.pitch, {1.0, 1.0, 1.0}, out);
    benchmark::DoNotOptimize(out.luminance.data);
  }
}

void BM_light(benchmark::State& state) {
  CalibratedFace out = calibrated();
  out.luminance = out.luminance.clone();
  out.colour = out.colour.clone();
  for (auto _ : state) {
    out.light = matrix_light(out);
    out.card_light = light_on_card(out, card().card, photo());
    even_out(out);
  }
}

void BM_calibrate(benchmark::State& state) {
  photo();
  for (auto _ : state) benchmark::DoNotOptimize(need(calibrate(photo(), settings)));
}

void BM_spots(benchmark::State& state) {
  calibrated();
  for (auto _ : state) benchmark::DoNotOptimize(need(find_spots(calibrated(), {})));
}

void BM_measure(benchmark::State& state) {
  spots();
  for (auto _ : state) benchmark::DoNotOptimize(measure(calibrated(), spots(), {}));
}

void BM_write(benchmark::State& state) {
  const std::filesystem::path folder = std::filesystem::temp_directory_path() / "corefleck-bench";
  const MeasuredFace measured{photo(), calibrated(), spots(), measure(calibrated(), spots(), {}), {}, {}};
  for (auto _ : state) need(write_face(measured, {}, folder).map([] { return true; }));
  std::filesystem::remove_all(folder);
}

const CalibratedFace& second_calibrated() {
  static const CalibratedFace it = need(calibrate(need(read_photo(second_path, {})), settings));
  return it;
}

const SpotMap& second_spots() {
  static const SpotMap it = need(find_spots(second_calibrated(), {}));
  return it;
}

const Registration& registration() {
  static const Registration it = need(
      register_faces(face_detail(calibrated(), spots()), face_detail(second_calibrated(), second_spots())));
  return it;
}

void BM_detail(benchmark::State& state) {
  spots();
  for (auto _ : state) benchmark::DoNotOptimize(face_detail(calibrated(), spots()));
}

void BM_register(benchmark::State& state) {
  const FaceDetail first = face_detail(calibrated(), spots());
  const FaceDetail second = face_detail(second_calibrated(), second_spots());
  for (auto _ : state) benchmark::DoNotOptimize(need(register_faces(first, second)));
}

void BM_compare(benchmark::State& state) {
  const FaceMeasurement before = measure(calibrated(), spots(), {}),
                        after = measure(second_calibrated(), second_spots(), {});
  registration();
  for (auto _ : state)
    benchmark::DoNotOptimize(compare_faces(
        {calibrated(), spots(), before}, {second_calibrated(), second_spots(), after}, registration()));
}

}  // namespace

// Stages use every processor: wall time counts, and beside it stands the time of all processors together,
// which other programs on the machine disturb less.
#define STAGE(name) BENCHMARK(name)->Unit(benchmark::kMillisecond)->UseRealTime()->MeasureProcessCPUTime()
STAGE(BM_decode);
STAGE(BM_overview);
STAGE(BM_face);
STAGE(BM_bar);
STAGE(BM_card);
STAGE(BM_pose);
STAGE(BM_rectify);
STAGE(BM_light);
STAGE(BM_calibrate);
STAGE(BM_spots);
STAGE(BM_measure);
STAGE(BM_write);
#define STAGE_OF_PAIR(name)                 \
  benchmark::RegisterBenchmark(#name, name) \
      ->Unit(benchmark::kMillisecond)       \
      ->UseRealTime()                       \
      ->MeasureProcessCPUTime()

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  if (argc < 2 || argc > 4) {
    std::fprintf(stderr,
                 "usage: corefleck_bench PHOTO.jpg [CARD_REFLECTANCE] [SAME-CORE.jpg] "
                 "[--benchmark_filter=REGEX ...]\n");
    return 2;
  }
  photo_path = argv[1];
  settings.smallest_detail = SegmentationSettings{}.min_spot;
  if (argc > 2) settings.card_reflectance = std::atof(argv[2]);
  if (argc > 3) {
    second_path = argv[3];
    STAGE_OF_PAIR(BM_detail);
    STAGE_OF_PAIR(BM_register);
    STAGE_OF_PAIR(BM_compare);
  }
  benchmark::RunSpecifiedBenchmarks();
  return 0;
}
