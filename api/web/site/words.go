package site

import (
	"html/template"
	"math"
	"slices"
	"strings"
	"time"

	"rimledger/api/web/say"
	"rimledger/models"
	"rimledger/models/units"
)

// words are the functions that templates may call.
var words = template.FuncMap{
	"class":       say.ClassName,
	"role":        say.RoleName,
	"see":         say.ObservationName,
	"reason":      func(r models.RemovalReason) string { return say.Plain(string(r)) },
	"kind":        say.EventName,
	"explain":     say.Explain,
	"plain":       say.Plain,
	"schedule":    say.ScheduleText,
	"urgencyslug": say.UrgencySlug,
	"date":        say.DateElement,
	"day":         func(civil string, z say.Clock) string { return z.Weekday(civil) },
	"kilograms":   say.Kilograms,
	"moment":      func(t time.Time, z say.Clock) string { return z.Moment(t) },
	"ago":         say.Ago,
	"depth":       func(l units.Length, u units.Style) string { return u.WriteDepth(l) },
	"distance":    func(d units.Distance, u units.Style) string { return u.WriteDistance(d) },
	"pressure":    func(p units.Pressure, u units.Style) string { return u.WritePressure(p) },
	"ackwords":    say.AckText,
	"odometer":    say.OdometerText,
	"percent":     func(part, whole int) int { return int(math.Round(100 * float64(part) / float64(max(whole, 1)))) },
	"has":         func(list []string, s string) bool { return slices.Contains(list, s) },
	"join":        strings.Join,
	"render":      func(text string, u units.Style) string { return u.Render(text) },
	"plural":      say.Plural,
	"card":        say.NewCard,
	"min": func(r models.Reading, u units.Style) string {
		d, _ := r.Min()
		return u.WriteTypedDepth(d.Value, d.Text)
	},
}
