package main

import (
	"fmt"
	"io"
	"testing"

	"rimledger/models/units"
	"rimledger/reports/sheet"
	"rimledger/reports/sheet/sheettest"
)

// counter counts what is written.
type counter int

func (c *counter) Write(p []byte) (int, error) { *c += counter(len(p)); return len(p), nil }

// BenchmarkSheets takes away the vehicles and the tires of a depot as sheets, as
// the page does. The baseline writes as many rows of the same cells that are there already.
func BenchmarkSheets(b *testing.B) {
	f := newBenchFleet(b, 50)
	f.crowd(b, *benchVehicles)

	for _, kind := range []string{"vehicles", "tires"} {
		for _, format := range []string{"csv", "xlsx"} {
			b.Run(fmt.Sprintf("away/%s/%s", kind, format), func(b *testing.B) {
				var size counter

				rows := 0
				cost := sheettest.Measure(func() {
					for range b.N {
						size = 0
						t, err := sheet.Export(b.Context(), f.fleet, command(), kind, f.depot.ID, units.Mi)
						if err == nil {
							err = t.Write(format, &size)
						}

						if err != nil {
							b.Fatal(err)
						}

						rows = len(t.Rows)
					}
				})

				b.ReportMetric(float64(size)/1e6, "MB")
				b.ReportMetric(float64(rows), "rows")
				b.ReportMetric(cost.HeapMB, "peak-MB")
			})

			b.Run(fmt.Sprintf("baseline/%s/%s", kind, format), func(b *testing.B) {
				t, err := sheet.Export(b.Context(), f.fleet, command(), kind, f.depot.ID, units.Mi)
				if err != nil {
					b.Fatal(err)
				}

				for b.Loop() {
					if err := t.Write(format, io.Discard); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
