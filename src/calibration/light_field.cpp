#include "light_field.hpp"

#include "overview.hpp"

#include "corefleck/statistics.hpp"

#include <opencv2/imgproc.hpp>

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <utility>

namespace corefleck {
namespace {

constexpr int kOrder = 3;
constexpr double kBlocksAcross = 48.0;
constexpr double kReach = 3.0;  // in deviations; a step that strays further says nothing
// A stain shifts the levels of all blocks within it, and pulls a field that follows levels wherever it lies.
// The step between two blocks it shifts only across its edge. So many blocks, 6 mm on a common core, are
// wider than most edges, and few steps cross one; on 208 rendered faces 2 and 4 did as well, 6 worse.
constexpr int kStep_blocks = 3;
// What lamps and lenses do over a face, standard deviations of the logarithm per radius, by degree: light
// from afar falls off in powers of the radius over its distance, of some 0.3. What bends sharper is the
// plaster's.
constexpr std::array<double, kOrder + 1> kLight{0.0, 0.4, 0.1, 0.03};
// Stains are a centimetre wide, six blocks: so many steps stray together, and tell the light as one.
constexpr double kStrayTogether = 32.0;

/// Terms of degree 0, then 1, up to `order`; within a degree from x^degree to y^degree.
std::vector<double> powers(double x, double y, int order) {
  std::vector<double> terms;
  terms.reserve(static_cast<std::size_t>((order + 1) * (order + 2) / 2));
  terms.push_back(1.0);
  std::size_t last = 0;  // where the terms of the degree before begin
  for (int degree = 1; degree <= order; ++degree) {
    const std::size_t first = terms.size();
    for (std::size_t i = last; i < first; ++i) terms.push_back(x * terms[i]);
    terms.push_back(y * terms[first - 1]);
    last = first;
  }
  return terms;
}

struct Block {
  int column, row;
  double x, y, log_level;
};

/// Of every `stride`th pixel of an area.
void values_inside(const cv::Mat& luminance, const cv::Mat& outside, int stride, std::vector<float>& values) {
  values.clear();
  for (int y = 0; y < luminance.rows; y += stride)
    for (int x = 0; x < luminance.cols; x += stride)
      if (outside.at<unsigned char>(y, x) == 0) values.push_back(luminance.at<float>(y, x));
}

// The matrix is most of the face, and spots are lighter than it: the median of the darker three quarters is
// little moved by the spots that a block holds.
std::vector<Block> matrix_blocks(const cv::Mat& luminance,
                                 const cv::Mat& outside,
                                 const FaceGrid& grid,
                                 double radius_px,
                                 double percentile) {
  const int side = std::max(4, static_cast<int>(2.0 * radius_px / kBlocksAcross));
  const int across = grid.size_px / side, stride = std::max(1, side / 16);
  std::vector<std::vector<Block>> by_row(static_cast<std::size_t>(across));
  cv::parallel_for_(cv::Range(0, across), [&](const cv::Range& rows) {
    std::vector<float> values;
    for (int j = rows.start; j < rows.end; ++j)
      for (int i = 0; i < across; ++i) {
        const cv::Rect area(i * side, j * side, side, side);
        values_inside(luminance(area), outside(area), stride, values);
        if (static_cast<int>(values.size()) * stride * stride < side * side * 3 / 4) continue;
        const auto at =
            values.begin() + static_cast<std::ptrdiff_t>(percentile * static_cast<double>(values.size() - 1));
        std::nth_element(values.begin(), at, values.end());
        if (*at <= 0.0F) continue;
        by_row[static_cast<std::size_t>(j)].push_back({i,
                                                       j,
                                                       (area.x + 0.5 * side - grid.centre_px) / radius_px,
                                                       (grid.centre_px - area.y - 0.5 * side) / radius_px,
                                                       std::log(static_cast<double>(*at))});
      }
  });
  std::vector<Block> blocks;
  for (const std::vector<Block>& row : by_row) blocks.insert(blocks.end(), row.begin(), row.end());
  return blocks;
}

double value(const std::vector<double>& coefficients, double x, double y, int order) {
  const std::vector<double> terms = powers(x, y, order);
  double sum = 0.0;
  for (std::size_t i = 0; i < terms.size(); ++i) sum += coefficients[i] * terms[i];
  return sum;
}

/// Weights of what is known of light beforehand, by term but for the level, against steps of deviation 1.
Eigen::VectorXd known_beforehand(int order) {
  std::vector<double> weights;
  for (int degree = 1; degree <= order; ++degree)
    weights.insert(weights.end(),
                   static_cast<std::size_t>(degree) + 1,
                   kStrayTogether / std::pow(kLight[static_cast<std::size_t>(degree)], 2.0));
  return Eigen::Map<Eigen::VectorXd>(weights.data(), static_cast<Eigen::Index>(weights.size()));
}

/// The terms of each block but for the level, a row each.
Eigen::MatrixXd terms_of(const std::vector<Block>& blocks, int order) {
  const auto number = static_cast<Eigen::Index>(powers(0, 0, order).size()) - 1;
  Eigen::MatrixXd rows(static_cast<Eigen::Index>(blocks.size()), number);
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    const std::vector<double> t = powers(blocks[i].x, blocks[i].y, order);
    rows.row(static_cast<Eigen::Index>(i)) = Eigen::Map<const Eigen::RowVectorXd>(t.data() + 1, number);
  }
  return rows;
}

/// From each block to those kStep_blocks to its right and below it, as far as there are any.
std::vector<std::pair<std::size_t, std::size_t>> pairs_of(const std::vector<Block>& blocks) {
  std::map<std::pair<int, int>, std::size_t> at;
  for (std::size_t i = 0; i < blocks.size(); ++i) at[{blocks[i].column, blocks[i].row}] = i;
  std::vector<std::pair<std::size_t, std::size_t>> pairs;
  for (std::size_t i = 0; i < blocks.size(); ++i)
    for (const auto& [right, below] : {std::pair{kStep_blocks, 0}, std::pair{0, kStep_blocks}})
      if (const auto other = at.find({blocks[i].column + right, blocks[i].row + below}); other != at.end())
        pairs.emplace_back(i, other->second);
  return pairs;
}

/// How the terms and the levels change over each step.
struct Steps {
  Eigen::MatrixXd of_terms;
  Eigen::VectorXd of_levels;
};

Steps steps_of(const std::vector<Block>& blocks, const Eigen::MatrixXd& terms) {
  const auto pairs = pairs_of(blocks);
  const auto number = static_cast<Eigen::Index>(pairs.size());
  Steps steps{{number, terms.cols()}, Eigen::VectorXd(number)};
  for (Eigen::Index k = 0; k < number; ++k) {
    const auto& [from, to] = pairs[static_cast<std::size_t>(k)];
    steps.of_terms.row(k) =
        terms.row(static_cast<Eigen::Index>(to)) - terms.row(static_cast<Eigen::Index>(from));
    steps.of_levels[k] = blocks[to].log_level - blocks[from].log_level;
  }
  return steps;
}

// Reweighted least squares with a redescending weight, which drops steps across the edges of stains and onto
// blocks that spots fill. Along the rim nothing tells a stain from light but what light is like.
Eigen::VectorXd slopes_of(const Steps& steps, int order) {
  const Eigen::VectorXd known = known_beforehand(order);
  Eigen::VectorXd slopes = Eigen::VectorXd::Zero(steps.of_terms.cols());
  if (steps.of_levels.size() == 0) return slopes;
  std::vector<double> off(static_cast<std::size_t>(steps.of_levels.size()), 0.0);
  for (int pass = 0; pass < 25; ++pass) {
    Eigen::Map<Eigen::VectorXd>(off.data(), steps.of_levels.size()) =
        steps.of_levels - steps.of_terms * slopes;
    const double deviation = std::max(robust_deviation(off), 1e-4);
    const double wide = pass < 4 ? 3.0 : 1.0;  // first passes with a wide reach: the light may slope
    Eigen::VectorXd weight = Eigen::VectorXd::Zero(steps.of_levels.size());
    for (std::size_t i = 0; i < off.size(); ++i) {
      const double z = off[i] / (wide * kReach * deviation);
      if (std::abs(z) < 1.0) weight[static_cast<Eigen::Index>(i)] = std::pow(1.0 - z * z, 2.0);
    }
    Eigen::MatrixXd normal = steps.of_terms.transpose() * weight.asDiagonal() * steps.of_terms;
    normal.diagonal() += deviation * deviation * known;
    slopes = normal.ldlt().solve(steps.of_terms.transpose() * weight.cwiseProduct(steps.of_levels));
  }
  return slopes;
}

struct Fit {
  std::vector<double> coefficients;
  double deviation;  ///< of the blocks' levels about the field
};

Fit fit_of(const std::vector<Block>& blocks, int order) {
  const Eigen::MatrixXd terms = terms_of(blocks, order);
  const Eigen::VectorXd slopes = slopes_of(steps_of(blocks, terms), order), under = terms * slopes;
  std::vector<double> off;
  for (std::size_t i = 0; i < blocks.size(); ++i)
    off.push_back(blocks[i].log_level - under[static_cast<Eigen::Index>(i)]);
  Fit fit{{median(off)}, std::max(robust_deviation(off), 1e-4)};
  fit.coefficients.insert(fit.coefficients.end(), slopes.data(), slopes.data() + slopes.size());
  return fit;
}

constexpr int kCell_px = 16;  // the field is smooth: worked out on a coarse grid, then between

// One grid row of the coarse gains: between two of its rows once, then along it.
void gains_along_row(const cv::Mat& coarse, float y, std::vector<float>& gain) {
  const int above = static_cast<int>(y);
  const float down = y - static_cast<float>(above);
  const auto *first = coarse.ptr<float>(above), *second = coarse.ptr<float>(above + 1);
  const auto between = [&](int i) { return first[i] + down * (second[i] - first[i]); };
  const int last = static_cast<int>(gain.size());
  for (int x0 = 0, i = 0; x0 < last; x0 += kCell_px, ++i) {
    const float left = between(i), step = (between(i + 1) - left) / kCell_px;
    const int end = std::min(kCell_px, last - x0);
    for (int k = 0; k < end; ++k)
      gain[static_cast<std::size_t>(x0 + k)] = left + step * static_cast<float>(k);
  }
}

struct Extent {
  double mean, min, max;
};

Extent over_face(const LightField& light) {
  Extent extent{0.0, 1e9, 0.0};
  int count = 0;
  for (double y = -0.95; y <= 0.951; y += 0.05)
    for (double x = -0.95; x <= 0.951; x += 0.05) {
      if (x * x + y * y > 0.95 * 0.95) continue;
      const double level = light.relative(x, y);
      extent.mean += level;
      extent.min = std::min(extent.min, level);
      extent.max = std::max(extent.max, level);
      ++count;
    }
  extent.mean /= count;
  return extent;
}

LightField field_of(const std::vector<Block>& blocks, LightSource source) {
  LightField light{};
  light.source = source;
  light.order = blocks.size() > 60 ? kOrder : 1;
  Fit fit{std::vector<double>(powers(0, 0, light.order).size(), 0.0), 0.0};
  if (blocks.size() >= 12) fit = fit_of(blocks, light.order);
  light.coefficients = fit.coefficients;
  const Extent extent = over_face(light);
  light.coefficients[0] -=
      std::log(extent.mean);  // 1 on average over the face: the card alone sets the level
  light.change_pct = 100.0 * (extent.max - extent.min) / extent.mean;
  light.residual_pct = 100.0 * fit.deviation;
  // Slow changes of the plaster look like light. Blocks of one patch of mottle are not independent: about one
  // in eight counts.
  const double independent = std::max(4.0, static_cast<double>(blocks.size()) / 8.0);
  const auto parameters = static_cast<double>(light.coefficients.size());
  light.u_rel = fit.deviation * std::sqrt(parameters / independent);
  return light;
}

}  // namespace

double LightField::relative(double x_over_r, double y_over_r) const {
  return std::exp(value(coefficients, x_over_r, y_over_r, order));
}

LightField matrix_light(const CalibratedFace& face) {
  const double radius_px = (face.radius / face.grid.pitch).number();
  return field_of(matrix_blocks(face.luminance, face.outside, face.grid, radius_px, 0.4),
                  LightSource::matrix);
}

LightField flat_frame_light(const CalibratedFace& face, const cv::Mat& flat_luminance) {
  const double radius_px = (face.radius / face.grid.pitch).number();
  LightField light = field_of(matrix_blocks(flat_luminance, face.outside, face.grid, radius_px, 0.5),
                              LightSource::flat_frame);
  light.u_rel = std::max(0.002, 0.01 * light.residual_pct / 4.0);
  return light;
}

void even_out(CalibratedFace& face) {
  const double radius_px = (face.radius / face.grid.pitch).number();
  const int nodes = face.grid.size_px / kCell_px + 2;
  cv::Mat coarse(nodes, nodes, CV_32FC1);
  cv::parallel_for_(cv::Range(0, nodes), [&](const cv::Range& rows) {
    for (int j = rows.start; j < rows.end; ++j)
      for (int i = 0; i < nodes; ++i) {
        const double x = std::clamp((i * kCell_px - face.grid.centre_px) / radius_px, -1.05, 1.05);
        const double y = std::clamp((face.grid.centre_px - j * kCell_px) / radius_px, -1.05, 1.05);
        coarse.at<float>(j, i) =
            static_cast<float>(1.0 / (face.light.relative(x, y) * face.card_light.face_over_card));
      }
  });
  cv::parallel_for_(cv::Range(0, face.grid.size_px), [&](const cv::Range& rows) {
    std::vector<float> gain(static_cast<std::size_t>(face.grid.size_px) + 1);
    for (int y = rows.start; y < rows.end; ++y) {
      gains_along_row(coarse, static_cast<float>(y) / kCell_px, gain);
      auto* out = face.luminance.ptr<float>(y);
      for (int x = 0; x < face.grid.size_px; ++x) out[x] *= gain[static_cast<std::size_t>(x)];
      if (y % 2 != 0) continue;
      auto* colour = face.colour.ptr<cv::Vec3f>(y / 2);
      for (int x = 0; x < face.colour.cols; ++x) colour[x] *= gain[2 * static_cast<std::size_t>(x)];
    }
  });
}

}  // namespace corefleck
