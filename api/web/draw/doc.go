// Package draw lays out what is drawn of one tire's tread and describes how
// it goes on: the tread bar, the unrolled strip, the trend with its forecast, the causes
// of uneven wear, the course of a shake over speed. It takes plain values and returns values for templates, in the
// units of the reader; coordinates are those of the drawing's own view box, or
// days and distance on the axes of a trend.
//
// # Curves are drawn by ECharts (2026-11-25)
//
// Context: a trend has bands, limits and moves, along distance or date. Choice: NewTrend
// makes the numbers, static/trend.js draws them with ECharts (5.6.0, unmodified,
// replaced as a whole file), which only pages with a curve load. It draws on a canvas,
// tooltips included, so that it obeys the policy on styles. A table below has the same
// numbers. Bands are polygons of a custom series, for which the full build is needed.
// After a change of place whose odometer is not known, a trend has dates only. Rejected:
// stacked areas, which go wrong on an axis of distance.
package draw

import "embed"

// Templates draw a tread bar and a strip as SVG.
//
//go:embed templates
var Templates embed.FS
