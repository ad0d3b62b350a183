// Package draw lays out what is drawn of one tire's tread and describes how
// it goes on: the tread bar, the unrolled strip, the trend with its forecast, the causes
// of uneven wear, the course of a shake over speed. It takes plain values and returns values for templates, in the
// units of the reader; coordinates are those of the drawing's own view box, or
// days and distance on the axes of a trend.
package draw

import "embed"

// Templates draw a tread bar and a strip as SVG.
//
//go:embed templates
var Templates embed.FS
